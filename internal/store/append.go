package store

import (
	"bytes"
	"context"
	"fmt"
	"sync"
	"time"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Append stores the entries of the batch as one: all or none. It returns once
// they are on the disk.
//
// An entry stored before, with the same author and content, is answered again
// with its first place. The error is a *fault.Error: Invalid where an entry
// cannot be true by itself (a message for each field), Conflict where it
// contradicts what stands in the record, or has an id that another entry has.
// Contradictions are judged once all entries of the batch are in.
func (s *Store) Append(ctx context.Context, b line.Batch) ([]line.Receipt, error) {
	incoming := make([]incoming, len(b.Entries))
	for i, e := range b.Entries {
		incoming[i].entry = filled(e, b.AsRecorded)
	}
	return s.take(ctx, incoming, b.AsRecorded)
}

// AppendSealed stores entries of another record, in the order given, with the
// canonical bytes and the recorded times they come with; contradictions stand.
// An entry without a recorded time gets one. A text whose hash is wrong is
// refused.
func (s *Store) AppendSealed(ctx context.Context, entries []line.SealedEntry) ([]line.Receipt, error) {
	incoming := make([]incoming, len(entries))
	errs := make([]error, len(entries))
	const part = 512
	var reading sync.WaitGroup
	for from := 0; from < len(entries); from += part {
		reading.Go(func() {
			for i := from; i < min(from+part, len(entries)); i++ {
				incoming[i], errs[i] = s.unseal(entries[i])
			}
		})
	}
	reading.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("entry %d of %d: %w", i+1, len(entries), err)
		}
	}
	return s.take(ctx, incoming, true)
}

func (s *Store) take(ctx context.Context, entries []incoming, asRecorded bool) ([]line.Receipt, error) {
	var receipts []line.Receipt
	err := s.write(ctx, func(w *writer) (change, error) {
		r, err := newRecording(w, asRecorded)
		if err != nil {
			return change{}, err
		}
		receipts = make([]line.Receipt, len(entries))
		for i := range entries {
			if receipts[i], err = r.take(&entries[i]); err != nil {
				return change{}, fmt.Errorf("append %s entry %s: %w", entries[i].entry.Kind, entries[i].entry.ID, err)
			}
		}
		return r.finish()
	})
	if err != nil {
		return nil, err
	}
	return receipts, nil
}

// incoming is an entry on its way into the record. One that comes sealed has
// its canonical bytes already.
type incoming struct {
	entry     line.Entry
	canonical []byte
	texts     []line.Sealed
}

// filled puts in what a caller may leave out.
func filled(e line.Entry, asRecorded bool) line.Entry {
	if e.Version == 0 {
		e.Version = line.FormatVersion
	}
	e.Recorded = e.Recorded.UTC().Truncate(time.Millisecond)
	if !asRecorded {
		e.Recorded = time.Time{}
	}
	if c, ok := e.Body.(line.Correction); ok {
		r := &c.Replacement
		if r.Version == 0 {
			r.Version = line.FormatVersion
		}
		if r.ID == "" {
			r.ID = c.Root
		}
		if r.Author == "" {
			r.Author = e.Author
		}
		e.Body = c
	}
	return e
}

// unseal reads canonical bytes. Texts that stand in them bare are sealed.
func (s *Store) unseal(sealed line.SealedEntry) (incoming, error) {
	in := incoming{canonical: sealed.Canonical}
	texts := map[string]string{}
	for _, t := range sealed.Texts {
		if line.Seal(t.Salt, t.Text).Hash != t.Hash {
			return in, fault.New(fault.Invalid, "store.text-hash", "hash", t.Hash)
		}
		if bytes.Contains(in.canonical, []byte(t.Hash)) {
			texts[t.Hash] = t.Text
			in.texts = append(in.texts, t)
		}
	}
	if bytes.Contains(in.canonical, []byte(`"text"`)) {
		canonical, more, err := line.SealJSON(in.canonical, s.options.Salt)
		if err != nil {
			return in, fault.Wrap(err, fault.Invalid, "store.unreadable-entry")
		}
		in.canonical, in.texts = canonical, append(in.texts, more...)
		for _, t := range more {
			texts[t.Hash] = t.Text
		}
	}
	var err error
	in.entry, err = line.Decode(in.canonical, func(hash string) (string, bool) { t, ok := texts[hash]; return t, ok })
	if err != nil {
		return in, fault.Wrap(err, fault.Invalid, "store.unreadable-entry")
	}
	return in, nil
}
