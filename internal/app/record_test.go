package app_test

import (
	"bytes"
	"context"
	"database/sql"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/proof"
)

// pageOf reads an answer whole.
func pageOf(t *testing.T, answer *http.Response, err error) string {
	t.Helper()
	require.NoError(t, err)
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return string(text)
}

// upload sends a kept head as a file.
func (s *scene) upload(t *testing.T, c *http.Client, head string) (int, string) {
	t.Helper()
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, err := w.CreateFormFile("file", "head.txt")
	require.NoError(t, err)
	_, err = part.Write([]byte(head))
	require.NoError(t, err)
	require.NoError(t, w.WriteField("text", ""))
	require.NoError(t, w.Close())
	answer, err := c.Post(s.server.URL+"/record/check", w.FormDataContentType(), &form)
	require.NoError(t, err)
	return answer.StatusCode, pageOf(t, answer, nil)
}

func TestRecord_AKeptHeadIsCheckedByUploadAndByText(t *testing.T) {
	t.Parallel()
	s, other := newScene(t), newScene(t)
	for _, role := range []account.Role{account.Lead, account.Administrator} {
		c := s.client(t, role)
		answer, err := c.Get(s.server.URL + "/record/head.txt")
		kept := pageOf(t, answer, err)
		require.Equal(t, "text/plain; charset=utf-8", answer.Header.Get("Content-Type"))
		head, err := proof.ReadHead([]byte(kept))
		require.NoError(t, err)
		require.Equal(t, s.now, head.At)
		answer, err = c.Get(s.server.URL + "/record")
		page := pageOf(t, answer, err)
		require.Contains(t, page, head.Root.String())
		require.Contains(t, page, "On this machine alone the head proves nothing")

		s.look(t, line.ID("later-"+role))
		status, page := s.upload(t, c, kept)
		require.Equal(t, http.StatusOK, status)
		require.Contains(t, page, "It fits")
		answer, err = c.PostForm(s.server.URL+"/record/check", url.Values{"text": {strings.ReplaceAll(kept, "\n", "\r\n")}})
		require.Contains(t, pageOf(t, answer, err), "It fits")

		status, page = s.upload(t, c, strings.Replace(kept, "time 2026", "time 2025", 1))
		require.Equal(t, http.StatusUnprocessableEntity, status)
		require.Contains(t, page, "changed after it was signed")
		status, page = s.upload(t, c, "a shopping list")
		require.Equal(t, http.StatusUnprocessableEntity, status)
		require.Contains(t, page, "This is no head")
		status, _ = s.upload(t, c, strings.Repeat("x", 1<<20))
		require.Equal(t, http.StatusRequestEntityTooLarge, status)
		answer, err = c.PostForm(s.server.URL+"/record/check", url.Values{})
		require.Contains(t, pageOf(t, answer, err), "Choose the file of a kept head")

		foreign, err := other.app.Desk.Head(t.Context(), desk.System())
		require.NoError(t, err)
		_, page = s.upload(t, c, foreign.Text)
		require.Contains(t, page, "of another record")
	}
}

// altered is a copy of the scene's record, changed past the program.
func (s *scene) altered(t *testing.T, change string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, app.Backup(t.Context(), s.file, file))
	db, err := sql.Open("sqlite", "file:"+file)
	require.NoError(t, err)
	for _, trigger := range []string{"entry_without_gap", "entry_never_updated", "entry_never_deleted", "log_never_updated", "log_never_deleted"} {
		_, err := db.ExecContext(t.Context(), "DROP TRIGGER "+trigger)
		require.NoError(t, err)
	}
	_, err = db.ExecContext(t.Context(), change)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	return file
}

func TestVerify_SaysWhatWasAltered(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.look(t, "look-1")
	kept, err := s.app.Desk.Head(t.Context(), desk.System())
	require.NoError(t, err)
	s.look(t, "look-2")
	saved := filepath.Join(t.TempDir(), "head.txt")
	require.NoError(t, os.WriteFile(saved, []byte(kept.Text), 0o600))
	for name, c := range map[string]struct {
		change string
		says   []string
	}{
		"nothing": {"SELECT 1", []string{"each as it was recorded", "It fits"}},
		"a look denied": {"UPDATE entry SET canonical = CAST(replace(CAST(canonical AS TEXT), 'minute', 'day') AS BLOB) WHERE id = 'look-1'",
			[]string{"is not the one that was recorded there", "were not compared", "It does not fit: the first"}},
		"a look taken out":            {"DELETE FROM entry WHERE id = 'look-1'", []string{"is missing", "It does not fit"}},
		"a board made to look better": {"UPDATE line SET gauge = 20", []string{"Table line does not follow from the entries: 1 rows missing, 1 too many"}},
		"an end cut off without a trace": {
			"DELETE FROM entry WHERE id LIKE 'look-%'; DELETE FROM log WHERE seq > (SELECT max(seq) FROM entry); DELETE FROM mark WHERE known > (SELECT max(seq) FROM entry); DELETE FROM history WHERE seq > (SELECT max(seq) FROM entry)",
			[]string{"each as it was recorded", "It does not fit: the head was made of"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			v, err := app.Verify(t.Context(), s.altered(t, c.change), saved)
			require.NoError(t, err)
			require.Equal(t, name == "nothing", v.Clean())
			var out strings.Builder
			require.NoError(t, v.Write(&out))
			for _, sentence := range c.says {
				require.Contains(t, out.String(), sentence)
			}
			require.NotContains(t, out.String(), "{{")
		})
	}
	_, err = app.Verify(t.Context(), s.file, s.file)
	require.Error(t, err, "the record's file is no head")
}

func TestRun_SignsTheHeadAndWritesItElsewhere(t *testing.T) {
	t.Parallel()
	file, folder := filepath.Join(t.TempDir(), "record.db"), t.TempDir()
	a, err := app.New(t.Context(), app.Config{DB: file, Heads: folder})
	require.NoError(t, err)
	defer func() { require.NoError(t, a.Close()) }()
	require.NoError(t, a.Desk.SetWard(t.Context(), desk.System(), line.Ward{Ward: "alder", Name: "Alder", Zone: "Europe/London"}))
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- a.Run(ctx, l) }()
	var found []string
	require.Eventually(t, func() bool {
		found, err = filepath.Glob(filepath.Join(folder, "head-*.txt"))
		return err == nil && len(found) == 1
	}, 10*time.Second, 10*time.Millisecond)
	stop()
	require.NoError(t, <-ended)
	text, err := os.ReadFile(found[0])
	require.NoError(t, err)
	head, err := proof.ReadHead(text)
	require.NoError(t, err)
	require.EqualValues(t, 1, head.Size)
	v, err := app.Verify(t.Context(), file, found[0])
	require.NoError(t, err)
	require.True(t, v.Clean())
	again, err := app.Head(t.Context(), file, time.Now)
	require.NoError(t, err)
	same, err := proof.ReadHead([]byte(again))
	require.NoError(t, err)
	require.Equal(t, head.Key, same.Key, "the key is made once")
}
