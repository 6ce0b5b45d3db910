package app

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"dwellbook/internal/interop"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// entriesTogether is how many entries of another record are stored in one go.
const entriesTogether = 4000

// ImportEntries reads another record's entries, as JSON Lines. It gives how
// many were new and how many were known.
func ImportEntries(ctx context.Context, db, file string, clock func() time.Time) (fresh, known int, err error) {
	f, err := os.Open(file) // #nosec G304 -- named by whoever runs the command
	if err != nil {
		return 0, 0, fmt.Errorf("read entries: %w", err)
	}
	defer func() { _ = f.Close() }()
	st, err := store.Open(ctx, db, store.Options{Clock: clock})
	if err != nil {
		return 0, 0, err
	}
	fresh, known, err = importEntries(ctx, st, f)
	return fresh, known, errors.Join(err, st.Close())
}

func importEntries(ctx context.Context, st *store.Store, r io.Reader) (fresh, known int, err error) {
	var waiting []line.SealedEntry
	flush := func() error {
		receipts, err := st.AppendSealed(ctx, waiting)
		for _, r := range receipts {
			if r.Again {
				known++
			} else {
				fresh++
			}
		}
		waiting = waiting[:0]
		return err
	}
	err = interop.ReadEntries(r, func(_ int, canonical []byte, texts []line.Sealed) error {
		waiting = append(waiting, line.SealedEntry{Canonical: canonical, Texts: texts})
		if len(waiting) < entriesTogether {
			return nil
		}
		return flush()
	})
	if err != nil {
		return fresh, known, err
	}
	return fresh, known, flush()
}

// ExportEntries writes every entry of the record as JSON Lines.
func ExportEntries(ctx context.Context, db string, w io.Writer) error {
	st, err := store.OpenReadOnly(ctx, db)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	err = st.Entries(ctx, func(e line.SealedEntry) error { return interop.WriteEntry(out, e.Canonical, e.Texts) })
	return errors.Join(err, out.Flush(), st.Close())
}

// Rebuild remakes and compares all derived tables.
func Rebuild(ctx context.Context, db string) (store.Rebuilt, error) {
	st, err := store.Open(ctx, db, store.Options{})
	if err != nil {
		return store.Rebuilt{}, err
	}
	r, err := st.Rebuild(ctx)
	return r, errors.Join(err, st.Close())
}
