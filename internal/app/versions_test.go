package app_test

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

func TestStream_OpenedAgainByTheBrowserDoesNotExtendASession(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	s.now = s.now.Add(14 * time.Minute)
	ctx, stop := context.WithCancel(t.Context())
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, s.server.URL+"/wards/alder/changes", nil)
	require.NoError(t, err)
	request.Header.Set("Accept", "text/event-stream") // as browsers do: HTML standard, server-sent events
	answer, err := nurse.Do(request)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Empty(t, answer.Header.Get("Set-Cookie"), "a stream writes no session")
	stop()
	require.NoError(t, answer.Body.Close())
	s.now = s.now.Add(14 * time.Minute)
	again, err := nurse.Get(s.server.URL + "/wards")
	require.NoError(t, err)
	require.NoError(t, again.Body.Close())
	require.Contains(t, again.Header.Get("Location"), "/sign-in")
}

func TestLine_ShowsEveryWordingWithWhoWroteIt(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	at := s.app.Desk.Now() - 100
	entry := func(id line.ID, b line.Body) line.Entry {
		return line.Entry{ID: id, Kind: b.Kind(), Subject: "patient-1", Line: "line-1", Happened: at, Precision: line.ToMinute, Body: b}
	}
	record := func(who line.ID, e line.Entry) {
		_, err := s.app.Desk.Record(t.Context(), s.person(t, who), desk.Act{Entries: []line.Entry{e}})
		require.NoError(t, err)
	}
	look := func(id line.ID, note line.Text) line.Entry { return entry(id, line.Review{Note: note}) }
	record("person-nurse", look("look", "first wording"))
	record("person-doctor", entry("mend-1", line.Correction{Root: "look", Seen: "look", Why: "wrong note", Replacement: look("look-2", "second wording")}))
	record("person-lead", entry("mend-2", line.Correction{Root: "look", Seen: "mend-1", Why: "wrong again", Replacement: look("look-3", "third wording")}))
	nurse := s.client(t, account.Nurse)
	page := body(t, nurse, s.server.URL+"/lines/line-1")
	inOrder(t, page, "third wording", "Somebody lead, recorded", "<del", "second wording", "Somebody doctor, recorded", "<del", "first wording", "Somebody nurse, recorded")
	record("person-nurse", entry("void", line.Void{Root: "look", Seen: "mend-2", Why: "other patient"}))
	page = body(t, nurse, s.server.URL+"/lines/line-1")
	inOrder(t, page, "<del", "third wording", "other patient", "<del", "second wording", "<del", "first wording")
}

// inOrder wants the parts in the text one after the other.
func inOrder(t *testing.T, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		_, rest, found := strings.Cut(text, p)
		require.True(t, found, "%q is missing or out of order", p)
		text = rest
	}
}
