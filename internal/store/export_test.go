package store

import (
	"context"
	"fmt"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
	"modernc.org/sqlite"

	"dwellbook/internal/line"
)

func init() {
	atOnce, replayTogether, pagesAtOnce = 7, 5, 3
}

// DerivedTables are the tables that follow from the entries.
var DerivedTables = derivedTables

// Shapes lists the migrations, over a file.
var Shapes = shapes

// LineKeyOf is a line's key also where no occasion of it stands; 0: none.
func LineKeyOf(t testing.TB, s *Store, id line.ID) line.Key {
	t.Helper()
	key, _, err := one(t.Context(), s, lineKeys.find, value[line.Key], string(id))
	require.NoError(t, err)
	return key
}

// LimitPages makes the disk look full at so many pages, or at as many as are used.
func LimitPages(t testing.TB, s *Store, n int) {
	t.Helper()
	require.NoError(t, s.write(t.Context(), func(w *writer) (change, error) {
		_, err := w.conn.ExecContext(t.Context(), fmt.Sprintf("PRAGMA max_page_count = %d", n))
		return change{}, err
	}))
}

// Statement is a statement for tests to walk.
type Statement struct {
	Name, Text string
	Page       bool // run for a page, or while an entry is recorded
}

// Statements lists every statement of the package.
func Statements() []Statement {
	list := make([]Statement, len(statements))
	for i, st := range statements {
		list[i] = Statement{st.name, st.text, st.use != whole}
	}
	return list
}

var argument = regexp.MustCompile(`\?[0-9]*`)

// Explain gives the query plan of a statement, for some arguments.
func Explain(ctx context.Context, s *Store, text string) ([]string, error) {
	text = argument.ReplaceAllString(text, "7")
	return all(ctx, s, &statement{name: "explain", text: "EXPLAIN QUERY PLAN " + text, use: whole}, func(row scan) (string, error) {
		var id, parent, unused int
		var detail string
		return detail, row(&id, &parent, &unused, &detail)
	})
}

// Counted gives the rows read and entries decoded by the readers so far.
func Counted(s *Store) (rows, decoded int64) { return s.rows.Load(), s.decoded.Load() }

// Pages gives the pages that the readers' connection has touched so far. It
// holds the pool to one connection, so that there is one count.
func Pages(t testing.TB, s *Store) int64 {
	t.Helper()
	s.readers.SetMaxOpenConns(1)
	conn, err := s.readers.Conn(t.Context())
	require.NoError(t, err)
	defer func() { _ = conn.Close() }()
	sum := int64(0)
	require.NoError(t, conn.Raw(func(driver any) error {
		for _, op := range []sqlite.DBStatusOp{sqlite.DBStatusCacheHit, sqlite.DBStatusCacheMiss} {
			n, _, err := driver.(sqlite.DBStatus).Status(op, false)
			if err != nil {
				return err
			}
			sum += int64(n)
		}
		return nil
	}))
	return sum
}
