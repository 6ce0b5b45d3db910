package store_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// moment is when the tests' restores are made.
var moment = time.Date(2026, 4, 1, 3, 0, 0, 0, time.UTC)

// While eight write, a copy is made and restored elsewhere: every entry that
// was acknowledged before the copy was begun is in it, once, none is there in
// part, and the restored record goes on.
func TestRestore_HasAllThatWasAcknowledgedBeforeTheCopy(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	here := openFile(t, path, store.Options{})
	var (
		mu           sync.Mutex
		acknowledged []line.ID
		writers      sync.WaitGroup
		stop         = make(chan struct{})
		failed       = make(chan error, 8)
	)
	count := func() int {
		mu.Lock()
		defer mu.Unlock()
		return len(acknowledged)
	}
	for g := range 8 {
		writers.Go(func() {
			for n := 0; ; n++ {
				select {
				case <-stop:
					return
				default:
				}
				w := &ward{}
				id := fmt.Sprintf("%d-%d", g, n)
				batch := []line.Entry{w.admission(line.ID("p"+id), 0, "north"), w.placement(line.ID("p"+id), line.ID("l"+id), 1)}
				for i := range batch {
					batch[i].ID = line.ID(fmt.Sprintf("e%s-%d", id, i))
				}
				if _, err := here.Append(t.Context(), line.Batch{Entries: batch}); err != nil {
					failed <- err
					return
				}
				mu.Lock()
				acknowledged = append(acknowledged, batch[0].ID)
				mu.Unlock()
			}
		})
	}
	require.Eventually(t, func() bool { return count() > 50 }, time.Minute, time.Millisecond)
	before := count()
	made, err := here.BackupInto(t.Context(), t.TempDir(), 3)
	require.NoError(t, err)
	require.Eventually(t, func() bool { return count() > before }, time.Minute, time.Millisecond, "writing goes on")
	close(stop)
	writers.Wait()
	require.Empty(t, failed)

	to := filepath.Join(t.TempDir(), "restored.db")
	r, err := store.Restore(t.Context(), made.File, to, false, moment)
	require.NoError(t, err)
	restored := openFile(t, to, store.Options{})
	all := sealed(t, restored)
	require.EqualValues(t, len(all), r.Entries)
	require.Zero(t, len(all)%2, "none half")
	for _, id := range acknowledged[:before] {
		_, err := restored.Entry(t.Context(), id)
		require.NoError(t, err, "entry %s", id)
	}
	require.NoError(t, restored.Check(t.Context()))
	requireRebuilt(t, restored)
	(&ward{record: restored, t: t}).must((&ward{}).admission("p-new", 0, "north"))
}

func TestRestore_RefusesAndLeavesWhatIsThere(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.course(1, 0)...)
	made, err := w.record.(*store.Store).BackupInto(t.Context(), t.TempDir(), 1)
	require.NoError(t, err)
	whole, err := os.ReadFile(made.File)
	require.NoError(t, err)
	folder := t.TempDir()
	file := func(name string, content []byte) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, content, 0o600))
		return path
	}
	damaged := append([]byte(nil), whole...)
	for i := len(damaged) / 2; i < len(damaged)/2+5000; i++ {
		damaged[i] = 0xa5
	}
	newer := file("newer.db", whole)
	_, err = raw(t, newer).ExecContext(t.Context(), "INSERT INTO goose_db_version (version_id, is_applied) VALUES (99999, 1)")
	require.NoError(t, err)
	there := file("there.db", []byte("what is there"))
	for name, c := range map[string]struct {
		from, to string
		replace  bool
		key      string
	}{
		"no copy":            {filepath.Join(folder, "none.db"), there, true, "store.no-file"},
		"onto itself":        {there, there, true, "store.backup-onto-itself"},
		"unless told":        {made.File, there, false, "store.restore-over"},
		"no record":          {file("other.db", []byte(strings.Repeat("no database ", 1000))), there, true, "store.not-a-record"},
		"empty":              {file("empty.db", nil), there, true, "store.not-a-record"},
		"of a newer program": {newer, there, true, "store.schema-newer"},
	} {
		_, err := store.Restore(t.Context(), c.from, c.to, c.replace, moment)
		var f *fault.Error
		require.ErrorAs(t, err, &f, name)
		require.Equal(t, c.key, f.Key, name)
	}
	_, err = store.Restore(t.Context(), file("damaged.db", damaged), there, true, moment)
	require.Error(t, err)
	kept, err := os.ReadFile(there)
	require.NoError(t, err)
	require.Equal(t, "what is there", string(kept))
	require.NoFileExists(t, there+".partial")
}

