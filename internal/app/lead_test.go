package app_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

func TestSignIn_GoesOnlyToAPathOfThisServer(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	for to, want := range map[string]string{
		"/lines/line-1":           "/lines/line-1",
		"/audit?ward=alder":       "/audit?ward=alder",
		"":                        "/",
		"//elsewhere.test":        "/",
		"https://elsewhere.test":  "/",
		`/\elsewhere.test`:        "/",
		"/\t/elsewhere.test":      "/", // browsers drop tabs from an address (URL standard, basic URL parser)
		"/\n/elsewhere.test":      "/",
		"/./../\t/elsewhere.test": "/",
	} {
		status, got := post(t, s.client(t, ""), s.server.URL+"/sign-in", url.Values{"sign_in": {"lead"}, "passphrase": {passphrase}, "to": {to}})
		require.Equal(t, http.StatusSeeOther, status, "%q", to)
		require.Equal(t, want, got, "%q", to)
	}
}

func TestAudit_ShowsAdviceWhereItIsAskedForAndCountsItNowhere(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	plain := body(t, lead, s.server.URL+"/audit")
	require.NotContains(t, plain, `href="/lines/line-1"`)
	require.Contains(t, body(t, lead, s.server.URL+"/audit?advice=1"), `href="/lines/line-1"`)
	// A filter for a rule that only advises must not answer that nothing is found.
	filtered := body(t, lead, s.server.URL+"/audit?rule=small-gauge-in-elbow-crease")
	require.Contains(t, filtered, `href="/lines/line-1"`)
}

func TestPolicy_ShowsWholeTextAndSinceWhen(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	text := body(t, s.client(t, account.Lead), s.server.URL+"/policy")
	require.Contains(t, text, "<details")
	require.Contains(t, text, "fistula_severity = ")
}

func TestDraft_IsKeptOnlyWhereAPageCanTakeItBack(t *testing.T) {
	t.Parallel()
	for path, form := range map[string]url.Values{
		"/hospital":     {"hospital": {"Somewhere"}},
		"/people-links": {"written": {"SB"}},
		"/people":       {"name": {"Typed name"}, "passphrase": {"not kept"}},
	} {
		s := newScene(t)
		admin := s.client(t, account.Administrator)
		s.now = s.now.Add(16 * time.Minute)
		_, to := post(t, admin, s.server.URL+path, form)
		require.Equal(t, "/sign-in", to, "%s: nothing is kept, so nothing may say so", path)
		drafts, err := s.app.Desk.Tray(t.Context(), s.person(t, "person-administrator"))
		require.NoError(t, err)
		require.Empty(t, drafts, path)
	}
}

func TestWardForm_KeepsHalfHoursAndRefusesWhatIsNoTime(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	require.NoError(t, s.app.Desk.SetWard(t.Context(), desk.System(), line.Ward{Ward: "alder", Name: "Alder", Zone: "Europe/London", Every: 90}))
	admin := s.client(t, account.Administrator)
	require.Contains(t, body(t, admin, s.server.URL+"/ward-values/alder"), `value="1.5"`)
	for form, want := range map[[2]string]int{
		{"07:30x 19:30", ""}:    http.StatusUnprocessableEntity,
		{"24:00", ""}:           http.StatusUnprocessableEntity,
		{"", "NaN"}:             http.StatusUnprocessableEntity,
		{"07:30, 19:30", "1.5"}: http.StatusSeeOther,
	} {
		status, _ := post(t, admin, s.server.URL+"/ward-values/alder", url.Values{"name": {"Alder"}, "zone": {"Europe/London"}, "shifts": {form[0]}, "every": {form[1]}})
		require.Equal(t, want, status, "%q", form)
	}
	h, err := s.app.Desk.House(t.Context())
	require.NoError(t, err)
	ward, _ := h.Ward("alder")
	require.Equal(t, 90, ward.Every)
}

func TestOpenAccount_ChangesNoAccountThatIsThere(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	admin := s.client(t, account.Administrator)
	for _, id := range []string{"", "person-nurse"} {
		status, _ := post(t, admin, s.server.URL+"/people", url.Values{
			"account": {id}, "name": {"Other"}, "sign_in": {"other"}, "role": {"nurse"}, "passphrase": {"long river stone mill"},
		})
		require.Equal(t, http.StatusUnprocessableEntity, status, "%q", id)
	}
	require.Equal(t, "nurse", s.person(t, "person-nurse").SignIn)
}

// An occasion without a line can be followed up, and that alone.
func TestLine_WhereNoneWasPlacedCanBeFollowedUp(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	failed := line.Attempt{Operator: line.Operator{Account: "person-doctor"}, Failed: true, Fault: line.NoFlashback}
	_, err := s.app.Desk.Record(t.Context(), s.person(t, "person-nurse"), desk.Act{Now: true, Entries: []line.Entry{{
		ID: "entry-tried", Kind: line.KindOccasion, Subject: "patient-1", Line: "line-tried", Precision: line.ToMinute,
		Body: line.Occasion{
			Outcome: line.WithoutLine, Site: line.Wrist, Side: line.Right, Gauge: 22, Asepsis: line.AsepsisFull,
			Attempts: []line.Attempt{failed, failed},
		},
	}}})
	require.NoError(t, err)
	lead := s.client(t, account.Lead)
	form := url.Values{"entry": {"entry-note"}, "rule": {"too-many-attempts"}, "note": {"Asked the ward"}}
	status, _ := post(t, lead, s.server.URL+"/lines/line-tried/follow-up", form)
	require.Equal(t, http.StatusSeeOther, status)
	page := body(t, lead, s.server.URL+"/lines/line-tried")
	require.Contains(t, page, "Asked the ward")
	require.Contains(t, page, "/lines/line-tried/follow-up")
	require.NotContains(t, page, "/lines/line-tried/infection")
	form.Set("entry", "entry-note-2")
	status, _ = post(t, lead, s.server.URL+"/lines/line-1/follow-up", form)
	require.Equal(t, http.StatusSeeOther, status)
	require.Contains(t, body(t, lead, s.server.URL+"/lines/line-1"), "Asked the ward")
	require.NotContains(t, body(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-1"), "/follow-up")
}
