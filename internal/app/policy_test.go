package app_test

import (
	"bytes"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// editForm is the form of fields as a browser would send it, with some typed over.
func editForm(base *audit.Policy, typed map[string]string) url.Values {
	form := url.Values{"base": {strings.ReplaceAll(string(base.Text()), "\n", "\r\n")}}
	note := func(rule line.Rule) {
		for _, f := range base.Fields(rule) {
			value := f.Value
			if over, ok := typed[f.Key]; ok {
				value = over
			}
			if f.Form != audit.FlagForm || value == "true" {
				form.Set(f.Key, value)
			}
		}
	}
	note("")
	for _, r := range audit.Rules() {
		note(r.Rule)
	}
	return form
}

func (s *scene) inForce(t *testing.T) desk.PolicyVersion {
	t.Helper()
	h, err := s.app.Desk.House(t.Context())
	require.NoError(t, err)
	return h.InForce(s.app.Desk.Now())
}

func answered(t *testing.T, answer *http.Response, err error) (int, string) {
	t.Helper()
	require.NoError(t, err)
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return answer.StatusCode, html.UnescapeString(string(text))
}

func TestPolicy_IsEditedTriedAndPutInForceByName(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	form := editForm(audit.DefaultPolicy(), map[string]string{"review-overdue.grace": "45m", "idle-line.on": "false"})
	status, to := post(t, lead, s.server.URL+"/policy/edit", form)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/policy/edit/trial", to)

	status, to = post(t, lead, s.server.URL+"/policy/edit/confirm", url.Values{"from": {"now"}})
	require.Equal(t, http.StatusSeeOther, status, "it is tried first")
	require.Equal(t, "/policy/edit/trial", to)

	trial := body(t, lead, s.server.URL+to)
	require.Contains(t, trial, "<del>grace = &#34;30m&#34;</del>")
	require.Contains(t, trial, "<ins>grace = &#34;45m&#34;</ins>")
	require.Equal(t, 2, strings.Count(trial, "<ins>"), "the two lines that were edited, and no other")

	answer, err := lead.PostForm(s.server.URL+"/policy/edit/confirm", url.Values{"from": {"now"}})
	status, page := answered(t, answer, err)
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, page, "Somebody lead")
	require.Equal(t, int64(0), s.inForce(t).Seq, "asking is not putting in force")

	h, err := s.app.Desk.House(t.Context())
	require.NoError(t, err)
	inHand, err := s.app.Desk.PolicyEdit(t.Context(), s.person(t, "person-lead"))
	require.NoError(t, err)
	require.Empty(t, h.Policies)
	sure := url.Values{"from": {"now"}, "sure": {audit.DefaultPolicy().Name() + ", " + inHand.Policy.Name()}}
	require.Contains(t, page, sure.Get("sure"))
	status, to = post(t, lead, s.server.URL+"/policy/edit/confirm", sure)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/policy", to)

	now := s.inForce(t)
	require.Equal(t, line.ID("person-lead"), now.Author)
	require.Equal(t, inHand.Policy.Name(), now.Policy.Name())
	require.Equal(t, s.app.Desk.Now(), now.From)
	history := body(t, s.client(t, account.Administrator), s.server.URL+"/policy/history")
	require.Contains(t, history, inHand.Policy.Name())
	require.Contains(t, history, "Somebody lead")
	gone, err := s.app.Desk.PolicyEdit(t.Context(), s.person(t, "person-lead"))
	require.NoError(t, err)
	require.Nil(t, gone)
}

func TestHazard15_APolicyIsNotPutInForceAgainstAnotherThanItWasTriedAgainst(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	post(t, lead, s.server.URL+"/policy/edit", url.Values{"text": {"[need-daily]\nevery = \"12h\"\n"}})
	body(t, lead, s.server.URL+"/policy/edit/trial")
	other := policyOf(t, "[need-daily]\nevery = \"8h\"\n")
	require.NoError(t, s.app.Desk.PutPolicy(t.Context(), s.person(t, "person-lead"), desk.NewPolicy{Policy: other, Against: audit.DefaultPolicy().Name()}))
	_, to := post(t, lead, s.server.URL+"/policy/edit/confirm", url.Values{"from": {"now"}})
	require.Equal(t, "/policy/edit/trial", to)
	require.Equal(t, other.Name(), s.inForce(t).Policy.Name())
	require.Contains(t, body(t, lead, s.server.URL+to), "<del>every = &#34;8h&#34;</del>")
}

