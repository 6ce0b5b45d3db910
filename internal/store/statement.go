package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// statement is one SQL statement. All are listed, so that a test can walk
// their query plans; each is prepared once for a pool or connection.
type statement struct {
	name, text string
	use        use
	at         int
}

// use says who runs a statement.
type use uint8

const (
	reading use = iota // the readers, for pages and commands; some also the writer
	writing            // the writer only
	whole              // walks the whole record: export, rebuild; by either
)

var statements []*statement

// stated lists a statement. It is called only where package variables are set.
func stated(u use, name, text string) *statement {
	st := &statement{name: name, text: text, use: u, at: len(statements)}
	statements = append(statements, st)
	return st
}

// asker runs statements: the readers' pool, one reader's snapshot, or the writer.
type asker interface {
	ask(ctx context.Context, st *statement, args ...any) (*sql.Rows, error)
	count(rows int64)
}

func (s *Store) ask(ctx context.Context, st *statement, args ...any) (*sql.Rows, error) {
	if st.use == whole {
		return s.readers.QueryContext(ctx, st.text, args...)
	}
	return s.stmts[st.at].QueryContext(ctx, args...)
}

func (s *Store) count(rows int64) { s.rows.Add(rows) }

// snapshot is a reader that sees one moment of the record throughout.
type snapshot struct {
	*Store
	tx *sql.Tx
}

// snapshot begins to read; done must be called.
func (s *Store) snapshot(ctx context.Context) (*snapshot, error) {
	tx, err := s.readers.BeginTx(ctx, nil)
	if err != nil {
		return nil, translate(fmt.Errorf("begin to read: %w", err))
	}
	return &snapshot{s, tx}, nil
}

func (s *snapshot) ask(ctx context.Context, st *statement, args ...any) (*sql.Rows, error) {
	if st.use == whole {
		return s.tx.QueryContext(ctx, st.text, args...)
	}
	return s.tx.StmtContext(ctx, s.stmts[st.at]).QueryContext(ctx, args...)
}

// done ends the snapshot. Nothing was written, so there is nothing to fail.
func (s *snapshot) done() { _ = s.tx.Rollback() }

type scan func(dest ...any) error

// each calls f with every row that the statement gives.
func each(ctx context.Context, a asker, st *statement, f func(scan) error, args ...any) (err error) {
	rows, err := a.ask(ctx, st, args...)
	if err != nil {
		return translate(fmt.Errorf("%s: %w", st.name, err))
	}
	n := int64(0)
	defer func() {
		a.count(n)
		err = errors.Join(err, rows.Close())
	}()
	for rows.Next() {
		n++
		if err := f(rows.Scan); err != nil {
			return fmt.Errorf("%s: %w", st.name, err)
		}
	}
	if err := rows.Err(); err != nil {
		return translate(fmt.Errorf("%s: %w", st.name, err))
	}
	return nil
}

// all gives every row, read by f.
func all[T any](ctx context.Context, a asker, st *statement, f func(scan) (T, error), args ...any) ([]T, error) {
	var list []T
	err := each(ctx, a, st, func(row scan) error {
		one, err := f(row)
		list = append(list, one)
		return err
	}, args...)
	return list, err
}

// one gives the first row; ok is false where there is none. A row comes at once,
// so nobody watches meanwhile whether who asked has gone: that costs more than the row.
func one[T any](ctx context.Context, a asker, st *statement, f func(scan) (T, error), args ...any) (T, bool, error) {
	if err := ctx.Err(); err != nil {
		var none T
		return none, false, err
	}
	list, err := all(context.WithoutCancel(ctx), a, st, f, args...)
	if err != nil || len(list) == 0 {
		var none T
		return none, false, err
	}
	return list[0], true, nil
}

// value reads a row of one column.
func value[T any](row scan) (T, error) {
	var v T
	err := row(&v)
	return v, err
}
