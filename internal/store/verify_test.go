package store_test

import (
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/proof"
	"dwellbook/internal/store"
)

// told is a small record in which every table has rows: patients, corrections,
// a patient moved and one erased, accounts, policies, names that were accepted.
func (w *ward) told() {
	w.must(w.ofHouse(line.Hospital{Name: "Hospital", Zone: "Europe/London"}))
	w.must(w.ofHouse(line.Ward{Ward: "north", Name: "North", Zone: "Europe/London", Beds: []string{"1", "2"}}))
	policy := w.must(w.ofHouse(line.Policy{TOML: "x = 1\n"}))
	w.must(w.ofHouse(line.Account{Account: "nurse-1", SignIn: "nell", Name: "Nell", Initials: "NA", Role: "nurse"}))
	w.must(w.ofHouse(line.Account{Account: "doctor-1", SignIn: "dan", Name: "Dan", Initials: "DS", Role: "doctor"}))
	w.must(w.course(1, 0)...)
	w.must(w.entry("p9", "", 0, line.Admission{Ward: "north", Bed: "1", Reference: "R-9"}))
	placed := w.must(w.entry("p9", "l9", 1, line.Occasion{
		Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull,
		Attempts: []line.Attempt{
			{Operator: line.Operator{Written: "DS"}, Site: line.Wrist, Side: line.Left, Gauge: 22, Failed: true, Fault: line.VeinRolled},
			{Operator: line.Operator{Written: "NA"}, Site: line.Forearm, Side: line.Left, Gauge: 20},
		},
	}))
	w.must(w.ofHouse(line.OperatorLink{Account: "nurse-1", Written: "NA", Accepted: line.Yes}))
	moved := w.entry("p8", "l9", 1, line.Occasion{
		Outcome: line.WithLine, Site: line.Wrist, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Operator: line.Operator{Written: "NA"},
	})
	w.must(w.admission("p8", 0, "south"))
	w.must(w.correction(placed, placed, moved))
	w.must(w.ofHouse(line.Policy{TOML: "x = 2\n"}))
	w.must(w.void("", policy, policy))
	w.must(w.course(3, 5)...)
	w.must(w.entry("p3", "", 400, line.Erasure{Why: "asked for"}))
	w.must(w.admission("p7", 30, "north"), w.placement("p7", "l7", 31), w.review("p7", "l7", 50))
}

// kept gives a record in a file of its own and takes it down to bytes.
func (w *ward) kept(path string) []byte {
	w.t.Helper()
	require.NoError(w.t, w.Close())
	bytes, err := os.ReadFile(path)
	require.NoError(w.t, err)
	return bytes
}

func toldFile(t testing.TB) (path string, w *ward) {
	t.Helper()
	path = freshFile(t)
	c := &clock{}
	c.set(1000)
	w = &ward{record: openFile(t, path, store.Options{Clock: c.Now}), t: t, clock: c}
	w.told()
	return path, w
}

func TestVerify_ErasingLeavesTheLogValid(t *testing.T) {
	t.Parallel()
	_, w := toldFile(t)
	size, root, err := w.Root(t.Context())
	require.NoError(t, err)
	w.must(w.entry("p1", "", 500, line.Erasure{Why: "asked for"}))
	requireVerified(t, w)
	still, err := w.Begins(t.Context(), size, root)
	require.NoError(t, err)
	require.True(t, still, "the head from before still fits")
	v, err := w.Verify(t.Context())
	require.NoError(t, err)
	again, ok := v.Root(size)
	require.True(t, ok)
	require.Equal(t, root, again)
}

// Every head of the past is of a record that today's begins with; a head of
// another record, or of a longer one, is not.
func TestBegins_HoldsForEveryHeadOfThePast(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	other := newWard(t)
	other.must(other.admission("someone", 0, "north"))
	for i := range 40 {
		size, root, err := w.Root(t.Context())
		require.NoError(t, err)
		require.EqualValues(t, i, size)
		w.must(w.admission(line.ID(fmt.Sprintf("p%d", i)), 0, "north"))
		for range 2 {
			fits, err := w.Begins(t.Context(), size, root)
			require.NoError(t, err)
			require.True(t, fits, "%d of %d", size, i+1)
			_, root2, err := other.Root(t.Context())
			require.NoError(t, err)
			fits, err = w.Begins(t.Context(), size+2, root2)
			require.NoError(t, err)
			require.False(t, fits)
		}
	}
	requireVerified(t, w)
}

