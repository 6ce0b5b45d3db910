package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"dwellbook/internal/line"
	"dwellbook/internal/proof"
)

// writer is the write connection with its statements. One goroutine uses it.
// Its statements run to their end whatever becomes of who asked.
type writer struct {
	store *Store
	conn  *sql.Conn
	stmts []*sql.Stmt        // prepared when first used, by statement.at
	now   time.Time          // of the transaction, to the millisecond
	last  *lastRow           // the last entry, as this transaction has it; nil: to be read
	keys  map[keyed]line.Key // found on disk; a key never changes

	edge       proof.Edge // of the tree, as last known
	tip        []byte     // the hashes kept for its last entry
	edgeStands bool       // the edge is the one of this transaction
}

// mostKeys bounds the keys that are remembered.
const mostKeys = 20000

// remember keeps a key that was found on disk. One made in this transaction
// and then found by a later job of it is forgotten if the transaction fails.
func (w *writer) remember(k keyed, key line.Key) {
	if len(w.keys) >= mostKeys {
		w.forget()
	}
	w.keys[k] = key
}

// forget drops all remembered keys.
func (w *writer) forget() { clear(w.keys) }

var background = context.Background()

// newWriter takes the pool's one connection for good.
func newWriter(ctx context.Context, db *sql.DB, s *Store) (*writer, error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	return &writer{store: s, conn: conn, stmts: make([]*sql.Stmt, len(statements)), keys: map[keyed]line.Key{}}, nil
}

func (w *writer) close() error {
	var errs []error
	for _, st := range w.stmts {
		if st != nil {
			errs = append(errs, st.Close())
		}
	}
	return errors.Join(append(errs, w.conn.Close())...)
}

// begin starts a transaction and takes its time.
func (w *writer) begin() error {
	w.last, w.edgeStands = nil, false
	w.now = w.store.options.Clock().UTC().Truncate(time.Millisecond)
	return w.exec(beginWrite)
}

// prepared gives a statement, prepared when it is first used.
func (w *writer) prepared(st *statement) (*sql.Stmt, error) {
	if w.stmts[st.at] == nil {
		p, err := w.conn.PrepareContext(background, st.text)
		if err != nil {
			return nil, err
		}
		w.stmts[st.at] = p
	}
	return w.stmts[st.at], nil
}

// exec runs a statement that changes something.
func (w *writer) exec(st *statement, args ...any) error {
	_, err := w.change(st, args...)
	return err
}

// change is exec that gives the number of rows it touched.
func (w *writer) change(st *statement, args ...any) (int64, error) {
	p, err := w.prepared(st)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", st.name, err)
	}
	result, err := p.ExecContext(background, args...)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", st.name, err)
	}
	return result.RowsAffected()
}

func (w *writer) ask(ctx context.Context, st *statement, args ...any) (*sql.Rows, error) {
	p, err := w.prepared(st)
	if err != nil {
		return nil, err
	}
	return p.QueryContext(ctx, args...)
}

func (w *writer) count(int64) {}

// dataVersion changes when another connection has committed to the file.
func (w *writer) dataVersion() (int64, error) {
	v, _, err := one(background, w, dataVersion, value[int64])
	return v, err
}

var dataVersion = stated(writing, "read the data version", "PRAGMA data_version")
