package store

import (
	"context"
	"fmt"
	"time"

	"dwellbook/internal/line"
)

// stored is a row of entry.
type stored struct {
	seq, root          int64
	id                 line.ID
	recorded, received time.Time
	canonical          []byte
}

const storedColumns = "seq, root, id, recorded_ms, received_ms, canonical"

func scanStored(row scan) (stored, error) {
	var e stored
	var recorded, received int64
	err := row(&e.seq, &e.root, &e.id, &recorded, &received, &e.canonical)
	e.recorded, e.received = time.UnixMilli(recorded).UTC(), time.UnixMilli(received).UTC()
	return e, err
}

// textsOf gives the texts of an entry that are still there.
func textsOf(ctx context.Context, a asker, seq int64) ([]line.Sealed, error) {
	return all(ctx, a, textsByEntry, func(row scan) (line.Sealed, error) {
		var t line.Sealed
		return t, row(&t.Hash, &t.Salt, &t.Text)
	}, seq)
}

// open decodes a stored entry with its texts.
func (e stored) open(ctx context.Context, a asker) (line.Entry, error) {
	texts, err := textsOf(ctx, a, e.seq)
	if err != nil {
		return line.Entry{}, err
	}
	return e.openWith(texts)
}

// openWith decodes a stored entry; a text that is gone reads as empty.
func (e stored) openWith(texts []line.Sealed) (line.Entry, error) {
	if len(texts) == 0 {
		return e.decode(nil)
	}
	return e.decode(func(hash string) (string, bool) { return find(texts, hash) })
}

// openVeiled decodes a stored entry for taking it once more: a text that is
// gone reads as veiled.
func (e stored) openVeiled(texts []line.Sealed) (line.Entry, error) {
	return e.decode(func(hash string) (string, bool) {
		if text, ok := find(texts, hash); ok {
			return text, true
		}
		return veil + hash, true
	})
}

// find looks a text up by its hash.
func find(texts []line.Sealed, hash string) (string, bool) {
	for _, t := range texts {
		if t.Hash == hash {
			return t.Text, true
		}
	}
	return "", false
}

func (e stored) decode(open func(hash string) (string, bool)) (line.Entry, error) {
	entry, err := line.Decode(e.canonical, open)
	if err != nil {
		return line.Entry{}, fmt.Errorf("decode entry %d: %w", e.seq, err)
	}
	return entry, nil
}

var (
	entryByID     = stated(reading, "find an entry", "SELECT "+storedColumns+" FROM entry WHERE id = ?")
	entryBySeq    = stated(reading, "read an entry", "SELECT "+storedColumns+" FROM entry WHERE seq = ?")
	laterVersions = stated(reading, "read the later versions of an entry",
		"SELECT "+storedColumns+" FROM entry WHERE root = ?1 AND root <> seq AND seq < ?2 ORDER BY seq")
	textsByEntry = stated(reading, "read an entry's texts", "SELECT hash, salt, value FROM main.text WHERE entry = ? ORDER BY hash")
)
