package app_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

// stored is the entry as it stands.
func (s *scene) stored(t *testing.T, id line.ID) line.Entry {
	t.Helper()
	e, _, err := s.app.Desk.Latest(t.Context(), s.person(t, "person-nurse"), id)
	require.NoError(t, err)
	return e
}

func TestLook_NothingWrongStoresOnlyWhatWasSeen(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	address := s.server.URL + "/lines/line-1/look"
	whose := body(t, nurse, address)
	for _, said := range []string{"KD-204", "elbow crease", "left", "22", "This patient, this arm", "This is another patient or arm"} {
		require.Contains(t, whose, said)
	}
	page := body(t, nurse, address+"?step=found")
	require.Contains(t, page, "look by 19:30")
	require.Contains(t, page, "No look recorded since it was placed, 10:10.")
	form := shown(page)
	form.Del("returns_hours")
	form.Set("nothing_wrong", "1")
	for range 2 { // the second answers like the first
		status, to := post(t, nurse, address, form)
		require.Equal(t, http.StatusSeeOther, status)
		require.Equal(t, "/lines/line-1/look?stored="+form.Get("entry"), to)
	}
	require.Equal(t, line.Review{Dressing: line.SetOf(line.Intact)}, s.stored(t, line.ID(form.Get("entry"))).Body)
	require.Contains(t, body(t, nurse, address+"?stored="+form.Get("entry")), "Undo")
}

func TestLook_IsUndoneAtOnceWithoutAReasonAndLaterWithOne(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	for _, id := range []string{"quick", "slow"} {
		status, _ := post(t, nurse, s.server.URL+"/lines/line-1/look", url.Values{"entry": {id}, "nothing_wrong": {"1"}, "from": {"look"}})
		require.Equal(t, http.StatusSeeOther, status)
	}
	s.now = s.now.Add(10 * time.Second)
	other := s.client(t, account.Doctor)
	_, to := post(t, other, s.server.URL+"/entries/quick/undo", nil)
	require.Equal(t, "/entries/quick/void", to, "only its author undoes without a reason")
	for range 2 {
		_, to = post(t, nurse, s.server.URL+"/entries/quick/undo", url.Values{"to": {"/lines/line-1/look"}})
		require.Equal(t, "/lines/line-1/look", to)
	}
	s.requireWithdrawn(t, "quick")

	s.now = s.now.Add(time.Minute)
	_, to = post(t, nurse, s.server.URL+"/entries/slow/undo", nil)
	require.Equal(t, "/entries/slow/void", to)
	require.NotContains(t, body(t, nurse, s.server.URL+"/lines/line-1/look?stored=slow"), "Undo")
	require.Equal(t, line.KindReview, s.stored(t, "slow").Kind)
}

func TestLook_NotSeenKeepsTheReasonAndTheReturn(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	address := s.server.URL + "/lines/line-1/look"
	status, page := answerOf(t, nurse, address, url.Values{"entry": {"away"}, "why": {"off-ward"}, "returns_hours": {"100"}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Equal(t, "100", shown(page).Get("returns_hours"), "what was typed is kept")
	status, _ = post(t, nurse, address, url.Values{"entry": {"away"}, "why": {"off-ward"}, "returns_hours": {"2"}})
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, line.NotSeen{Why: line.OffWard, Returns: s.app.Desk.Now() + 120}, s.stored(t, "away").Body)
}

func TestLook_AtALineThatIsOutRecordsNothing(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	s.put(t, "out-1", "line-1", 60, line.Removal{Reason: line.NotNeeded})
	address := s.server.URL + "/lines/line-1/look"
	page := body(t, nurse, address)
	require.Contains(t, page, "recorded as out")
	require.NotContains(t, page, "nothing_wrong")
	status, _ := post(t, nurse, address, url.Values{"entry": {"late"}, "nothing_wrong": {"1"}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
}

func TestLook_AsksForTheNeedOnceADay(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	address := s.server.URL + "/lines/line-1/look?step=found"
	require.NotContains(t, body(t, nurse, address), "Still needed?", "recorded with the placement, five hours ago")
	s.now = s.now.Add(19 * time.Hour)
	nurse = s.client(t, account.Nurse)
	page := body(t, nurse, address)
	require.Contains(t, page, "Still needed?")
	require.NotContains(t, shown(page), "needed", "nothing is chosen beforehand")
	status, _ := post(t, nurse, s.server.URL+"/lines/line-1/look", url.Values{"entry": {"look"}, "nothing_wrong": {"1"}, "needed": {"yes"}})
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, line.Review{Dressing: line.SetOf(line.Intact), Needed: line.Yes}, s.stored(t, "look").Body)
	require.NotContains(t, body(t, nurse, address), "Still needed?")
}

func TestLook_WithSomethingToRecordOpensAShortReview(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	page := body(t, nurse, s.server.URL+"/lines/line-1/review?from=look")
	require.NotContains(t, page, "nothing_wrong")
	form := shown(page)
	form.Add("sign", "pain")
	status, to := post(t, nurse, s.server.URL+"/lines/line-1/review", form)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/lines/line-1/look?stored="+form.Get("entry"), to)
}
