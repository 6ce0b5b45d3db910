package app_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// The scene's one line is recorded by the nurse as placed by the doctor.
func TestMyRecord_CountsWhatSomebodyElseRecordedOnceThePersonAgrees(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	doctor, page := s.client(t, account.Doctor), s.server.URL+"/my-record"
	others := map[string]string{}
	pages := []string{"/wards/alder", "/patients/patient-1", "/lines/line-1"}
	nurse := s.client(t, account.Nurse)
	for _, p := range pages {
		others[p] = body(t, nurse, s.server.URL+p)
	}
	before := body(t, doctor, page)
	require.Contains(t, before, "Were these yours?")
	require.Contains(t, before, "recorded by Somebody nurse")
	require.Contains(t, before, "0 occasions")
	require.NotContains(t, body(t, nurse, page), "Were these yours?")

	answer := func(c *http.Client, word string) int {
		status, _ := post(t, c, page+"/attempts", url.Values{"version": {"entry-2"}, "answer": {word}})
		return status
	}
	require.Equal(t, http.StatusNotFound, answer(nurse, "yes"), "not the nurse's to say")
	require.Equal(t, http.StatusSeeOther, answer(doctor, "yes"))
	after := body(t, doctor, page)
	require.NotContains(t, after, "Were these yours?")
	require.Contains(t, after, "1 occasion.")
	require.Equal(t, http.StatusSeeOther, answer(doctor, "no"))
	require.Contains(t, body(t, doctor, page), "0 occasions")
	for _, p := range pages {
		require.Equal(t, others[p], body(t, nurse, s.server.URL+p), "nothing on any other screen changes")
	}
}

func TestSharedRecord_OpensForTheNamedReaderAlone(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	mine := s.server.URL + "/my-record"
	shared := mine + "/shares/share-1"
	clients := map[account.Role]*http.Client{}
	for _, role := range append([]account.Role{""}, account.Roles...) {
		clients[role] = s.client(t, role)
	}
	doctor := clients[account.Doctor]
	statusOf := func(role account.Role) int {
		answer, err := clients[role].Get(shared)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		return answer.StatusCode
	}
	all := func(want map[account.Role]int) {
		t.Helper()
		for role, status := range want {
			require.Equal(t, status, statusOf(role), "%q", role)
		}
	}
	all(map[account.Role]int{"": 303, account.Nurse: 404, account.Doctor: 404, account.Lead: 404, account.Administrator: 403})

	for with, want := range map[string]int{"person-administrator": 422, "person-doctor": 422, "nobody": 422, "": 422} {
		status, _ := post(t, doctor, mine+"/shares", url.Values{"share": {"share-0"}, "with": {with}})
		require.Equal(t, want, status, with)
	}
	form := url.Values{"share": {"share-1"}, "with": {"person-nurse"}}
	for range 2 {
		status, _ := post(t, doctor, mine+"/shares", form)
		require.Equal(t, http.StatusSeeOther, status)
	}
	require.NotContains(t, body(t, doctor, mine), "Who looked")
	all(map[account.Role]int{"": 303, account.Nurse: 200, account.Doctor: 200, account.Lead: 404, account.Administrator: 403})
	page := body(t, clients[account.Nurse], shared)
	require.Contains(t, page, "The record of Somebody doctor")
	require.NotContains(t, page, "KD-204")
	require.NotContains(t, page, "/lines/")
	require.Contains(t, body(t, clients[account.Nurse], mine), "/my-record/shares/share-1")
	require.NotContains(t, body(t, clients[account.Lead], mine), "share-1")
	require.Regexp(t, `(?s)Who looked.*Somebody nurse`, body(t, doctor, mine))
	looks, err := s.app.Desk.LooksAtOwnRecord(t.Context(), s.person(t, "person-doctor"), 10)
	require.NoError(t, err)
	require.Len(t, looks, 2, "each look of the reader, none of the person's own")

	for _, role := range []account.Role{account.Nurse, account.Lead} {
		status, _ := post(t, clients[role], shared+"/take-back", nil)
		require.Equal(t, http.StatusNotFound, status, "%s", role)
	}
	status, _ := post(t, doctor, shared+"/take-back", nil)
	require.Equal(t, http.StatusSeeOther, status)
	all(map[account.Role]int{"": 303, account.Nurse: 404, account.Doctor: 404, account.Lead: 404, account.Administrator: 403})
	require.Contains(t, body(t, doctor, mine), "taken back")
}

func TestPlace_RecordsTheVeinAndWhoStoodBy(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	doctor := s.client(t, account.Doctor)
	address := s.server.URL + "/patients/patient-1/place"
	page := body(t, doctor, address)
	require.Contains(t, page, "Was the vein difficult?")
	form := url.Values{
		"entry": {"placed-9"}, "line": {"line-9"}, "when": {"now"}, "outcome": {"line"}, "site": {"forearm"}, "side": {"right"}, "gauge": {"20"},
		"asepsis": {"full"}, "attempt.1.operator": {"person-doctor"}, "attempt.1.result": {"placed"},
		"attempt.1.difficulty": {"not-visible", "none"}, "supervisor": {"person-doctor"},
	}
	status, page := answerOf(t, doctor, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "recorded as the one who held the cannula")
	form.Set("supervisor", "person-lead")
	status, page = answerOf(t, doctor, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "ticked as not difficult and as difficult")
	form["attempt.1.difficulty"] = []string{"not-visible", "small-vein"}
	status, _ = answerOf(t, doctor, address, form)
	require.Equal(t, http.StatusSeeOther, status)

	own, err := s.app.Desk.OwnAttempts(t.Context(), s.person(t, "person-doctor"))
	require.NoError(t, err)
	require.Len(t, own.Counted, 1)
	require.Equal(t, line.SetOf(line.VeinNotVisible, line.VeinSmall), own.Counted[0].Difficulty)
	require.Equal(t, line.ID("person-lead"), own.Counted[0].Supervisor)
	for role, named := range map[account.Role]bool{account.Doctor: true, account.Lead: true, account.Nurse: false} {
		page := body(t, s.client(t, role), s.server.URL+"/lines/line-9")
		require.Contains(t, page, "supervised", role)
		require.Equal(t, named, strings.Contains(page, "supervised by Somebody lead"), role)
	}
}

// A hospital that does not ask shows no ticks, and keeps those recorded before.
func TestPlace_AsksAboutTheVeinByThePolicy(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.put(t, "ticked-1", "line-2", 100, line.Occasion{
		Outcome: line.WithLine, Site: line.Wrist, Side: line.Right, Gauge: 20, Asepsis: line.AsepsisFull,
		Attempts: []line.Attempt{{Site: line.Wrist, Side: line.Right, Gauge: 20, Difficulty: line.SetOf(line.VeinSmall)}},
	})
	_, err := s.app.Desk.SetPolicy(t.Context(), desk.System(), []byte("[learning]\ndifficulty = false\n"))
	require.NoError(t, err)
	nurse := s.client(t, account.Nurse)
	require.NotContains(t, body(t, nurse, s.server.URL+"/patients/patient-1/place"), "Was the vein difficult?")
	require.Contains(t, body(t, nurse, s.server.URL+"/entries/ticked-1/correct"), "Was the vein difficult?")
}
