package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"dwellbook/internal/line"
)

// Rebuilt says how the derived tables differed from what the entries give.
type Rebuilt struct {
	Entries int64
	Tables  []TableDifference // every derived table, in the order of derivedTables
}

// Clean reports whether nothing differed.
func (r Rebuilt) Clean() bool { return tablesClean(r.Tables) }

func tablesClean(tables []TableDifference) bool {
	return !slices.ContainsFunc(tables, func(t TableDifference) bool { return t.Missing != 0 || t.Surplus != 0 })
}

// TableDifference counts the rows of one derived table that were wrong.
type TableDifference struct {
	Table   string
	Rows    int64 // as remade
	Missing int64 // follow from the entries, were not in the table
	Surplus int64 // were in the table, do not follow from the entries
}

// derivedTables are those that follow from the entries. The key tables are
// kept: a key never changes.
var derivedTables = []string{
	"mark", "history", "home", "former_home", "line", "span", "stay_text", "patient", "attempt", "house", "account", "accepted_name", "era", "agreement", "record_share",
}

// replayTogether is how many entries are replayed before what follows from
// them is written. Tests make it small.
var replayTogether int64 = 5000

// Rebuild remakes all derived tables from the entries, compares them with
// those on disk, and puts the remade ones in their place, in one transaction.
// Nobody else can write meanwhile.
//
// The remade tables are temporary ones of the same names on a connection of
// their own: SQLite looks a name up among those first, so the very statements
// that record also rebuild. They stand in a file, since they may be large.
func (s *Store) Rebuild(ctx context.Context) (Rebuilt, error) {
	var result Rebuilt
	err := s.submit(ctx, &job{alone: true, done: make(chan error, 1), run: func(*writer) (change, error) {
		var err error
		result, err = s.rebuild(ctx)
		return change{all: err == nil && !result.Clean()}, err
	}})
	if err != nil {
		return Rebuilt{}, fmt.Errorf("rebuild: %w", err)
	}
	return result, nil
}

// rebuild works on a connection of its own, which takes the temporary tables
// with it when it closes.
func (s *Store) rebuild(ctx context.Context) (result Rebuilt, err error) {
	db, err := sql.Open("sqlite", source(s.path, append(forWriting, "_pragma=temp_store(1)")...))
	if err != nil {
		return result, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	w, err := newWriter(ctx, db, s)
	if err != nil {
		return result, err
	}
	defer func() { err = errors.Join(err, w.close()) }()
	if err := w.begin(); err != nil {
		return result, err
	}
	if result, err = w.remake(ctx); err != nil {
		return result, errors.Join(err, w.exec(rollback))
	}
	return result, w.exec(commit)
}

// remake makes the tables anew in the shadow of those on disk, then replaces these.
func (w *writer) remake(ctx context.Context) (Rebuilt, error) {
	var result Rebuilt
	for _, table := range derivedTables {
		if err := w.shadow(ctx, table); err != nil {
			return result, fmt.Errorf("shadow %s: %w", table, err)
		}
	}
	var err error
	if result.Entries, err = w.replay(ctx); err != nil {
		return result, err
	}
	for _, table := range derivedTables {
		d, err := w.replace(ctx, table)
		if err != nil {
			return result, fmt.Errorf("replace %s: %w", table, err)
		}
		result.Tables = append(result.Tables, d)
	}
	return result, nil
}

// shadow makes an empty temporary table of the same name and shape, with its indexes.
func (w *writer) shadow(ctx context.Context, table string) error {
	rows, err := w.conn.QueryContext(ctx, "SELECT sql FROM main.sqlite_schema WHERE tbl_name = ? AND sql IS NOT NULL ORDER BY type DESC", table)
	if err != nil {
		return err
	}
	var shapes []string
	for rows.Next() {
		shape, err := value[string](rows.Scan)
		if err != nil {
			return errors.Join(err, rows.Close())
		}
		shapes = append(shapes, shape)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return err
	}
	for _, shape := range shapes {
		shape = strings.Replace(shape, "CREATE TABLE ", "CREATE TABLE temp.", 1)
		shape = strings.Replace(shape, "CREATE INDEX ", "CREATE INDEX temp.", 1)
		if _, err := w.conn.ExecContext(ctx, shape); err != nil {
			return err
		}
	}
	return nil
}

// replay applies every entry once more.
func (w *writer) replay(ctx context.Context) (n int64, err error) {
	r, err := newRecording(w, true)
	if err != nil {
		return 0, err
	}
	err = walk(ctx, w, func(row stored, texts []line.Sealed) error {
		n++
		if err := r.again(row, texts, n == 1 || row.recorded.Before(r.recorded)); err != nil {
			return fmt.Errorf("replay entry %d: %w", row.seq, err)
		}
		r.recorded = row.recorded
		if n%replayTogether == 0 {
			if _, err := r.finish(); err != nil {
				return err
			}
			if r, err = newRecording(w, true); err != nil {
				return err
			}
			r.recorded = row.recorded
		}
		return nil
	})
	if err != nil {
		return n, err
	}
	_, err = r.finish()
	return n, err
}

// again applies a stored entry as if it had just been taken.
func (r *recording) again(row stored, texts []line.Sealed, newEra bool) error {
	e, err := row.openVeiled(texts)
	if err != nil {
		return err
	}
	root, err := r.rootOf(e, row.seq)
	if err != nil {
		return err
	}
	if newEra {
		if err := r.w.exec(insertEra, row.seq); err != nil {
			return err
		}
	}
	r.times[row.seq] = line.MinuteOf(row.recorded)
	if err := r.apply(e, row.seq, root); err != nil {
		return err
	}
	return r.failed
}

// difference compares a table with its shadow.
func (w *writer) difference(ctx context.Context, table string) (TableDifference, error) {
	d := TableDifference{Table: table}
	err := w.conn.QueryRowContext(ctx, strings.ReplaceAll(`SELECT (SELECT count(*) FROM temp.?),
		(SELECT count(*) FROM (SELECT * FROM temp.? EXCEPT SELECT * FROM main.?)),
		(SELECT count(*) FROM (SELECT * FROM main.? EXCEPT SELECT * FROM temp.?))`, "?", table)).Scan(&d.Rows, &d.Missing, &d.Surplus)
	return d, err
}

// replace takes over the shadow's rows where they differ, and drops it.
func (w *writer) replace(ctx context.Context, table string) (TableDifference, error) {
	d, err := w.difference(ctx, table)
	if err != nil {
		return d, err
	}
	var steps []string
	if d.Missing != 0 || d.Surplus != 0 {
		steps = []string{"DELETE FROM main.?", "INSERT INTO main.? SELECT * FROM temp.?"}
	}
	for _, step := range append(steps, "DROP TABLE temp.?") {
		if _, err := w.conn.ExecContext(ctx, strings.ReplaceAll(step, "?", table)); err != nil {
			return d, err
		}
	}
	return d, nil
}
