package app

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/proof"
	"dwellbook/internal/store"
)

// signHeads signs the record's head each minute, and writes it to the folder
// for heads where there is one.
func (a *App) signHeads(ctx context.Context) {
	a.Desk.SignedEachMinute(ctx, func(s proof.Signed, err error) {
		if err == nil && a.heads != "" {
			err = writeHead(a.heads, s)
		}
		if err != nil {
			a.log.Error("sign the head of the record", "error", err)
		}
	})
}

// writeHead puts a head into a folder, as the last of its day.
func writeHead(folder string, s proof.Signed) error {
	name := filepath.Join(folder, "head-"+s.At.Format(time.DateOnly)+".txt")
	if err := os.WriteFile(name+".partial", []byte(s.Text), 0o644); err != nil { // #nosec G306 -- a head is to be handed on; it holds hashes alone
		return fmt.Errorf("write head: %w", err)
	}
	if err := os.Rename(name+".partial", name); err != nil {
		return fmt.Errorf("write head: %w", err)
	}
	return nil
}

// Head signs the record's head as it stands and gives its text.
func Head(ctx context.Context, db string, clock func() time.Time) (string, error) {
	st, err := store.Open(ctx, db, store.Options{Clock: clock})
	if err != nil {
		return "", err
	}
	s, err := desk.New(st, clock).Head(ctx, desk.System())
	return s.Text, errors.Join(err, st.Close())
}