func TestRestore_ReplacesOnlyWhatNobodyHasOpenAndKeepsIt(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.course(1, 0)...)
	made, err := w.record.(*store.Store).BackupInto(t.Context(), t.TempDir(), 1)
	require.NoError(t, err)

	path := freshFile(t)
	served := openFile(t, path, store.Options{})
	old := &ward{record: served, t: t}
	old.must(old.admission("p-old", 0, "north"))
	_, err = store.Restore(t.Context(), made.File, path, true, moment)
	requireFault(t, err, fault.Conflict, "store.in-use")
	old.must(old.placement("p-old", "l-old", 1))
	require.NoError(t, served.Close())

	r, err := store.Restore(t.Context(), made.File, path, true, moment)
	require.NoError(t, err)
	require.Equal(t, path+".before-20260401T030000Z", r.Aside)
	require.EqualValues(t, 15, r.Entries)
	require.Equal(t, w.clock.Now(), r.Last)
	require.Len(t, sealed(t, openFile(t, path, store.Options{})), 15)
	require.Len(t, sealed(t, openFile(t, r.Aside, store.Options{})), 2)
}

// A damaged record is what one restores over.
func TestRestore_ReplacesWhatIsNoRecordAnyMore(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.course(1, 0)...)
	made, err := w.record.(*store.Store).BackupInto(t.Context(), t.TempDir(), 1)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "record.db")
	require.NoError(t, os.WriteFile(path, []byte(strings.Repeat("damaged", 2000)), 0o600))
	require.NoError(t, os.WriteFile(path+"-wal", []byte("a log of the damaged file"), 0o600))
	r, err := store.Restore(t.Context(), made.File, path, true, moment)
	require.NoError(t, err)
	require.FileExists(t, r.Aside+"-wal")
	s := openFile(t, path, store.Options{})
	require.Len(t, sealed(t, s), 15)
	require.NoError(t, s.Check(t.Context()))
}

func TestBackupInto_KeepsTheNewestAndLetsOtherFilesBe(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.course(1, 0)...)
	s := w.record.(*store.Store)
	dir := t.TempDir()
	for _, name := range []string{"mine.db", "record-20260101T000000Z.db.partial", "record-20991231T000000Z.db.partial"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), nil, 0o600))
	}
	var names []string
	for hour := range 5 {
		w.clock.set(1000 + float64(hour))
		made, err := s.BackupInto(t.Context(), dir, 3)
		require.NoError(t, err)
		require.Equal(t, w.clock.Now(), made.At)
		names = append(names, made.File)
	}
	list, err := store.Copies(dir)
	require.NoError(t, err)
	var left []string
	for _, c := range list {
		left = append(left, c.File)
		info, err := os.Stat(c.File)
		require.NoError(t, err)
		require.Equal(t, info.Size(), c.Bytes)
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	}
	require.Equal(t, names[2:], left)
	require.FileExists(t, filepath.Join(dir, "mine.db"))
	require.NoFileExists(t, filepath.Join(dir, "record-20260101T000000Z.db.partial"), "left by one that was killed")
	require.FileExists(t, filepath.Join(dir, "record-20991231T000000Z.db.partial"), "somebody may be writing it")

	_, err = s.BackupInto(t.Context(), filepath.Join(dir, "none"), 3)
	require.Error(t, err)
}
