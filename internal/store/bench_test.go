package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// course is a patient's whole stay: one line, reviewed each shift, taken out.
func (w *ward) course(n int, start float64) []line.Entry {
	p, l := line.ID("p"+strconv.Itoa(n)), line.ID("l"+strconv.Itoa(n))
	list := []line.Entry{
		w.admission(p, start, line.ID("ward-"+strconv.Itoa(n%6))),
		w.entry(p, "", start, line.Facts{Group: line.Adult}),
		w.placement(p, l, start+1),
	}
	for shift := range 9 {
		list = append(list, w.review(p, l, start+8+12*float64(shift)))
	}
	return append(list, w.entry(p, l, start+80, line.Dressing{Material: line.Film}),
		w.removal(p, l, start+120), w.entry(p, "", start+121, line.Discharge{}))
}

// courses gives n stays, one after another, as sealed entries.
func courses(t testing.TB, n int) []line.SealedEntry {
	t.Helper()
	w := &ward{t: t}
	salt := 0
	var list []line.SealedEntry
	for i := range n {
		for _, e := range w.course(i, float64(i%2000)) {
			e.Recorded = e.Happened.Time()
			canonical, texts, err := line.Canonical(e, func() string { salt++; return strconv.Itoa(salt) })
			require.NoError(t, err)
			list = append(list, line.SealedEntry{Canonical: canonical, Texts: texts})
		}
	}
	return list
}

// BenchmarkAppendSealed takes a whole record of 27,000 entries in portions of 1000.
func BenchmarkAppendSealed(b *testing.B) {
	list := courses(b, 1800)
	for b.Loop() {
		s := openFile(b, freshFile(b), store.Options{})
		for from := 0; from < len(list); from += 1000 {
			_, err := s.AppendSealed(b.Context(), list[from:min(from+1000, len(list))])
			require.NoError(b, err)
		}
	}
	b.ReportMetric(float64(len(list)*b.N)/b.Elapsed().Seconds(), "entries/s")
}

// BenchmarkAppend compares 50 people recording at once with one goroutine that
// inserts one row a transaction straight into the driver, on the same disk.
func BenchmarkAppend(b *testing.B) {
	const people = 50
	b.Run("50 at once", func(b *testing.B) {
		w := newWard(b)
		patients := people + b.N/20
		for p := range patients {
			id := strconv.Itoa(p)
			w.must(w.admission(line.ID("p"+id), 0, "north"), w.placement(line.ID("p"+id), line.ID("l"+id), 1))
		}
		entries := make([]line.Entry, b.N)
		for i := range entries {
			id := strconv.Itoa(i % patients)
			entries[i] = w.review(line.ID("p"+id), line.ID("l"+id), 2+float64(i)/1e6)
		}
		b.ResetTimer()
		var all sync.WaitGroup
		for p := range people {
			all.Go(func() {
				for i := p; i < b.N; i += people {
					_, err := w.Append(b.Context(), line.Batch{Entries: entries[i : i+1]})
					if err != nil {
						b.Error(err)
					}
				}
			})
		}
		all.Wait()
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "entries/s")
	})
	b.Run("one by one, straight", func(b *testing.B) {
		db, err := sql.Open("sqlite", "file:"+freshFile(b)+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate")
		require.NoError(b, err)
		defer func() { _ = db.Close() }()
		db.SetMaxOpenConns(1)
		w := &ward{t: b}
		raw, texts, err := line.Canonical(w.review("p1", "l1", 2), func() string { return "salt" })
		require.NoError(b, err)
		for i := range b.N {
			require.NoError(b, straight(b.Context(), db, i+1, raw, texts[0]))
		}
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "entries/s")
	})
}

// straight inserts the rows that one review gives, in a transaction of their own.
func straight(ctx context.Context, db *sql.DB, n int, raw []byte, text line.Sealed) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	for _, row := range []struct {
		text string
		args []any
	}{
		{"INSERT INTO entry (seq, id, kind, subject, root, recorded_ms, received_ms, format, canonical) VALUES (?, ?, 4, 1, ?, 1, 1, 1, ?)",
			[]any{n, fmt.Sprintf("e%d", n), n, raw}},
		{"INSERT INTO text (entry, hash, salt, value) VALUES (?, ?, ?, ?)", []any{n, text.Hash, text.Salt, text.Text}},
		{"INSERT INTO mark (subject, line, happened, seq, known, part, gone, kind, precision, ward, until, a, b, c) VALUES (?, ?, 1, ?, ?, 0, 0, 4, 1, 0, 0, 1, 2, 3)",
			[]any{n % 50, n % 50, n, n}},
		{"INSERT INTO history (subject, seq, away) VALUES (?, ?, 0)", []any{n % 50, n}},
	} {
		if _, err := tx.ExecContext(ctx, row.text, row.args...); err != nil {
			return err
		}
	}
	return tx.Commit()
}
