package app_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/store"
	"dwellbook/web/static"
)

func TestTakeAlong_GivesEachBedsidePageAsItIsByItself(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	status, _ := post(t, nurse, s.server.URL+"/greeting", nil) // only the first sign-in shows what to know
	require.Equal(t, http.StatusSeeOther, status)
	var pages []struct{ Path, HTML string }
	require.NoError(t, json.Unmarshal([]byte(body(t, nurse, s.server.URL+"/wards/alder/take-along")), &pages))
	html := map[string]string{}
	for _, page := range pages {
		html[page.Path] = page.HTML
	}
	for _, path := range []string{
		"/wards/alder", "/wards/alder/admit", "/patients/patient-1", "/patients/patient-1/place",
		"/lines/line-1", "/lines/line-1/review", "/lines/line-1/dressing", "/lines/line-1/remove",
	} {
		require.NotEmpty(t, html[path], path)
		require.Contains(t, html[path], "KD-204", path) // bed 2 is listed as this patient's on the form of admission too
		require.Contains(t, html[path], `data-account="person-nurse"`, path)
		alone := body(t, nurse, s.server.URL+path)
		require.InDelta(t, len(alone), len(html[path]), 8, path)
		require.Equal(t, strings.Count(alone, "<input"), strings.Count(html[path], "<input"), path)
	}
	require.Contains(t, html["/lines/line-1/review"], `action="/lines/line-1/review"`)
}

// Who took a patient along is noted once a shift, not each time the device looks.
func TestTakeAlong_IsNotedOnce(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	for range 3 {
		body(t, nurse, s.server.URL+"/wards/alder/take-along")
	}
	subject := s.page(t, "line-1").Line.Subject
	record, err := store.Open(t.Context(), s.file, store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, record.Close()) })
	accesses, err := record.Accesses(t.Context(), subject, 100)
	require.NoError(t, err)
	taken := 0
	for _, a := range accesses {
		if a.What == "taken-along" {
			taken++
			require.Equal(t, "person-nurse", a.Account)
		}
	}
	require.Equal(t, 1, taken)
}

// A notice left for the next page is not used up by a page that no person asked for.
func TestTakeAlong_LeavesTheNoticeToThePerson(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	status, to := post(t, nurse, s.server.URL+"/lines/line-1/dressing", url.Values{"entry": {"d-1"}, "when": {"now"}, "material": {"film"}})
	require.Equal(t, http.StatusSeeOther, status)
	request, err := http.NewRequest(http.MethodGet, s.server.URL+"/wards/alder/take-along", nil)
	require.NoError(t, err)
	request.Header.Set("X-Background", "1")
	answer, err := nurse.Do(request)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Contains(t, body(t, nurse, s.server.URL+to), `class="note"`)
}

func TestWorker_NamesEveryFileItKeepsAsItNowIs(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	answer, err := http.Get(s.server.URL + "/worker.js")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, "text/javascript; charset=utf-8", answer.Header.Get("Content-Type"))
	require.Equal(t, "no-cache", answer.Header.Get("Cache-Control"), "a new one is taken at once")
	script := body(t, http.DefaultClient, s.server.URL+"/worker.js")
	for _, name := range []string{"dwellbook.css", "dwellbook.js", "offline.js", "mark.svg"} {
		require.Contains(t, script, `"`+static.URL(name)+`"`)
	}
	for _, address := range static.URLs() {
		answer, err := http.Get(s.server.URL + address)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		require.Equal(t, http.StatusOK, answer.StatusCode, address)
	}
}

// Members as the Web Application Manifest has them (W3C); a browser installs
// what has a name, a start and an icon.
func TestManifest_LetsThePagesInstallAsAnApp(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	var manifest struct {
		Name     string
		StartURL string `json:"start_url"`
		Display  string
		Icons    []struct{ Src string }
	}
	require.NoError(t, json.Unmarshal([]byte(body(t, http.DefaultClient, s.server.URL+"/manifest.webmanifest")), &manifest))
	require.Equal(t, "Dwellbook", manifest.Name)
	require.Equal(t, "/", manifest.StartURL)
	require.Equal(t, "standalone", manifest.Display)
	require.NotEmpty(t, manifest.Icons)
}

// The page that stands in for others is kept on every device, so it holds
// nothing of any patient or person.
func TestOfflinePage_HoldsNothingOfAnybody(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	page := body(t, s.client(t, account.Nurse), s.server.URL+"/offline")
	require.NotContains(t, page, "Somebody")
	require.NotContains(t, page, "KD-204")
	require.NotContains(t, page, "data-account")
}

func TestPassphrase_ChangedByThePersonGivesTheDeviceANewGrant(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	d := &tablet{t: t, s: s}
	d.signIn(nurse, account.Nurse)
	before := d.keep("/lines/line-1/review", lookForm("look-1"))
	status, _ := post(t, nurse, s.server.URL+"/passphrase", url.Values{"current": {passphrase}, "passphrase": {"another quiet stone"}})
	require.Equal(t, http.StatusSeeOther, status)
	d.signIn(nurse, account.Nurse)
	after := d.keep("/lines/line-1/review", lookForm("look-2"))
	require.Equal(t, []string{"waiting", "stored"}, d.hand(before, after))
}
