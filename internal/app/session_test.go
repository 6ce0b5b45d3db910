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
