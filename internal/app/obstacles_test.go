package app_test

import (
	"net/http"
	"net/url"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// put records an entry of patient-1, minutes before the scene's now.
func (s *scene) put(t *testing.T, id, on line.ID, ago line.Minute, b line.Body) {
	t.Helper()
	_, err := s.app.Desk.Record(t.Context(), s.person(t, "person-nurse"), desk.Act{Entries: []line.Entry{{
		ID: id, Kind: b.Kind(), Subject: "patient-1", Line: on, Happened: s.app.Desk.Now() - ago, Precision: line.ToMinute, Body: b,
	}}})
	require.NoError(t, err)
}

// at fills a form's time field with minutes before now. The scene is in winter, when London's clock shows UTC.
func (s *scene) at(form url.Values, ago time.Duration) {
	when := s.now.Add(-ago)
	form.Set("when", "typed")
	form.Set("when-date", when.Format(time.DateOnly))
	form.Set("when-clock", when.Format("15:04"))
}

var withdrawable = regexp.MustCompile(`name="withdraw"[^>]* value="([^"]*)"`)

func offered(page string) []string {
	var all []string
	for _, m := range withdrawable.FindAllStringSubmatch(page, -1) {
		all = append(all, m[1])
	}
	return all
}

// requireWithdrawn wants every version of the entry to be struck through.
func (s *scene) requireWithdrawn(t *testing.T, id line.ID) {
	t.Helper()
	_, _, err := s.app.Desk.Latest(t.Context(), s.person(t, "person-nurse"), id)
	require.ErrorContains(t, err, "already-void")
}

func TestCorrection_OffersToWithdrawWhatItMakesImpossible(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	s.put(t, "look-1", "line-1", 200, line.Review{Dressing: line.SetOf(line.Intact)})
	s.put(t, "look-2", "line-1", 100, line.Review{Dressing: line.SetOf(line.Intact)})
	s.put(t, "out-1", "line-1", 60, line.Removal{Reason: line.NotNeeded})
	address := s.server.URL + "/entries/out-1/correct"
	form := shown(body(t, nurse, address))
	s.at(form, 150*time.Minute)
	form.Set("why_corrected", "typed an hour late")
	status, page := answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Equal(t, []string{"look-2@look-2"}, offered(page), "only the look after the new time")
	require.Equal(t, "typed an hour late", shown(page).Get("why_corrected"), "what was typed is kept")
	require.Contains(t, page, "/entries/look-2/correct")

	form = shown(page)
	form.Del("repeat")
	form["withdraw"] = offered(page)
	for range 2 {
		status, _ = answerOf(t, nurse, address, form)
		require.Equal(t, http.StatusSeeOther, status)
		s.now = s.now.Add(2 * time.Minute)
	}
	s.requireWithdrawn(t, "look-2")
	kept, _, err := s.app.Desk.Latest(t.Context(), s.person(t, "person-nurse"), "look-1")
	require.NoError(t, err)
	require.Equal(t, line.KindReview, kept.Kind)
}

// A transfer typed after the discharge that came too early.
func TestTransfer_TypedLateNamesTheDischargeInItsWay(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	s.put(t, "gone-1", "", 60, line.Discharge{LeftIn: []line.ID{"line-1"}, Why: "goes home with it"})
	address := s.server.URL + "/patients/patient-1/transfer"
	form := url.Values{"entry": {"move-1"}, "ward": {"alder"}, "bed": {"3"}}
	s.at(form, 30*time.Minute)
	status, page := answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Equal(t, []string{"gone-1@gone-1"}, offered(page))
	form["withdraw"] = offered(page)
	status, page = answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status, "a withdrawal needs a reason")
	require.Contains(t, page, `href="#withdraw_why"`)
	form.Set("withdraw_why", "another patient went home")
	status, _ = answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusSeeOther, status)
	s.requireWithdrawn(t, "gone-1")
}

// Where no withdrawal would help, none is offered.
func TestReview_BeforeThePlacementOffersNoWithdrawal(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	form := url.Values{"entry": {"early-1"}, "state": {"intact"}}
	s.at(form, 400*time.Minute)
	status, page := answerOf(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-1/review", form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Empty(t, offered(page))
}

func TestVoid_TakesWithItWhatDependsOnIt(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	s.put(t, "look-1", "line-1", 200, line.Review{Dressing: line.SetOf(line.Intact)})
	address := s.server.URL + "/entries/entry-2/void"
	form := shown(body(t, nurse, address))
	form.Set("why", "other patient")
	status, page := answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Equal(t, []string{"look-1@look-1"}, offered(page))
	form["withdraw"] = offered(page)
	for range 2 { // the second answers like the first
		status, _ = answerOf(t, nurse, address, form)
		require.Equal(t, http.StatusSeeOther, status)
		s.now = s.now.Add(2 * time.Minute)
	}
	s.requireWithdrawn(t, "entry-2")
	s.requireWithdrawn(t, "look-1")
}
