package store_test

import (
	"bytes"
	"database/sql"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// raw opens the file past the store, as somebody with a database tool would.
func raw(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func requireFault(t *testing.T, err error, kind fault.Kind, key string) {
	t.Helper()
	var f *fault.Error
	require.ErrorAs(t, err, &f)
	require.Equal(t, kind, f.Kind, "%v", err)
	require.Equal(t, key, f.Key, "%v", err)
}

func TestOpen_RefusesWhatItCannotKeep(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "record.db")
	_, err := store.OpenReadOnly(t.Context(), path)
	requireFault(t, err, fault.NotFound, "store.no-file")
	_, err = store.Open(t.Context(), filepath.Join(t.TempDir(), "no", "folder", "record.db"), store.Options{})
	requireFault(t, err, fault.NotFound, "store.cannot-open")

	require.NoError(t, os.WriteFile(path, []byte(strings.Repeat("no database ", 1000)), 0o600))
	for _, open := range []func() error{
		func() error { _, err := store.Open(t.Context(), path, store.Options{}); return err },
		func() error { _, err := store.OpenReadOnly(t.Context(), path); return err },
	} {
		requireFault(t, open(), fault.Conflict, "store.not-a-record")
	}
}

func TestOpen_OlderAndNewerFiles(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ change, reader, writer string }{
		"newer":   {"INSERT INTO goose_db_version (version_id, is_applied) VALUES (99999, 1)", "store.schema-newer", "store.schema-newer"},
		"older":   {"DROP TABLE mark; DELETE FROM goose_db_version WHERE version_id > 1", "store.schema-older", ""},
		"foreign": {"DROP TABLE goose_db_version", "store.not-a-record", "store.not-a-record"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			path := freshFile(t)
			_, err := raw(t, path).ExecContext(t.Context(), c.change)
			require.NoError(t, err)
			_, err = store.OpenReadOnly(t.Context(), path)
			requireFault(t, err, fault.Conflict, c.reader)
			if c.writer != "" {
				_, err = store.Open(t.Context(), path, store.Options{})
				requireFault(t, err, fault.Conflict, c.writer)
			}
		})
	}
}

func TestOpenReadOnly_ReadsAndCannotWrite(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	w := &ward{record: openFile(t, path, store.Options{}), t: t, clock: &clock{}}
	w.must(w.course(1, 0)...)
	during, err := store.OpenReadOnly(t.Context(), path)
	require.NoError(t, err, "while another has it open")
	require.NoError(t, during.Close())
	require.NoError(t, w.Close())

	s, err := store.OpenReadOnly(t.Context(), path)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	_, err = s.Patient(t.Context(), "p1")
	require.NoError(t, err)
	_, err = s.Append(t.Context(), line.Batch{Entries: []line.Entry{w.admission("p2", 0, "north")}})
	requireFault(t, err, fault.Conflict, "store.read-only")
	require.NoError(t, s.Check(t.Context()))
}

func TestEntry_IsNeverChangedNorDeleted(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	w := &ward{record: openFile(t, path, store.Options{}), t: t}
	w.must(w.admission("p1", 0, "north"))
	db := raw(t, path)
	for _, bad := range []string{
		"UPDATE entry SET kind = 2",
		"DELETE FROM entry",
		"UPDATE text SET value = 'x'",
		`INSERT INTO entry (seq, id, kind, subject, root, recorded_ms, received_ms, format, canonical) VALUES (3, 'x', 1, 1, 3, 0, 0, 1, x'00')`,
		`INSERT INTO entry (seq, id, kind, subject, root, recorded_ms, received_ms, format, canonical) VALUES (2, 'x', 'one', 1, 2, 0, 0, 1, x'00')`,
	} {
		_, err := db.ExecContext(t.Context(), bad)
		require.Error(t, err, bad)
	}
	require.Len(t, sealed(t, w), 1)
}

func TestRebuild_PutsRightWhatWasTamperedWith(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	s := openFile(t, path, store.Options{})
	w := &ward{record: s, t: t}
	w.must(w.course(1, 0)...)
	w.must(w.course(2, 5)...)
	want := w.marks("p1", 0)
	db := raw(t, path)
	for _, spoil := range []string{
		"DELETE FROM mark WHERE kind = 4 AND subject = 1",
		"UPDATE line SET gauge = 14 WHERE line = 1",
		"INSERT INTO span (day, ward, line, subject) VALUES (1, 1, 1, 1)",
	} {
		_, err := db.ExecContext(t.Context(), spoil)
		require.NoError(t, err)
	}
	result, err := w.Rebuild(t.Context())
	require.NoError(t, err)
	require.False(t, result.Clean())
	require.EqualValues(t, 30, result.Entries)
	for _, d := range result.Tables {
		switch d.Table {
		case "mark":
			require.Equal(t, store.TableDifference{Table: "mark", Rows: 30, Missing: 9}, d)
		case "line":
			require.Equal(t, store.TableDifference{Table: "line", Rows: 2, Missing: 1, Surplus: 1}, d)
		case "span":
			require.EqualValues(t, 1, d.Surplus)
			require.Zero(t, d.Missing)
		default:
			require.Zero(t, d.Missing+d.Surplus, d.Table)
		}
	}
	require.Equal(t, want, w.marks("p1", 0))
	requireRebuilt(t, w)
	w.must(w.course(3, 6)...) // the writer goes on
}