func TestPolicy_FromALaterMomentOnTheHospitalsClock(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	require.NoError(t, s.app.Desk.SetHospital(t.Context(), desk.System(), line.Hospital{Name: "Larkwell", Zone: "Europe/London"}))
	lead := s.client(t, account.Lead)
	post(t, lead, s.server.URL+"/policy/edit", url.Values{"text": {"[need-daily]\nevery = \"12h\"\n"}})
	body(t, lead, s.server.URL+"/policy/edit/trial")
	inHand, err := s.app.Desk.PolicyEdit(t.Context(), s.person(t, "person-lead"))
	require.NoError(t, err)
	ask := func(date, clock, fold, sure string) (int, string) {
		answer, err := lead.PostForm(s.server.URL+"/policy/edit/confirm", url.Values{
			"from": {"typed"}, "from-date": {date}, "from-clock": {clock}, "from-fold": {fold}, "sure": {sure},
		})
		return answered(t, answer, err)
	}
	// The clocks change on 29 March and 25 October 2026 (IANA time zone database).
	for _, c := range []struct {
		date, clock string
		want        string
	}{
		{"2026-03-04", "15:09", "That moment is past"},
		{"2026-03-29", "01:30", "error"},
		{"2026-10-25", "01:30", "from-fold"},
		{"2027-10-25", "01:30", "error"},
		{"", "", "error"},
	} {
		status, page := ask(c.date, c.clock, "", "")
		require.Equal(t, http.StatusUnprocessableEntity, status, c.date)
		require.Contains(t, page, c.want, c.date)
	}
	_, page := ask("2026-10-25", "01:30", "second", "")
	require.Contains(t, page, "Sun 25 Oct 2026 01:30 GMT")
	status, _ := ask("2026-10-25", "01:30", "second", audit.DefaultPolicy().Name()+", "+inHand.Policy.Name())
	require.Equal(t, http.StatusSeeOther, status)
	h, err := s.app.Desk.House(t.Context())
	require.NoError(t, err)
	require.Equal(t, line.MinuteOf(time.Date(2026, 10, 25, 1, 30, 0, 0, time.UTC)), h.Policies[0].From)
}

func TestPolicy_ErrorsStandAtTheFieldAndWhatWasTypedStays(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	form := editForm(audit.DefaultPolicy(), map[string]string{"review-overdue.grace": "9h", "shifts": "late", "need-daily.why": "Typed and kept"})
	answer, err := lead.PostForm(s.server.URL+"/policy/edit", form)
	status, page := answered(t, answer, err)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	for _, want := range []string{
		`id="review-overdue.grace-error"`, `href="#review-overdue.grace"`, "9h is out of range", `value="9h"`,
		`id="shifts-error"`, `value="late"`, "Typed and kept",
	} {
		require.Contains(t, page, want)
	}
	answer, err = lead.PostForm(s.server.URL+"/policy/edit", url.Values{"text": {"[need-daily]\r\nevery = \"1w\"\r\nscroe = 2\r\n"}})
	status, page = answered(t, answer, err)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "Line 2, need-daily.every")
	require.Contains(t, page, "Line 3, need-daily.scroe")
	require.Contains(t, page, "scroe = 2")
	inHand, err := s.app.Desk.PolicyEdit(t.Context(), s.person(t, "person-lead"))
	require.NoError(t, err)
	require.Nil(t, inHand, "nothing is kept that cannot be read")
}

func TestPolicy_TakesAFile(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	const ours = "# ours\n[need-daily]\nevery = \"12h\"\n"
	var sent bytes.Buffer
	w := multipart.NewWriter(&sent)
	part, err := w.CreateFormFile("file", "ours.toml")
	require.NoError(t, err)
	_, err = part.Write([]byte(ours))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	answer, err := lead.Post(s.server.URL+"/policy/edit/file", w.FormDataContentType(), &sent)
	status, _ := answered(t, answer, err)
	require.Equal(t, http.StatusSeeOther, status)
	inHand, err := s.app.Desk.PolicyEdit(t.Context(), s.person(t, "person-lead"))
	require.NoError(t, err)
	require.Equal(t, ours, string(inHand.Policy.Text()))
}

