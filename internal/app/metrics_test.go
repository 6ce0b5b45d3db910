package app_test

import (
	"context"
	"io"
	"net"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus/testutil/promlint"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
)

// figures gives what the product's figures are, as Prometheus would fetch them.
func figures(t *testing.T, a *app.App) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- a.RunMetrics(ctx, l) }()
	text := body(t, http.DefaultClient, "http://"+l.Addr().String()+"/metrics")
	stop()
	require.NoError(t, <-ended)
	return text
}

func TestMetrics_CountByRouteAndNameNobody(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	for _, path := range []string{"/wards/alder", "/patients/patient-1", "/lines/line-1", "/lines/no-such", "/healthz", "/no/such/page/KD-204"} {
		answer, err := nurse.Get(s.server.URL + path)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
	}
	strange, err := http.NewRequest("KD-204", s.server.URL+"/wards", nil)
	require.NoError(t, err)
	answer, err := nurse.Do(strange)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())

	text := figures(t, s.app)
	for _, want := range []string{
		`dwellbook_http_requests_total{code="200",method="GET",route="/patients/{patient}"} 1`,
		`dwellbook_http_requests_total{code="200",method="GET",route="/lines/{line}"} 1`,
		`dwellbook_http_requests_total{code="404",method="GET",route="/lines/{line}"} 1`,
		`dwellbook_http_requests_total{code="404",method="GET",route=""} 1`,
		`dwellbook_http_requests_total{code="204",method="GET",route="/healthz"} 1`,
		`dwellbook_http_requests_total{code="405",method="other",route=""} 1`,
		`dwellbook_http_request_duration_seconds_count{route="/wards/{ward}"} 1`,
		"dwellbook_writes_waiting 0\n", "dwellbook_boards_open 0\n", "dwellbook_backup_failures_total 0\n",
	} {
		require.Contains(t, text, want)
	}
	require.Regexp(t, `(?m)^dwellbook_entries_total 7$`, text, "four accounts, a ward, an admission, a placement")
	require.Regexp(t, `(?m)^dwellbook_record_size_bytes [1-9]`, text)
	for _, name := range []string{"alder", "patient-1", "line-1", "no-such", "KD-204", "person-", "Somebody"} {
		require.NotContains(t, text, name)
	}
	// The Prometheus project's own linter of names and help texts.
	problems, err := promlint.New(strings.NewReader(text)).Lint()
	require.NoError(t, err)
	require.Empty(t, problems)
}

// A board that is open on a screen is counted, and its stream is no slow answer.
func TestMetrics_CountOpenBoards(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.server.URL+"/wards/alder/changes", nil)
	require.NoError(t, err)
	stream, err := s.client(t, account.Nurse).Do(request)
	require.NoError(t, err)
	_, err = io.ReadFull(stream.Body, make([]byte, 1))
	require.NoError(t, err)
	require.Contains(t, figures(t, s.app), "dwellbook_boards_open 1\n")
	require.NoError(t, stream.Body.Close())
	ended := regexp.MustCompile(`dwellbook_http_requests_total\{code="200",method="GET",route="/wards/\{ward\}/changes"\} 1`)
	require.Eventually(t, func() bool { return ended.MatchString(figures(t, s.app)) }, waitForStream, streamPause)
	require.NotContains(t, figures(t, s.app), `dwellbook_http_request_duration_seconds_count{route="/wards/{ward}/changes"}`)
}

func TestParseLoopback_RefusesWhatAnotherMachineCouldReach(t *testing.T) {
	t.Parallel()
	for addr, good := range map[string]bool{
		"127.0.0.1:9600": true, "[::1]:9600": true, "localhost:9600": true, "127.9.9.9:1": true,
		":9600": false, "0.0.0.0:9600": false, "[::]:9600": false, "10.0.0.4:9600": false, "example.test:9600": false, "9600": false, "127.0.0.1": false,
	} {
		_, err := app.ParseLoopback(addr)
		require.Equal(t, good, err == nil, addr)
	}
}
