package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// History gives every entry of a patient, in the order recorded, with the
// texts that are still there: also those that were corrected, withdrawn, or
// moved on to another patient. NotFound: store.no-patient.
func (s *Store) History(ctx context.Context, subject line.ID) ([]line.Record, error) {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer snap.done()
	key, err := found(ctx, snap, subjectKeys.find, value[int64], "store.no-patient", string(subject))
	if err != nil {
		return nil, err
	}
	rows, err := all(ctx, snap, historyOf, scanStored, key)
	if err != nil {
		return nil, err
	}
	texts, err := textsBy(ctx, snap, historyTexts, key)
	if err != nil {
		return nil, err
	}
	records := make([]line.Record, len(rows))
	last := map[int64]int{} // by root, the record of its latest version so far
	roots := map[int64]line.ID{}
	for i, row := range rows {
		if records[i], err = snap.record(row, texts[row.seq]); err != nil {
			return nil, err
		}
		roots[row.seq] = row.id
		if row.root != row.seq {
			if records[i].Root = roots[row.root]; records[i].Root == "" {
				root, err := found(ctx, snap, entryBySeq, scanStored, "store.no-entry", row.root)
				if err != nil {
					return nil, err
				}
				records[i].Root = root.id
			}
			if before, ok := last[row.root]; ok {
				records[before].Replaced = row.id
			}
		}
		last[row.root] = i
	}
	return records, nil
}

// record opens an entry as its own root; callers fill in the rest.
func (s *snapshot) record(row stored, texts []line.Sealed) (line.Record, error) {
	s.decoded.Add(1)
	e, err := row.openWith(texts)
	return line.Record{Seq: row.seq, Entry: e, Root: row.id, Received: row.received}, err
}

// textsBy gives texts by the entry they are of.
func textsBy(ctx context.Context, a asker, st *statement, args ...any) (map[int64][]line.Sealed, error) {
	texts := map[int64][]line.Sealed{}
	err := each(ctx, a, st, func(row scan) error {
		var seq int64
		var t line.Sealed
		err := row(&seq, &t.Hash, &t.Salt, &t.Text)
		texts[seq] = append(texts[seq], t)
		return err
	}, args...)
	return texts, err
}

// RecordedAt is when the entry with the id was recorded; ok is false where there is none.
func (s *Store) RecordedAt(ctx context.Context, id line.ID) (at time.Time, ok bool, err error) {
	ms, ok, err := one(ctx, s, recordedByID, value[int64], string(id))
	return time.UnixMilli(ms).UTC(), ok, err
}

// Entry gives one entry as it was recorded. NotFound: store.no-entry.
func (s *Store) Entry(ctx context.Context, id line.ID) (line.Record, error) {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return line.Record{}, err
	}
	defer snap.done()
	row, err := found(ctx, snap, entryByID, scanStored, "store.no-entry", string(id))
	if err != nil {
		return line.Record{}, err
	}
	texts, err := textsOf(ctx, snap, row.seq)
	if err != nil {
		return line.Record{}, err
	}
	rec, err := snap.record(row, texts)
	if err != nil {
		return line.Record{}, err
	}
	if row.root != row.seq {
		root, err := found(ctx, snap, entryBySeq, scanStored, "store.no-entry", row.root)
		if err != nil {
			return line.Record{}, err
		}
		rec.Root = root.id
	}
	next, ok, err := one(ctx, snap, nextVersion, scanStored, row.root, row.seq)
	if ok {
		rec.Replaced = next.id
	}
	return rec, err
}

// atOnce is how many entries are read together when the whole record is
// walked. Tests make it small.
var atOnce = 1000

// Entries calls f with every entry, in the order recorded, as canonical bytes
// with the texts that are still there. It holds a few at a time.
func (s *Store) Entries(ctx context.Context, f func(line.SealedEntry) error) error {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return err
	}
	defer snap.done()
	return walk(ctx, snap, func(row stored, texts []line.Sealed) error {
		return f(line.SealedEntry{Seq: row.seq, Canonical: row.canonical, Texts: texts})
	})
}

// walk reads the whole record in order.
func walk(ctx context.Context, a asker, f func(stored, []line.Sealed) error) error {
	for after := int64(0); ; {
		rows, err := all(ctx, a, entriesAfter, scanStored, after, atOnce)
		if err != nil || len(rows) == 0 {
			return err
		}
		last := rows[len(rows)-1].seq
		texts, err := textsBy(ctx, a, textsAfter, after, last)
		if err != nil {
			return err
		}
		for _, row := range rows {
			if err := f(row, texts[row.seq]); err != nil {
				return err
			}
		}
		after = last
	}
}

// Check has SQLite look through the whole file. The error says what is wrong.
func (s *Store) Check(ctx context.Context) error {
	lines, err := all(ctx, s, integrity, value[string])
	if err != nil {
		return err
	}
	if len(lines) == 1 && lines[0] == "ok" {
		return nil
	}
	errs := make([]error, len(lines))
	for i, l := range lines {
		errs[i] = errors.New(l)
	}
	return fault.Wrap(fmt.Errorf("integrity check: %w", errors.Join(errs...)), fault.Internal, "store.damaged")
}

var (
	recordedByID = stated(reading, "find when an entry was recorded", "SELECT recorded_ms FROM entry WHERE id = ?")
	historyOf    = stated(reading, "read a patient's history", `SELECT e.seq, e.root, e.id, e.recorded_ms, e.received_ms, e.canonical
		FROM history h JOIN entry e ON e.seq = h.seq WHERE h.subject = ? ORDER BY h.seq`)
	historyTexts = stated(reading, "read the texts of a patient's history", `SELECT t.entry, t.hash, t.salt, t.value
		FROM history h JOIN text t ON t.entry = h.seq WHERE h.subject = ? ORDER BY h.seq, t.hash`)
	nextVersion = stated(reading, "find the next version of an entry", "SELECT "+storedColumns+` FROM entry
		WHERE root = ?1 AND root <> seq AND seq > ?2 ORDER BY seq LIMIT 1`)
	entriesAfter = stated(whole, "read entries in order", "SELECT "+storedColumns+" FROM entry WHERE seq > ?1 ORDER BY seq LIMIT ?2")
	textsAfter   = stated(whole, "read texts in order",
		"SELECT entry, hash, salt, value FROM main.text WHERE entry > ?1 AND entry <= ?2 ORDER BY entry, hash")
	integrity = stated(whole, "check the file", "PRAGMA integrity_check")
)