func TestPolicy_EditSentTooLateIsKept(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	s.now = s.now.Add(16 * time.Minute)
	_, to := post(t, lead, s.server.URL+"/policy/edit", editForm(audit.DefaultPolicy(), map[string]string{"need-daily.why": "Typed too late"}))
	require.Equal(t, "/sign-in?kept=1", to)
	again := s.client(t, account.Lead)
	drafts, err := s.app.Desk.Tray(t.Context(), s.person(t, "person-lead"))
	require.NoError(t, err)
	require.Len(t, drafts, 1)
	require.Contains(t, body(t, again, s.server.URL+drafts[0].Path+"?draft="+drafts[0].ID), "Typed too late")
	require.Contains(t, body(t, again, s.server.URL+"/tray"), "Edit the policy")
}

func TestPutPolicy_RefusesThePastAndWhatHasChangedMeanwhile(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.person(t, "person-lead")
	ours := policyOf(t, "[need-daily]\nevery = \"12h\"\n")
	was, now := audit.DefaultPolicy().Name(), s.app.Desk.Now()
	put := func(p desk.NewPolicy) error { return s.app.Desk.PutPolicy(t.Context(), lead, p) }
	require.True(t, fault.Is(put(desk.NewPolicy{Policy: ours, From: now - 1, Against: was}), fault.Invalid))
	require.True(t, fault.Is(put(desk.NewPolicy{Policy: ours, From: now + 400*24*60, Against: was}), fault.Invalid))
	require.True(t, fault.Is(put(desk.NewPolicy{Policy: ours, Against: "another"}), fault.Conflict))
	require.True(t, fault.Is(put(desk.NewPolicy{Policy: audit.DefaultPolicy(), Against: was}), fault.Invalid))
	require.True(t, fault.Is(s.app.Desk.PutPolicy(t.Context(), s.person(t, "person-administrator"), desk.NewPolicy{Policy: ours, Against: was}), fault.Forbidden))
	require.Equal(t, was, s.inForce(t).Policy.Name())

	require.NoError(t, put(desk.NewPolicy{Policy: ours, From: now + 60, Against: was}))
	require.Equal(t, was, s.inForce(t).Policy.Name(), "not yet")
	s.now = s.now.Add(time.Hour)
	require.Equal(t, ours.Name(), s.inForce(t).Policy.Name())
	h, err := s.app.Desk.House(t.Context())
	require.NoError(t, err)
	require.Equal(t, ours.Name(), h.Rulebook.PolicyAt(now+60).Name())
	require.Equal(t, was, h.Rulebook.PolicyAt(now+59).Name(), "what was due before is judged by the policy of its time")
}

func policyOf(t *testing.T, text string) *audit.Policy {
	t.Helper()
	p, err := audit.ParsePolicy("ours", []byte(text))
	require.NoError(t, err)
	return p
}

func TestPolicy_ReturningToAnEarlierOneOnlyTakesItInHand(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	person, lead := s.person(t, "person-lead"), s.client(t, account.Lead)
	ours := policyOf(t, "[need-daily]\nevery = \"12h\"\n")
	require.NoError(t, s.app.Desk.PutPolicy(t.Context(), person, desk.NewPolicy{Policy: ours, Against: audit.DefaultPolicy().Name()}))
	status, to := post(t, lead, s.server.URL+"/policy/edit/from/0", nil)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/policy/edit/trial", to)
	require.Equal(t, ours.Name(), s.inForce(t).Policy.Name())
	inHand, err := s.app.Desk.PolicyEdit(t.Context(), person)
	require.NoError(t, err)
	require.Equal(t, audit.DefaultPolicy().Name(), inHand.Policy.Name())
	compared := body(t, lead, s.server.URL+"/policy/history?before=0&after="+strconv.FormatInt(s.inForce(t).Seq, 10))
	require.Contains(t, compared, `<ins>every = &#34;12h&#34;</ins>`)
}

