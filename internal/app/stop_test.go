package app_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
)

const (
	waitForStream = time.Minute
	streamPause   = 20 * time.Millisecond
)

// running is a scene served by Run.
func running(t *testing.T) (s *scene, base string, stop func(), ended <-chan error) {
	t.Helper()
	s = newScene(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.app.Run(ctx, l) }()
	s.server.URL = "http://" + l.Addr().String()
	return s, s.server.URL, cancel, done
}

// A form whose first half had arrived when the stop began is recorded and
// answered; an open board's stream ends; all of it well within ten seconds.
func TestRun_FinishesWhatItBegan(t *testing.T) {
	t.Parallel()
	s, base, stop, ended := running(t)
	nurse := s.client(t, account.Nurse)
	watch, err := http.NewRequestWithContext(t.Context(), http.MethodGet, base+"/wards/alder/changes", nil)
	require.NoError(t, err)
	stream, err := nurse.Do(watch)
	require.NoError(t, err)
	_, err = bufio.NewReader(stream.Body).ReadString('\n')
	require.NoError(t, err)

	// The first half is sent once the server asks for it, and so has begun.
	nurse.Transport = &http.Transport{ExpectContinueTimeout: time.Minute}
	form := url.Values{"entry": {"entry-half"}, "when": {"now"}, "state": {"intact"}}.Encode()
	read, write := io.Pipe()
	half, err := http.NewRequestWithContext(t.Context(), http.MethodPost, base+"/lines/line-1/review", read)
	require.NoError(t, err)
	half.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	half.Header.Set("Expect", "100-continue")
	half.ContentLength = int64(len(form))
	answered := make(chan int, 1)
	go func() {
		answer, err := nurse.Do(half)
		if err != nil {
			answered <- 0
			return
		}
		_ = answer.Body.Close()
		answered <- answer.StatusCode
	}()
	_, err = io.WriteString(write, form[:len(form)/2])
	require.NoError(t, err)

	start := time.Now()
	stop()
	_, err = io.Copy(io.Discard, stream.Body)
	require.NoError(t, err, "the stream ends as it should")
	require.NoError(t, stream.Body.Close())
	_, err = io.WriteString(write, form[len(form)/2:])
	require.NoError(t, err)
	require.Equal(t, http.StatusSeeOther, <-answered)
	require.NoError(t, <-ended)
	require.Less(t, time.Since(start), 10*time.Second)
	require.Contains(t, figures(t, s.app), "dwellbook_entries_total 8\n", "seven of the scene's, and this one")
}

func TestReady_WhileTheRecordAnswersAndNothingStops(t *testing.T) {
	t.Parallel()
	status := func(a *app.App) int {
		answer := httptest.NewRecorder()
		a.Handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/readyz", nil))
		return answer.Code
	}
	s, _, stop, ended := running(t)
	require.Equal(t, http.StatusNoContent, status(s.app))
	stop()
	require.NoError(t, <-ended)
	require.Equal(t, http.StatusServiceUnavailable, status(s.app))

	a, err := app.New(t.Context(), app.Config{DB: filepath.Join(t.TempDir(), "record.db")})
	require.NoError(t, err)
	require.Equal(t, http.StatusNoContent, status(a))
	require.NoError(t, a.Close())
	require.Equal(t, http.StatusServiceUnavailable, status(a))
}

// lines is a log that is read while it is written.
type lines struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// Each answer carries the number under which the log tells of it, and the log
// names routes, not the patients in their addresses.
func TestLog_TellsOfEachRequestUnderItsNumberAndNamesNoPatient(t *testing.T) {
	t.Parallel()
	var log lines
	s := newSceneWith(t, sceneNow, app.Config{Log: slog.New(slog.NewJSONHandler(&log, nil))})
	nurse := s.client(t, account.Nurse)
	answer, err := nurse.Get(s.server.URL + "/patients/patient-1?reference=KD-204")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	missing, err := nurse.Get(s.server.URL + "/lines/line-none")
	require.NoError(t, err)
	require.NoError(t, missing.Body.Close())
	id := answer.Header.Get("X-Request-Id")
	require.NotEmpty(t, id)
	require.NotEqual(t, id, missing.Header.Get("X-Request-Id"))
	seen := map[string]string{}
	require.Eventually(t, func() bool {
		for _, l := range strings.Split(strings.TrimSpace(log.String()), "\n") {
			var entry struct{ Msg, ID, Route, Level string }
			require.NoError(t, json.Unmarshal([]byte(l), &entry), l)
			seen[entry.Msg+" "+entry.ID] = entry.Route
		}
		return seen["request "+missing.Header.Get("X-Request-Id")] != ""
	}, waitForStream, streamPause)
	require.Equal(t, "/patients/{patient}", seen["request "+id])
	require.Equal(t, "/lines/{line}", seen["request failed "+missing.Header.Get("X-Request-Id")])
	for _, name := range []string{"patient-1", "KD-204"} {
		require.NotContains(t, log.String(), name)
	}
}
