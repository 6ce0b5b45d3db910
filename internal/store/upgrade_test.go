package store_test

import (
	"database/sql"
	"fmt"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// unlike says, by the migration that changed it, how the columns that stayed
// were filled before. A migration that gives a column another meaning adds its
// line here.
var unlike = map[int64]string{
	5: "UPDATE mark SET c = c & ~(3 << 62) WHERE kind = 11",
	6: "UPDATE attempt SET author = (SELECT json_extract(CAST(e.canonical AS TEXT), '$.author') FROM entry e WHERE e.seq = attempt.root)",
}

// since says, by migration, what could be recorded from then on.
var since = map[int64]func(*ward){
	3: func(w *ward) {
		ctx := w.t.Context()
		require.NoError(w.t, w.SetSecret(ctx, "jo", "a hash"))
		require.NoError(w.t, w.SetSetting(ctx, "a", "b"))
		require.NoError(w.t, w.NoteSignInFailure(ctx, "jo", "", noon))
		require.NoError(w.t, w.NoteAccess(ctx, account.Access{Account: "jo", Subject: int64(w.key("p1")), What: "patient", At: noon}))
		require.NoError(w.t, w.KeepDraft(ctx, account.Draft{Account: "jo", ID: "d1", Path: "/x", Form: url.Values{"a": {"b"}}, At: noon}))
		require.NoError(w.t, w.Sessions().CommitCtx(ctx, "token", []byte("data"), noon.AddDate(1, 0, 0)))
	},
	6: func(w *ward) {
		w.must(w.ofHouse(line.RecordShare{Share: "share-1", Account: "jo", With: "kim"}))
	},
	7: func(w *ward) {
		require.NoError(w.t, w.NoteDelivered(w.t.Context(), account.Delivered{ID: "d1", Account: "jo", At: noon, Carried: account.Carried{Device: "tablet", Captured: noon, Sent: noon}}, nil))
	},
	9: func(w *ward) {
		require.NoError(w.t, w.NoteGreeted(w.t.Context(), "jo", account.Nurse))
	},
	10: func(w *ward) {
		ctx := w.t.Context()
		require.NoError(w.t, w.NextGeneration(ctx, "jo"))
		require.NoError(w.t, w.NoteSignInFailure(ctx, "jo", "a device", noon))
		require.NoError(w.t, w.KnowDevice(ctx, "a device", "jo"))
		require.NoError(w.t, w.NoteAccess(ctx, account.Access{Account: "jo", Subject: 1, Line: 2, What: "line", At: noon}))
		require.NoError(w.t, w.SetSecondStep(ctx, "jo", account.SecondStep{Key: account.CodeKey("key"), Confirmed: true, Used: 7}))
		require.NoError(w.t, w.SetRecoveryCodes(ctx, "jo", []string{"a hash"}))
		require.NoError(w.t, w.SetTablet(ctx, account.Tablet{Device: "a device", Name: "Alder 1", Author: "kim", At: noon}))
		require.NoError(w.t, w.SetPIN(ctx, "jo", "a hash"))
	},
}

// shapes are the numbers of all migrations.
func shapes(t *testing.T) []int64 {
	t.Helper()
	provider, err := store.Shapes(raw(t, filepath.Join(t.TempDir(), "none.db")))
	require.NoError(t, err)
	var list []int64
	for _, s := range provider.ListSources() {
		list = append(list, s.Version)
	}
	return list
}

// written is a file of today's shape, filled with what a program of the shape
// could record and keep beside the record.
func written(t *testing.T, shape int64) string {
	t.Helper()
	path := freshFile(t)
	clock := &clock{}
	clock.set(100)
	s := openFile(t, path, store.Options{Clock: clock.Now})
	w := &ward{record: s, t: t, clock: clock}
	w.infections()
	w.must(w.ofHouse(line.Account{Account: "jo", SignIn: "jo", Name: "Jo", Role: "nurse"}), w.ofHouse(line.OperatorLink{Account: "jo", Written: "NA", Accepted: line.Yes}))
	tried := w.tried("l8", 3, line.Occasion{Site: line.Wrist, Gauge: 20, Attempts: []line.Attempt{{Operator: line.Operator{Account: "jo"}, Failed: true, Fault: line.Spasm}}})
	w.must(tried)
	again := tried
	again.Author = "lee"
	corrected := w.correction(tried.ID, tried.ID, again)
	corrected.Author = "lee"
	w.must(corrected)
	spoilt := w.must(w.review("p2", "l3", 72))
	w.must(w.void("p2", spoilt, spoilt))
	w.must(w.entry("p2", "l3", 73, line.FollowUp{Rule: "review-overdue", Note: "spoke with the ward"}))
	for number, more := range since {
		if number <= shape {
			more(w)
		}
	}
	require.NoError(t, s.Close())
	return path
}

// inShape puts what a file of today's shape holds into one that was made by
// the migrations up to a number, as a program of then would have written it.
func inShape(t *testing.T, full string, shape int64) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "old.db")
	db := raw(t, path)
	db.SetMaxOpenConns(1)
	provider, err := store.Shapes(db)
	require.NoError(t, err)
	_, err = provider.UpTo(t.Context(), shape)
	require.NoError(t, err)
	run := func(text string, args ...any) {
		_, err := db.ExecContext(t.Context(), text, args...)
		require.NoError(t, err, text)
	}
	run("ATTACH ? AS full", full)
	for _, table := range column(t, db, "SELECT name FROM main.sqlite_schema WHERE type = 'table' AND name NOT LIKE 'goose%' AND name NOT LIKE 'sqlite%'") {
		columns := strings.Join(column(t, db, "SELECT name FROM pragma_table_info(?, 'main')", table), ", ")
		run(fmt.Sprintf("INSERT INTO main.%s (%s) SELECT %s FROM full.%s ORDER BY 1", table, columns, columns, table))
	}
	run("DETACH full")
	for number, before := range unlike {
		if shape < number {
			run(before)
		}
	}
	require.NoError(t, db.Close())
	return path
}

