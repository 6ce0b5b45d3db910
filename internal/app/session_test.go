package app_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
)

func TestSession_CountsFromTheLastActAlsoWhereThatWasNotWritten(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	status := func() int {
		answer, err := nurse.Get(s.server.URL + "/wards")
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		return answer.StatusCode
	}
	for _, step := range []struct {
		later time.Duration
		want  int
	}{
		{50 * time.Second, http.StatusOK}, // sooner than a session is written again
		{14*time.Minute + 50*time.Second, http.StatusOK},
		{15*time.Minute + time.Second, http.StatusSeeOther},
	} {
		s.now = s.now.Add(step.later)
		require.Equal(t, step.want, status(), step.later)
	}
}

func TestSession_EndsWithSigningOut(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	base, err := url.Parse(s.server.URL)
	require.NoError(t, err)
	kept := nurse.Jar.Cookies(base)
	post(t, nurse, s.server.URL+"/sign-out", nil)
	nurse.Jar.SetCookies(base, kept)
	answer, err := nurse.Get(s.server.URL + "/wards")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Contains(t, answer.Header.Get("Location"), "/sign-in")
}

// OWASP ASVS 5, chapter on session management (from memory): a change of an
// authentication factor ends all other sessions.
func TestSession_EndsEverywhereWithANewPassphrase(t *testing.T) {
	t.Parallel()
	const fresh = "amber kettle ferry"
	own := func(t *testing.T, s *scene, here *http.Client) {
		status, _ := post(t, here, s.server.URL+"/passphrase", url.Values{"current": {passphrase}, "passphrase": {fresh}})
		require.Equal(t, http.StatusSeeOther, status)
	}
	everywhere := func(t *testing.T, s *scene, here *http.Client) {
		post(t, here, s.server.URL+"/sessions/end", nil)
	}
	byAdministrator := func(path string, form url.Values) func(t *testing.T, s *scene, here *http.Client) {
		return func(t *testing.T, s *scene, _ *http.Client) {
			status, _ := post(t, s.client(t, account.Administrator), s.server.URL+"/people/person-nurse"+path, form)
			require.Equal(t, http.StatusSeeOther, status)
		}
	}
	for _, c := range []struct {
		name string
		act  func(t *testing.T, s *scene, here *http.Client)
		here int // what the device it was done on gets afterwards
	}{
		{"the person's own", own, http.StatusOK},
		{"signed out everywhere", everywhere, http.StatusSeeOther},
		{"given by an administrator", byAdministrator("/passphrase", url.Values{"passphrase": {fresh}}), http.StatusSeeOther},
		{"signed out by an administrator", byAdministrator("/sessions/end", nil), http.StatusSeeOther},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			here, elsewhere, other := s.client(t, account.Nurse), s.client(t, account.Nurse), s.client(t, account.Doctor)
			c.act(t, s, here)
			for _, device := range []struct {
				client *http.Client
				want   int
			}{{here, c.here}, {elsewhere, http.StatusSeeOther}, {other, http.StatusOK}} {
				status, _ := get(t, device.client, s.server.URL+"/wards")
				require.Equal(t, device.want, status)
			}
			status, to := post(t, elsewhere, s.server.URL+"/lines/line-1/review", url.Values{"entry": {"late"}, "note": {"typed by whom?"}})
			require.Equal(t, http.StatusSeeOther, status)
			require.NotContains(t, to, "kept", "what is typed into a session that was ended on purpose is nobody's")
		})
	}
}

func TestSession_TokenIsNewAtEachSignIn(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	base, err := url.Parse(s.server.URL)
	require.NoError(t, err)
	nurse := s.client(t, account.Nurse)
	token := func() string {
		for _, c := range nurse.Jar.Cookies(base) {
			if c.Name == "dwellbook" {
				return c.Value
			}
		}
		return ""
	}
	first := token()
	require.NotEmpty(t, first)
	post(t, nurse, s.server.URL+"/sign-in", url.Values{"sign_in": {"nurse"}, "passphrase": {passphrase}})
	require.NotEmpty(t, token())
	require.NotEqual(t, first, token())
	stolen := s.client(t, "")
	stolen.Jar.SetCookies(base, []*http.Cookie{{Name: "dwellbook", Value: first, Path: "/"}})
	status, _ := get(t, stolen, s.server.URL+"/wards")
	require.Equal(t, http.StatusSeeOther, status, "the token of before counts for nothing")
}