func TestBackup_IsAWholeCheckedCopy(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.course(1, 0)...)
	to := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, os.WriteFile(to, []byte("the last backup"), 0o600))
	require.NoError(t, w.Backup(t.Context(), to))
	w.must(w.course(2, 0)...)
	s, err := store.OpenReadOnly(t.Context(), to)
	require.NoError(t, err)
	require.Len(t, sealed(t, s), 15, "as it stood")
	require.NoError(t, s.Close())
	left, err := filepath.Glob(to + ".*")
	require.NoError(t, err)
	require.Empty(t, left)

	require.Error(t, w.Backup(t.Context(), filepath.Join(t.TempDir(), "no", "folder.db")))
	path := freshFile(t)
	own := openFile(t, path, store.Options{})
	requireFault(t, own.Backup(t.Context(), path), fault.Invalid, "store.backup-onto-itself")
}

func TestOpen_FoldsTheLogInQuietMoments(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	w := &ward{record: openFile(t, path, store.Options{Checkpoint: time.Millisecond}), t: t}
	w.must(w.admission("p1", 0, "north"))
	require.Eventually(t, func() bool {
		after, err := os.ReadFile(path)
		return err == nil && !bytes.Equal(before, after)
	}, time.Minute, time.Millisecond)
}

func TestOnChange_TellsBeforeTheAnswer(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	var told []line.Change
	w.OnChange(func(c line.Change) { told = append(told, c) })
	w.must(w.ofHouse(line.Ward{Ward: "north", Name: "North", Zone: "UTC"}))
	w.must(w.admission("p1", 0, "north"))
	w.must(w.entry("p1", "", 1, line.Transfer{Ward: "south"}))
	w.refused("store.unknown-line", w.review("p1", "l9", 2))
	require.NoError(t, w.SetSetting(t.Context(), "a", "b"))
	wards, err := w.WardKeys(t.Context())
	require.NoError(t, err)
	p := w.key("p1")
	require.Equal(t, []line.Change{
		{Wards: []line.Key{wards["north"]}, House: true},
		{Subjects: []line.Key{p}, Wards: []line.Key{wards["north"]}},
		{Subjects: []line.Key{p}, Wards: []line.Key{wards["north"], wards["south"]}},
	}, told)
}

func TestOnChange_SeesAnotherProcess(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	here := openFile(t, path, store.Options{Poll: 2 * time.Millisecond})
	told := make(chan line.Change, 100)
	here.OnChange(func(c line.Change) { told <- c })
	there := &ward{record: openFile(t, path, store.Options{}), t: t}
	there.must(there.admission("p1", 0, "north"))
	require.Equal(t, line.Change{All: true}, <-told)
	p, err := here.Patient(t.Context(), "p1")
	require.NoError(t, err)
	w := &ward{record: here, t: t, n: 100}
	w.must(w.placement("p1", "l1", 1))
	require.Equal(t, line.Change{Subjects: []line.Key{p.Key}, Wards: []line.Key{p.Ward}}, <-told, "its own is no other's")
	last, err := there.LastSeq(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 2, last)
	requireRebuilt(t, there)
}

// modernc.org/sqlite works with exactly the version of modernc.org/libc that
// its own go.mod names; its documentation says so, and others have crashed.
func TestDriver_HasTheLibcItWasBuiltFor(t *testing.T) {
	t.Parallel()
	out, err := exec.CommandContext(t.Context(), "go", "list", "-m", "-f", "{{.Dir}} {{.Version}}", "modernc.org/sqlite", "modernc.org/libc").Output()
	require.NoError(t, err)
	fields := strings.Fields(string(out))
	require.Len(t, fields, 4)
	mod, err := os.ReadFile(filepath.Join(fields[0], "go.mod"))
	require.NoError(t, err)
	require.Contains(t, string(mod), "modernc.org/libc "+fields[3]+"\n")
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, d := range info.Deps {
			if d.Path == "modernc.org/libc" {
				require.Equal(t, fields[3], d.Version, "the one linked")
			}
		}
	}
}

func TestClose_LeavesTheWholeRecordInTheFile(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	s, err := store.Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	w := &ward{record: s, t: t}
	w.must(w.ofHouse(line.Ward{Ward: "north", Name: "North", Zone: "UTC"}))
	_, err = s.House(t.Context()) // so that a reader has the file open too
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.NoFileExists(t, path+"-wal")
}