// column gives a column of texts.
func column(t *testing.T, db *sql.DB, text string, args ...any) (list []string) {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), text, args...)
	require.NoError(t, err)
	defer func() { require.NoError(t, rows.Close()) }()
	for rows.Next() {
		var s string
		require.NoError(t, rows.Scan(&s))
		list = append(list, s)
	}
	require.NoError(t, rows.Err())
	return list
}

// dump is every row of every table, as text.
func dump(t *testing.T, path string) map[string][]string {
	t.Helper()
	db := raw(t, path)
	tables := map[string][]string{}
	for _, table := range column(t, db, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'goose%' AND name NOT LIKE 'sqlite%'") {
		var values []string
		for _, name := range column(t, db, "SELECT name FROM pragma_table_info(?) ORDER BY name", table) {
			values = append(values, fmt.Sprintf("'%s=' || quote(%s)", name, name))
		}
		tables[table] = column(t, db, fmt.Sprintf("SELECT %s AS r FROM %s ORDER BY r", strings.Join(values, " || ' ' || "), table))
	}
	return tables
}

// A file of any earlier shape, with data in it, becomes on opening what today's
// program would have written itself, to the row. Shape 1 had no program of its
// own: a file stays in it only where its first start was cut short, so it is
// empty.
func TestOpen_BringsEveryEarlierShapeToTodays(t *testing.T) {
	t.Parallel()
	all := shapes(t)
	require.True(t, slices.IsSorted(all))
	for _, shape := range all[1 : len(all)-1] {
		t.Run(fmt.Sprint(shape), func(t *testing.T) {
			t.Parallel()
			full := written(t, shape)
			want := dump(t, full)
			old := inShape(t, full, shape)
			_, err := store.OpenReadOnly(t.Context(), old)
			require.Error(t, err, "it is not today's yet")
			s, err := store.Open(t.Context(), old, store.Options{})
			require.NoError(t, err)
			require.NoError(t, s.Check(t.Context()))
			requireRebuilt(t, s)
			require.NoError(t, s.Close())
			require.Equal(t, want, dump(t, old))
		})
	}
	t.Run("1, empty", func(t *testing.T) {
		t.Parallel()
		path := filepath.Join(t.TempDir(), "old.db")
		provider, err := store.Shapes(raw(t, path))
		require.NoError(t, err)
		_, err = provider.UpTo(t.Context(), 1)
		require.NoError(t, err)
		w := &ward{record: openFile(t, path, store.Options{}), t: t}
		w.must(w.admission("p1", 0, "north"))
		requireRebuilt(t, w)
	})
}