// A job that fails, and those of others stored together with it, leave the log
// as if it had never been tried.
func TestLog_GrowsWithWhatIsStoredAndNothingElse(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p", 0, "north"), w.placement("p", "l", 1))
	var entries []line.Entry
	for i := range 200 {
		e := w.review("p", "l", 2+float64(i))
		if i%3 == 0 {
			e.Line = "unknown"
		}
		entries = append(entries, e)
	}
	var all sync.WaitGroup
	for _, e := range entries {
		all.Go(func() { _, _ = w.Append(t.Context(), line.Batch{Entries: []line.Entry{w.removalOf(e), e}}) })
		all.Go(func() { _, _ = w.Append(t.Context(), line.Batch{Entries: []line.Entry{e}}) })
	}
	all.Wait()
	last, err := w.LastSeq(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 2+133, last)
	requireVerified(t, w)
}

// removalOf is an entry that is good by itself and cannot be before the other.
func (w *ward) removalOf(e line.Entry) line.Entry {
	e.ID, e.Kind, e.Body = e.ID+"-out", line.KindDischarge, line.Discharge{}
	e.Line, e.Happened = "", e.Happened-1e6
	return e
}

func TestLog_GoesOnWhereAnotherProcessEnded(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	first, second := &ward{record: openFile(t, path, store.Options{}), t: t}, &ward{record: openFile(t, path, store.Options{}), t: t, n: 1000}
	for i := range 20 {
		first.must(first.admission(line.ID(fmt.Sprintf("a%d", i)), 0, "north"))
		second.must(second.admission(line.ID(fmt.Sprintf("b%d", i)), 0, "north"))
	}
	requireVerified(t, first)
}

func (w *ward) size() int64 {
	w.t.Helper()
	size, _, err := w.Root(w.t.Context())
	require.NoError(w.t, err)
	return size
}

// damage spoils random places of a table.
type damage struct {
	db    *sql.DB
	t     *testing.T
	r     *rand.Rand
	table string
}

func (d damage) one(query string, args ...any) (n int64) {
	require.NoError(d.t, d.db.QueryRowContext(d.t.Context(), query, args...).Scan(&n))
	return n
}

func (d damage) columns() (names []string) {
	rows, err := d.db.QueryContext(d.t.Context(), "SELECT name FROM pragma_table_info(?)", d.table)
	require.NoError(d.t, err)
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		var name string
		require.NoError(d.t, rows.Scan(&name))
		names = append(names, name)
	}
	require.NoError(d.t, rows.Err())
	return names
}

// row gives a random row: its values by column.
func (d damage) row(columns []string) []any {
	n := d.one("SELECT count(*) FROM " + d.table)
	if n == 0 {
		return nil
	}
	values := make([]any, len(columns))
	into := make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	query := fmt.Sprintf("SELECT %s FROM %s LIMIT 1 OFFSET %d", strings.Join(columns, ", "), d.table, d.r.Int64N(n))
	require.NoError(d.t, d.db.QueryRowContext(d.t.Context(), query).Scan(into...))
	return values
}

// spoilt is another value of the same type.
func (d damage) spoilt(v any) any {
	switch v := v.(type) {
	case int64:
		return v ^ 1<<d.r.IntN(12)
	case string:
		if v == "" {
			return "x"
		}
		b := []byte(v)
		b[d.r.IntN(len(b))] ^= 1 << d.r.IntN(5)
		return string(b)
	case []byte:
		b := slices.Clone(v)
		b[d.r.IntN(len(b))] ^= 1 << d.r.IntN(8)
		return b
	}
	return int64(7) // of NULL
}

// strike spoils the table by one act; it reports whether anything changed.
func (d damage) strike(act string) bool {
	before := d.content()
	return d.attempt(act) && !slices.Equal(before, d.content())
}

