// Package torture treats the real server badly (it is killed, its disk fills,
// its writes and syncs fail) while people record, and proves that nothing is
// lost that was answered for.
package torture

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// program is the server as it is delivered.
var program string

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "dwellbook-torture-")
	if err != nil {
		panic(err)
	}
	program = filepath.Join(dir, "dwellbook")
	if out, err := exec.Command("go", "build", "-o", program, "dwellbook/cmd/server").CombinedOutput(); err != nil {
		panic(fmt.Sprintf("build the server: %v\n%s", err, out))
	}
	end := m.Run()
	_ = os.RemoveAll(dir)
	os.Exit(end)
}

const (
	passphrase = "quiet river stone"
	ward       = "alder"
)

// newRecord makes a record with a ward and a nurse, and gives its file.
func newRecord(t testing.TB, dir string) string {
	t.Helper()
	file := filepath.Join(dir, "record.db")
	a, err := app.New(t.Context(), app.Config{DB: file})
	require.NoError(t, err)
	_, err = a.Desk.OpenAccount(t.Context(), desk.System(), desk.NewAccount{
		ID: "nurse", SignIn: "nurse", Name: "Somebody", Initials: "SB", Role: account.Nurse, Passphrase: passphrase,
	})
	require.NoError(t, err)
	require.NoError(t, a.Desk.SetWard(t.Context(), desk.System(), line.Ward{Ward: ward, Name: "Alder", Zone: "Europe/London"}))
	require.NoError(t, a.Close())
	return file
}

// server is the program, running on a record.
type server struct {
	*exec.Cmd
	url string // empty where it ended before it served
}

// begin starts the program. It may end, or be killed, before it serves.
func begin(t testing.TB, file string) (*server, <-chan string) {
	t.Helper()
	s := &server{Cmd: exec.Command(program, "serve", "-db", file, "-addr", "127.0.0.1:0")}
	log, err := s.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, s.Start())
	t.Cleanup(func() { _ = s.Process.Kill() })
	at := make(chan string, 1)
	go func() {
		defer close(at)
		for lines := bufio.NewScanner(log); lines.Scan(); {
			if _, address, ok := strings.Cut(lines.Text(), "Dwellbook is at "); ok {
				at <- address
			}
		}
	}()
	return s, at
}

// serve starts the program and waits until it serves.
func serve(t testing.TB, file string) *server {
	t.Helper()
	s, at := begin(t, file)
	s.url = <-at
	require.NotEmpty(t, s.url, "the server did not start")
	return s
}

// kill ends the program as a fault of the machine does: at once.
func (s *server) kill(t testing.TB) {
	t.Helper()
	require.NoError(t, s.Process.Kill())
	require.Error(t, s.Wait(), "it was killed")
}

// stop ends the program as an operator does.
func (s *server) stop(t testing.TB) {
	t.Helper()
	require.NoError(t, s.Process.Signal(os.Interrupt))
	require.NoError(t, s.Wait())
}

// signIn gives a browser in which the nurse is signed in.
func signIn(t testing.TB, base, name string) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	browser := &http.Client{
		Jar: jar, Timeout: time.Minute, Transport: &http.Transport{},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	status, _, err := post(browser, base+"/sign-in", url.Values{"sign_in": {name}, "passphrase": {passphrase}})
	require.NoError(t, err)
	require.Equal(t, http.StatusSeeOther, status)
	return browser
}

// post sends a form. The page is where the answer leads to, or what it says.
func post(browser *http.Client, address string, form url.Values) (status int, page string, err error) {
	answer, err := browser.PostForm(address, form)
	if err != nil {
		return 0, "", err
	}
	defer func() { _ = answer.Body.Close() }()
	if answer.StatusCode == http.StatusSeeOther {
		return answer.StatusCode, answer.Header.Get("Location"), nil
	}
	text, err := io.ReadAll(answer.Body)
	return answer.StatusCode, string(text), err
}
