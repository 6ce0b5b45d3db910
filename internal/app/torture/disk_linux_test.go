package torture

import (
	"bufio"
	"database/sql"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/words"
)

// smallDisk gives a disk of 8 MiB, or skips where none may be mounted.
func smallDisk(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=8m")
	if errors.Is(err, syscall.EPERM) {
		t.Skip("no disk may be mounted here")
	}
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(dir, syscall.MNT_DETACH)) })
	return dir
}

// fill takes all of the disk but so many bytes, until it is given back.
func fill(t *testing.T, dir string, left int64) (giveBack func()) {
	t.Helper()
	var disk syscall.Statfs_t
	require.NoError(t, syscall.Statfs(dir, &disk))
	ballast := filepath.Join(dir, "ballast")
	err := os.WriteFile(ballast, make([]byte, max(0, int64(disk.Bavail)*disk.Bsize-left)), 0o600)
	require.True(t, err == nil || errors.Is(err, syscall.ENOSPC), "%v", err) // the server may have taken some meanwhile
	return func() { require.NoError(t, os.Remove(ballast)) }
}

// failing makes the system calls that strace's expression names fail on the
// record's files while the server runs on, until it is put right.
func failing(t *testing.T, s *server, file, expression string) (putRight func()) {
	t.Helper()
	calls, _, _ := strings.Cut(expression, ":")
	tracer := exec.Command("strace", "-f", "-o", os.DevNull, "-p", strconv.Itoa(s.Process.Pid),
		"-P", file, "-P", file+"-wal", "-e", "trace="+calls, "-e", "inject="+expression)
	said, err := tracer.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, tracer.Start())
	lines := bufio.NewScanner(said)
	require.True(t, lines.Scan())
	if strings.Contains(lines.Text(), "not permitted") {
		_ = tracer.Wait()
		t.Skip("no process may be traced here")
	}
	require.Contains(t, lines.Text(), "attached")
	go func() {
		for lines.Scan() { // so that it never waits for a reader
		}
	}()
	return func() {
		require.NoError(t, tracer.Process.Signal(os.Interrupt))
		_ = tracer.Wait() // it ends by the signal
	}
}

// refuses has everybody record until the disk takes no more, and fails unless
// each is told so, with what they typed still there, and can go on reading.
func refuses(t *testing.T, s *server, nurses []*nurse, sentences ...string) {
	t.Helper()
	var working sync.WaitGroup
	for _, n := range nurses {
		working.Go(func() { n.work(s.url) })
	}
	working.Wait()
	for _, n := range nurses {
		require.NotEmpty(t, n.refused, "%s got no answer", n.name)
		require.Contains(t, n.refused, ": 422 ")
		said := false
		for _, key := range sentences {
			said = said || strings.Contains(n.refused, words.Say(t.Context(), key))
		}
		require.True(t, said, n.refused)
		require.Contains(t, n.refused, n.next().note, "what was typed is still there")
		n.refused = ""
		for _, path := range []string{"/wards/" + ward, fmt.Sprintf("/patients/%s-1", n.name), fmt.Sprintf("/lines/%s-1.line", n.name)} {
			open(t, n.browser, s.url+path)
		}
	}
}

func open(t *testing.T, browser *http.Client, address string) {
	t.Helper()
	page, err := browser.Get(address)
	require.NoError(t, err)
	require.NoError(t, page.Body.Close())
	require.Equal(t, http.StatusOK, page.StatusCode, address)
}

// opened is how often the record notes that somebody opened a line.
func opened(t *testing.T, file string) (n int) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+file)
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT count(*) FROM access WHERE what = 'line'`).Scan(&n))
	return n
}

// goesOn has everybody send again what was refused, to the same server.
func goesOn(t *testing.T, s *server, nurses []*nurse) {
	t.Helper()
	for _, n := range nurses {
		for range 3 {
			status, page, err := n.send(s.url, n.next())
			require.NoError(t, err)
			require.Equal(t, http.StatusSeeOther, status, page)
		}
	}
}

func several(t *testing.T, s *server) []*nurse {
	t.Helper()
	nurses := make([]*nurse, 4)
	for i := range nurses {
		nurses[i] = &nurse{name: fmt.Sprintf("n%d", i), browser: signIn(t, s.url, "nurse")}
	}
	goesOn(t, s, nurses)
	return nurses
}

// age makes every session one that was written two minutes ago, so that the
// next request would write it again.
func age(t *testing.T, file string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+file)
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	_, err = db.ExecContext(t.Context(), `UPDATE session SET data =
		CAST(json_set(CAST(data AS TEXT), '$.acted', json_extract(CAST(data AS TEXT), '$.acted') - 120) AS BLOB)`)
	require.NoError(t, err)
}

func TestTorture_Hazard07_AFullDiskIsSaidAndTheServerGoesOnWhenThereIsSpace(t *testing.T) {
	dir := smallDisk(t)
	file := newRecord(t, dir)
	s := serve(t, file)
	nurses := several(t, s)
	s.stop(t)
	age(t, file)
	s = serve(t, file)
	room := []int64{0, 4 << 10, 20 << 10, 36 << 10, 100 << 10} // so that it ends in the middle of what is written
	for _, left := range room {
		giveBack := fill(t, dir, left)
		refuses(t, s, nurses, "store.disk-full", "store.disk-failing")
		status, page, err := post(nurses[0].browser, s.url+"/sign-in", url.Values{"sign_in": {"nurse"}, "passphrase": {passphrase}})
		require.NoError(t, err)
		if status != http.StatusSeeOther { // there may be room for as little as that
			require.Contains(t, []int{http.StatusUnprocessableEntity, http.StatusServiceUnavailable}, status)
			require.Contains(t, page, "The disk ")
		}
		requireWhole(t, file, nurses)
		giveBack()
		goesOn(t, s, nurses)
	}
	open(t, nurses[0].browser, s.url+"/lines/n0-1.line")
	require.Equal(t, len(room)*len(nurses)+1, opened(t, file), "who opened a line meanwhile is noted too")
	giveBack := fill(t, dir, 0)
	refuses(t, s, nurses, "store.disk-full", "store.disk-failing")
	s.kill(t)
	requireWhole(t, file, nurses)
	giveBack()
	s = serve(t, file)
	goesOn(t, s, nurses)
	s.stop(t)
	requireWhole(t, file, nurses)
}

func TestTorture_Hazard07_FailingWritesAndSyncsAreSaidAndTheServerGoesOn(t *testing.T) {
	if _, err := exec.LookPath("strace"); err != nil {
		t.Skip("there is no strace: no system call can be made to fail")
	}
	file := newRecord(t, t.TempDir())
	s := serve(t, file)
	nurses := several(t, s)
	for _, expression := range []string{
		"fsync,fdatasync:error=EIO", "fsync,fdatasync:error=EIO:when=3+4",
		"write,pwrite64:error=EIO", "write,pwrite64:error=EIO:when=20+7", "write,pwrite64:error=ENOSPC:when=9+11",
	} {
		putRight := failing(t, s, file, expression)
		refuses(t, s, nurses, "store.disk-full", "store.disk-failing")
		putRight()
		requireWhole(t, file, nurses)
		goesOn(t, s, nurses)
	}
	s.kill(t)
	requireWhole(t, file, nurses)
}