// content is all that the table holds.
func (d damage) content() (all []string) {
	columns := d.columns()
	rows, err := d.db.QueryContext(d.t.Context(), "SELECT "+strings.Join(columns, ", ")+" FROM "+d.table)
	require.NoError(d.t, err)
	defer func() { _ = rows.Close() }()
	values, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() {
		require.NoError(d.t, rows.Scan(into...))
		all = append(all, fmt.Sprint(values))
	}
	require.NoError(d.t, rows.Err())
	slices.Sort(all)
	return all
}

func (d damage) attempt(act string) bool {
	columns := d.columns()
	row := d.row(columns)
	if row == nil {
		return false
	}
	where := strings.Join(columns, " IS ? AND ") + " IS ?"
	i := d.r.IntN(len(columns))
	set := "UPDATE " + d.table + " SET " + columns[i] + " = ? WHERE " + where
	exec := func(query string, args ...any) bool {
		result, err := d.db.ExecContext(d.t.Context(), query, args...)
		if err != nil {
			return false // against a constraint of the table
		}
		n, err := result.RowsAffected()
		require.NoError(d.t, err)
		return n > 0
	}
	switch act {
	case "flip":
		return exec(set, append([]any{d.spoilt(row[i])}, row...)...)
	case "delete":
		return exec("DELETE FROM "+d.table+" WHERE "+where, row...)
	case "insert":
		for j := range row {
			if d.r.IntN(2) == 0 || j == 0 {
				row[j] = d.spoilt(row[j])
			}
		}
		if d.table == "entry" || d.table == "log" {
			row[0] = d.one("SELECT max(seq) + 1 FROM " + d.table)
		}
		return exec("INSERT INTO "+d.table+" VALUES (?"+strings.Repeat(", ?", len(row)-1)+")", row...)
	}
	// swap: two rows change their places, or one value.
	other := d.row(columns)
	if fmt.Sprint(row[i]) == fmt.Sprint(other[i]) {
		return false
	}
	tx, err := d.db.BeginTx(d.t.Context(), nil)
	require.NoError(d.t, err)
	defer func() { _ = tx.Rollback() }()
	between := d.spoilt(row[i])
	if n, ok := row[i].(int64); ok {
		between = -n - 1e6
	}
	first, second := slices.Clone(row), slices.Clone(other)
	first[i] = between
	for _, step := range [][]any{append([]any{between}, row...), append([]any{row[i]}, second...), append([]any{other[i]}, first...)} {
		result, err := tx.ExecContext(d.t.Context(), set, step...)
		if err != nil {
			return false
		}
		if n, err := result.RowsAffected(); err != nil || n != 1 {
			return false
		}
	}
	return tx.Commit() == nil
}

// A place of the record is spoilt a thousand times, past the triggers, with a
// database tool; each time verify names the table or the entry.
func TestHazard10_VerifyFindsEveryDamage(t *testing.T) {
	t.Parallel()
	path, w := toldFile(t)
	whole := w.kept(path)
	places := 1000
	if testing.Short() {
		places = 100
	}
	tables := append([]string{"entry", "log", "text", "subject_key", "line_key", "ward_key"}, store.DerivedTables...)
	acts := []string{"flip", "delete", "insert", "swap"}
	const parts = 4
	for part := range parts {
		t.Run(fmt.Sprint(part), func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(uint64(part), 2026))
			file := filepath.Join(t.TempDir(), "record.db")
			hit := map[string]int{}
			for n := 0; n < places/parts; {
				table, act := tables[r.IntN(len(tables))], acts[n%len(acts)]
				require.NoError(t, os.WriteFile(file, whole, 0o600))
				db := withoutTriggers(t, file)
				struck := damage{db, t, r, table}.strike(act)
				require.NoError(t, db.Close())
				if !struck {
					continue
				}
				n++
				hit[table]++
				requireFound(t, file, table, act)
			}
			require.Greater(t, len(hit), len(tables)/2)
		})
	}
}

func withoutTriggers(t *testing.T, file string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+file+"?_pragma=journal_mode(WAL)&_pragma=synchronous(0)")
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	for _, name := range []string{"entry_without_gap", "entry_never_updated", "entry_never_deleted", "text_never_updated", "log_never_updated", "log_never_deleted"} {
		_, err := db.ExecContext(t.Context(), "DROP TRIGGER "+name)
		require.NoError(t, err)
	}
	return db
}