func TestPolicyFileOfTheServer_DoesNotUndoWhatAPersonPutInForce(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	file := []byte("[need-daily]\nevery = \"12h\"\n")
	start := func(text []byte) bool {
		changed, err := s.app.Desk.SetPolicy(t.Context(), desk.System(), text)
		require.NoError(t, err)
		return changed
	}
	require.True(t, start(file))
	require.False(t, start(file))
	ours := policyOf(t, "[need-daily]\nevery = \"8h\"\n")
	require.NoError(t, s.app.Desk.PutPolicy(t.Context(), s.person(t, "person-lead"), desk.NewPolicy{Policy: ours, Against: s.inForce(t).Policy.Name()}))
	require.False(t, start(file), "started again with the same file")
	require.Equal(t, ours.Name(), s.inForce(t).Policy.Name())
	require.True(t, start([]byte("[need-daily]\nevery = \"6h\"\n")), "the file has changed")
}

// A trial is the two assessments, no more: each side says what the compliance
// of the same weeks says under that policy, asked for on its own.
func TestTryPolicy_AgreesWithTheComplianceUnderEach(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.now = s.now.Add(5 * 24 * time.Hour)
	lead := s.person(t, "person-lead")
	ours := policyOf(t, "[review-overdue]\nevery = \"8h\"\n[dwell-check]\non = false\n[small-gauge-in-elbow-crease]\non = false\n")
	trial, err := s.app.Desk.TryPolicy(t.Context(), lead, desk.TrialQuestion{Policy: ours, Weeks: 1})
	require.NoError(t, err)
	for _, side := range []struct {
		policy *audit.Policy
		of     func(desk.TriedRule) desk.Group
	}{
		{audit.DefaultPolicy(), func(r desk.TriedRule) desk.Group { return r.Before }},
		{ours, func(r desk.TriedRule) desk.Group { return r.After }},
	} {
		c, err := s.app.Desk.Compliance(t.Context(), lead, desk.PeriodQuestion{Period: trial.Period, At: trial.Period.Until, Trial: side.policy})
		require.NoError(t, err)
		require.NotEmpty(t, c.Groups)
		want, got := map[line.Rule]desk.Group{}, map[line.Rule]desk.Group{}
		for _, g := range c.Groups {
			want[g.Rule] = g
		}
		for _, r := range trial.Rules {
			if g := side.of(r); g.Count.Lines > 0 {
				got[r.Rule] = g
			}
		}
		require.Equal(t, want, got)
	}
	rules := map[line.Rule]desk.TriedRule{}
	for _, r := range trial.Rules {
		rules[r.Rule] = r
	}
	thin := rules[audit.SmallGaugeInElbowCrease]
	require.Equal(t, 1, thin.Sum.Lost)
	require.Len(t, thin.Examples, 1)
	require.Equal(t, line.ID("line-1"), thin.Examples[0].Of.ID)
	require.Len(t, trial.Wards, 1)
	looks := trial.Wards[0]
	require.Equal(t, 14, looks.After.Shifts, "two shifts a day")
	require.Equal(t, rules[audit.ReviewOverdue].Sum.DutiesAfter, looks.After.Due)
	require.InDelta(t, float64(looks.After.Due)/14, looks.After.PerShift(), 1e-9)

	same, err := s.app.Desk.TryPolicy(t.Context(), lead, desk.TrialQuestion{Policy: audit.DefaultPolicy(), Weeks: 1})
	require.NoError(t, err)
	require.Zero(t, same.Gained+same.Lost)
	for _, r := range same.Rules {
		require.False(t, r.Changed(), r.Rule)
		require.Equal(t, r.Before, r.After, r.Rule)
	}
	_, err = s.app.Desk.TryPolicy(t.Context(), s.person(t, "person-administrator"), desk.TrialQuestion{Policy: ours, Weeks: 1})
	require.True(t, fault.Is(err, fault.Forbidden))
}

func TestPolicyPage_ShowsWhichWardsDifferAndHow(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	require.NotContains(t, body(t, lead, s.server.URL+"/policy"), "Alder")
	require.NoError(t, s.app.Desk.SetWard(t.Context(), desk.System(), line.Ward{
		Ward: "alder", Name: "Alder", Zone: "Europe/London", Shifts: []line.ShiftTime{7 * 60, 15 * 60, 23 * 60}, Every: 4 * 60,
	}))
	page := body(t, lead, s.server.URL+"/policy")
	require.Contains(t, page, "Alder")
	require.Contains(t, page, "07:00, 15:00, 23:00")
	require.Contains(t, page, "every 4 h")
}
