package app_test

import (
	"io"
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
)

func post(t *testing.T, c *http.Client, address string, form url.Values) (status int, to string) {
	t.Helper()
	answer, err := c.PostForm(address, form)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return answer.StatusCode, answer.Header.Get("Location")
}

func body(t testing.TB, c *http.Client, address string) string {
	t.Helper()
	answer, err := c.Get(address)
	require.NoError(t, err)
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return string(text)
}

func TestHazard13_ADraftIsKeptForWhoTypedItAndForNobodyElse(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	s.now = s.now.Add(16 * time.Minute) // a minute more than a session may idle
	status, to := post(t, nurse, s.server.URL+"/lines/line-1/review", url.Values{"entry": {"late-1"}, "when": {"now"}, "note": {"cold to the touch"}})
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/sign-in?kept=1", to)

	doctor := s.client(t, account.Doctor)
	require.NotContains(t, body(t, doctor, s.server.URL+"/tray"), "?draft=")

	status, to = post(t, nurse, s.server.URL+"/sign-in", url.Values{"sign_in": {"nurse"}, "passphrase": {passphrase}})
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/tray", to)
	person, err := s.app.Desk.Person(t.Context(), "person-nurse")
	require.NoError(t, err)
	drafts, err := s.app.Desk.Tray(t.Context(), person)
	require.NoError(t, err)
	require.Len(t, drafts, 1)
	require.Contains(t, body(t, nurse, s.server.URL+drafts[0].Path+"?draft="+drafts[0].ID), "cold to the touch")
}

func TestReview_SentTwiceIsStoredOnce(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	form := url.Values{"entry": {"look-1"}, "when": {"now"}, "nothing_wrong": {"1"}}
	status, to := post(t, nurse, s.server.URL+"/lines/line-1/review", form)
	require.Equal(t, http.StatusSeeOther, status)
	s.now = s.now.Add(3 * time.Minute)
	again, sameTo := post(t, nurse, s.server.URL+"/lines/line-1/review", form)
	require.Equal(t, status, again)
	require.Equal(t, to, sameTo)
	history, err := s.app.Desk.Line(t.Context(), s.person(t, "person-nurse"), "line-1")
	require.NoError(t, err)
	require.Len(t, history.History.Reviews, 1)

	form.Del("nothing_wrong")
	form.Set("sign", "pain")
	status, _ = post(t, nurse, s.server.URL+"/lines/line-1/review", form)
	require.Equal(t, http.StatusUnprocessableEntity, status, "the same id with other content")
}

func TestEntries_ThatCannotBeTrueAreRefusedAndKeepWhatWasTyped(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	out := url.Values{"entry": {"out-1"}, "when": {"now"}, "reason": {"not-needed"}}
	status, _ := post(t, nurse, s.server.URL+"/lines/line-1/remove", out)
	require.Equal(t, http.StatusSeeOther, status)
	for name, form := range map[string]url.Values{
		"a second removal":       {"entry": {"out-2"}, "when": {"now"}, "reason": {"leak"}, "note": {"typed words"}},
		"a time in the future":   {"entry": {"out-3"}, "when": {"typed"}, "when-date": {"2026-03-05"}, "when-clock": {"09:00"}, "reason": {"leak"}, "note": {"typed words"}},
		"a word that is no code": {"entry": {"out-4"}, "when": {"now"}, "reason": {"bored"}, "note": {"typed words"}},
		"before the placement":   {"entry": {"out-5"}, "when": {"typed"}, "when-date": {"2026-03-01"}, "when-clock": {"09:00"}, "reason": {"leak"}, "note": {"typed words"}},
	} {
		answer, err := nurse.PostForm(s.server.URL+"/lines/line-1/remove", form)
		require.NoError(t, err)
		text, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode, name)
		require.Contains(t, string(text), "typed words", name)
	}
}
