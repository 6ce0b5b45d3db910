package store

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"
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
		var err error
		if incoming[i], err = s.seal(filled(e, b.AsRecorded)); err != nil {
			return nil, err
		}
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

// take stores entries on their way in, all or none, as one job of the queue.
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

// incoming is an entry on its way into the record, with its canonical bytes.
type incoming struct {
	entry     line.Entry
	canonical []byte
	texts     []line.Sealed
	timed     bool // the recorded time was given and stands in the bytes
}

// unrecorded stands in canonical bytes for the recorded time until that is
// known, so that the one goroutine that writes need not make them.
var unrecorded = time.Date(1, 2, 3, 4, 5, 6, 789e6, time.UTC)

// seal makes the canonical bytes of an entry.
func (s *Store) seal(e line.Entry) (incoming, error) {
	in := incoming{entry: e, timed: !e.Recorded.IsZero()}
	if !in.timed {
		e.Recorded = unrecorded
	}
	var err error
	in.canonical, in.texts, err = line.Canonical(e, s.oneSalt())
	return in, err
}

// oneSalt gives the same fresh salt for all texts of one entry: so the same
// name twice has one hash, and is known as the same also when it was erased.
func (s *Store) oneSalt() func() string {
	salt := s.options.Salt()
	return func() string { return salt }
}

// veil begins what stands for a text that was erased, or never given, while
// its entry is taken: there was one, and it differs from others.
const veil = "\x00"

// bare is the text, or nothing where it was erased.
func bare(t line.Text) string {
	if strings.HasPrefix(string(t), veil) {
		return ""
	}
	return string(t)
}

// stamp puts the recorded time in where none was given.
func (in *incoming) stamp(recorded time.Time) {
	in.entry.Recorded = recorded
	in.canonical = bytes.Replace(in.canonical, recordedField(unrecorded), recordedField(recorded), 1)
}

// recordedField is the time as canonical bytes hold it. No text of a person
// can hold the same bytes: in JSON its quotes are escaped.
func recordedField(t time.Time) []byte {
	return []byte(`"recorded":"` + t.Format(time.RFC3339Nano) + `"`)
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
		canonical, more, err := line.SealJSON(in.canonical, s.oneSalt())
		if err != nil {
			return in, fault.Wrap(err, fault.Invalid, "store.unreadable-entry")
		}
		in.canonical, in.texts = canonical, append(in.texts, more...)
		for _, t := range more {
			texts[t.Hash] = t.Text
		}
	}
	var err error
	in.entry, err = line.Decode(in.canonical, func(hash string) (string, bool) {
		if text, ok := texts[hash]; ok {
			return text, true
		}
		return veil + hash, true
	})
	if err != nil {
		return in, fault.Wrap(err, fault.Invalid, "store.unreadable-entry")
	}
	if in.timed = !in.entry.Recorded.IsZero(); in.timed {
		return in, nil
	}
	tree, err := readTree(in.canonical)
	if err != nil {
		return in, err
	}
	tree["recorded"] = unrecorded
	raw, err := json.Marshal(tree)
	if err != nil {
		return in, fmt.Errorf("put a recorded time in: %w", err)
	}
	in.canonical, _, err = line.SealJSON(raw, s.oneSalt())
	return in, err
}
