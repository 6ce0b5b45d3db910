package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"dwellbook/internal/line"
	"dwellbook/internal/proof"
)

// Verified is what was found when a record was held against its log.
type Verified struct {
	Size    int64 // entries
	Entries []proof.Problem
	Texts   []TextProblem
	Tables  []TableDifference // derived tables and those of keys; none where entries or texts differ
	File    []string          // what SQLite finds wrong with the file

	comparison *proof.Comparison
}

// TextProblem is a text that is not as it was recorded.
type TextProblem struct {
	Entry int64
	What  proof.What // Changed, Missing, Inserted
}

// Clean reports whether nothing differed.
func (v *Verified) Clean() bool {
	return len(v.Entries) == 0 && len(v.Texts) == 0 && len(v.File) == 0 && tablesClean(v.Tables)
}

// Root is the root of the first size entries, as they are now. ok is false
// where there are fewer.
func (v *Verified) Root(size int64) (root tlog.Hash, ok bool) { return v.comparison.Root(size) }

// Verify holds every entry against the log, every text against its hash, and
// every derived table against what the entries give. It changes nothing.
//
// Where entries or texts differ, tables are not compared: they follow from both.
func (s *Store) Verify(ctx context.Context) (_ *Verified, err error) {
	db, err := sql.Open("sqlite", source(s.path, "mode=ro", "_pragma=temp_store(1)"))
	if err != nil {
		return nil, fmt.Errorf("verify: %w", err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	w, err := newWriter(ctx, db, s)
	if err != nil {
		return nil, fmt.Errorf("verify: %w", translate(err))
	}
	defer func() { err = errors.Join(err, w.close()) }()
	if err := w.exec(beginRead); err != nil {
		return nil, fmt.Errorf("verify: %w", translate(err))
	}
	v, err := w.verify(ctx)
	if err != nil {
		return nil, fmt.Errorf("verify: %w", errors.Join(translate(err), w.exec(rollback)))
	}
	return v, w.exec(rollback)
}

func (w *writer) verify(ctx context.Context) (*Verified, error) {
	v := &Verified{}
	lines, err := all(ctx, w, integrity, value[string])
	if err != nil {
		return nil, err
	}
	if len(lines) != 1 || lines[0] != "ok" {
		v.File = lines
	}
	if err := w.compareEntries(ctx, v); err != nil {
		return nil, err
	}
	v.Size, v.Entries = v.comparison.Size(), v.comparison.Problems()
	v.Texts = slices.DeleteFunc(v.Texts, func(t TextProblem) bool { // that is told of the entry already
		return slices.ContainsFunc(v.Entries, func(p proof.Problem) bool { return p.Seq == t.Entry })
	})
	if !v.Clean() {
		return v, nil
	}
	return v, w.compareTables(ctx, v)
}

// compareEntries reads every entry and text, with what the log keeps of them.
func (w *writer) compareEntries(ctx context.Context, v *Verified) error {
	most, _, err := one(ctx, w, mostPlaces, value[int64])
	if err != nil {
		return err
	}
	v.comparison = proof.NewComparison(most)
	err = each(ctx, w, wholeLog, func(row scan) error {
		var seq int64
		var packed []byte
		err := row(&seq, &packed)
		v.comparison.Kept(seq, packed)
		return err
	})
	if err != nil {
		return err
	}
	sealed := func(row scan) (sealedOf, error) {
		var t sealedOf
		return t, row(&t.entry, &t.Hash, &t.Salt, &t.Text)
	}
	for after := int64(-1 << 62); ; {
		some, err := all(ctx, w, leavesAfter, scanLeaf, after, atOnce)
		if err != nil || len(some) == 0 {
			return err
		}
		last := some[len(some)-1].seq
		held := map[int64][]sealedOf{}
		list, err := all(ctx, w, textsAfter, sealed, after, last)
		if err != nil {
			return err
		}
		for _, t := range list {
			held[t.entry] = append(held[t.entry], t)
		}
		for _, l := range some {
			v.comparison.Entry(l.seq, l.Hash())
			v.compareTexts(l, held[l.seq])
		}
		after = last
	}
}

type sealedOf struct {
	entry int64
	line.Sealed
}

// compareTexts holds an entry's texts against the hashes that stand in it.
func (v *Verified) compareTexts(l seqLeaf, texts []sealedOf) {
	for _, t := range texts {
		switch {
		case !strings.Contains(string(l.Canonical), `"sealed":"`+t.Hash+`"`):
			v.Texts = append(v.Texts, TextProblem{l.seq, proof.Inserted})
		case line.Seal(t.Salt, t.Text).Hash != t.Hash:
			v.Texts = append(v.Texts, TextProblem{l.seq, proof.Changed})
		}
	}
}

// compareTables remakes every derived table beside the one on disk and
// compares. So it learns too which texts an erasure took.
func (w *writer) compareTables(ctx context.Context, v *Verified) error {
	var tables []string
	for _, k := range keysUsed {
		tables = append(tables, k.table)
	}
	tables = append(tables, derivedTables...)
	for _, table := range tables {
		if err := w.shadow(ctx, table); err != nil {
			return fmt.Errorf("shadow %s: %w", table, err)
		}
	}
	steps := []string{
		// How many texts each entry came with, until an erasure deletes them.
		"CREATE TEMP TABLE text (entry INTEGER PRIMARY KEY, n INTEGER)",
		"INSERT INTO temp.text SELECT seq, texts FROM main.entry WHERE texts > 0",
	}
	for _, k := range keysUsed {
		steps = append(steps, "INSERT INTO temp."+k.table+" SELECT * FROM main."+k.table)
	}
	for _, step := range steps {
		if _, err := w.conn.ExecContext(ctx, step); err != nil {
			return fmt.Errorf("%s: %w", step, err)
		}
	}
	if _, err := w.replay(ctx); err != nil {
		return err
	}
	for _, table := range tables {
		d, err := w.difference(ctx, table)
		if err != nil {
			return fmt.Errorf("compare %s: %w", table, err)
		}
		v.Tables = append(v.Tables, d)
	}
	for i, k := range keysUsed {
		err := w.conn.QueryRowContext(ctx, "SELECT count(*) FROM main."+k.table+" WHERE key < 1 OR key NOT IN ("+k.used+")").Scan(&v.Tables[i].Surplus)
		if err != nil {
			return fmt.Errorf("look for keys of nothing in %s: %w", k.table, err)
		}
	}
	return w.countTexts(ctx, v)
}

// keysUsed says where keys stand that were made for an entry. The key tables
// are not remade: entries do not tell which number each id got.
var keysUsed = []struct{ table, used string }{
	{"subject_key", "SELECT subject FROM temp.history"},
	{"line_key", "SELECT line FROM temp.mark"},
	{"ward_key", "SELECT ward FROM temp.mark UNION SELECT ward FROM temp.house"},
}

// countTexts looks for texts that are gone without an erasure, and for those
// that should be gone.
func (w *writer) countTexts(ctx context.Context, v *Verified) error {
	rows, err := w.conn.QueryContext(ctx, `
		SELECT entry, n, (SELECT count(*) FROM main.text m WHERE m.entry = t.entry) AS held FROM temp.text t WHERE n <> held
		UNION ALL SELECT entry, 0, count(*) FROM main.text WHERE entry NOT IN (SELECT entry FROM temp.text) GROUP BY entry
		ORDER BY entry`)
	if err != nil {
		return fmt.Errorf("count texts: %w", err)
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		p := TextProblem{What: proof.Missing}
		var want, held int64
		if err := rows.Scan(&p.Entry, &want, &held); err != nil {
			return fmt.Errorf("count texts: %w", err)
		}
		if held > want {
			p.What = proof.Inserted
		}
		v.Texts = append(v.Texts, p)
	}
	return rows.Err()
}

var (
	beginRead   = stated(whole, "begin to read", "BEGIN")
	mostPlaces  = stated(whole, "count entries and what is kept of them", "SELECT (SELECT count(*) FROM entry) + (SELECT count(*) FROM log)")
	wholeLog    = stated(whole, "read the log", "SELECT seq, hashes FROM log ORDER BY seq")
	leavesAfter = stated(whole, "read entries as the log has them", "SELECT "+leafColumns+" FROM entry WHERE seq > ?1 ORDER BY seq LIMIT ?2")
)