// requireFound holds where verify finds damage and names where it is.
func requireFound(t *testing.T, file, table, act string) {
	t.Helper()
	s, err := store.OpenReadOnly(t.Context(), file)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	v, err := s.Verify(t.Context())
	require.NoError(t, err, "%s in %s", act, table)
	require.False(t, v.Clean(), "%s in %s was not found", act, table)
	switch table {
	case "entry", "log":
		require.NotEmpty(t, v.Entries, "%s in %s: %+v", act, table, v)
	case "text":
		require.NotEmpty(t, v.Texts, "%s in %s: %+v", act, table, v)
	default:
		require.Empty(t, v.Entries)
		require.Empty(t, v.Texts)
		require.True(t, slices.ContainsFunc(v.Tables, func(d store.TableDifference) bool { return d.Missing+d.Surplus != 0 }))
	}
}

// What is spoilt in the entries is named to the place.
func TestVerify_NamesTheEntry(t *testing.T) {
	t.Parallel()
	path, w := toldFile(t)
	size := w.size()
	whole := w.kept(path)
	for name, c := range map[string]struct {
		spoil string
		want  []proof.Problem
		texts []store.TextProblem
	}{
		"a byte":             {"UPDATE entry SET canonical = CAST(replace(CAST(canonical AS TEXT), 'film', 'filn') AS BLOB) WHERE seq = 18", []proof.Problem{{Seq: 18, What: proof.Changed}}, nil},
		"when received":      {"UPDATE entry SET received_ms = received_ms + 1 WHERE seq = 7", []proof.Problem{{Seq: 7, What: proof.Changed}}, nil},
		"a policy":           {"UPDATE entry SET canonical = CAST(replace(CAST(canonical AS TEXT), 'x = 1', 'x = 3') AS BLOB) WHERE seq = 3", []proof.Problem{{Seq: 3, What: proof.Changed}}, nil},
		"somebody's rights":  {"UPDATE entry SET canonical = CAST(replace(CAST(canonical AS TEXT), 'nurse', 'lead ') AS BLOB) WHERE seq = 4", []proof.Problem{{Seq: 4, What: proof.Changed}}, nil},
		"one gone":           {"DELETE FROM entry WHERE seq = 9", []proof.Problem{{Seq: 9, What: proof.Missing}}, nil},
		"the last gone":      {"DELETE FROM entry WHERE seq = " + fmt.Sprint(size), []proof.Problem{{Seq: size, What: proof.Missing}}, nil},
		"two changed places": {"UPDATE entry SET seq = -1 WHERE seq = 8; UPDATE entry SET seq = 8 WHERE seq = 10; UPDATE entry SET seq = 10 WHERE seq = -1", []proof.Problem{{Seq: 8, What: proof.Moved, From: 10}, {Seq: 10, What: proof.Moved, From: 8}}, nil},
		"a hash":             {"UPDATE log SET hashes = zeroblob(length(hashes)) WHERE seq = 9", []proof.Problem{{Seq: 9, What: proof.Kept}}, nil},
		"a text":             {"UPDATE text SET value = value || '!' WHERE entry = 9", nil, []store.TextProblem{{Entry: 9, What: proof.Changed}}},
		"a text gone":        {"DELETE FROM text WHERE entry = 9", nil, []store.TextProblem{{Entry: 9, What: proof.Missing}}},
		"a text too many":    {"INSERT INTO text VALUES (9, 'AA', 's', 'v')", nil, []store.TextProblem{{Entry: 9, What: proof.Inserted}}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			file := filepath.Join(t.TempDir(), "record.db")
			require.NoError(t, os.WriteFile(file, whole, 0o600))
			db := withoutTriggers(t, file)
			_, err := db.ExecContext(t.Context(), c.spoil)
			require.NoError(t, err)
			require.NoError(t, db.Close())
			s, err := store.OpenReadOnly(t.Context(), file)
			require.NoError(t, err)
			defer func() { require.NoError(t, s.Close()) }()
			v, err := s.Verify(t.Context())
			require.NoError(t, err)
			require.Equal(t, c.want, v.Entries)
			require.ElementsMatch(t, c.texts, v.Texts)
		})
	}
}
