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

func TestVoid_SentTwiceIsStoredOnce(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	s.put(t, "look-1", "line-1", 100, line.Review{})
	address := s.server.URL + "/entries/look-1/void"
	form := shown(body(t, nurse, address))
	form.Set("why", "other arm")
	for range 2 {
		status, to := post(t, nurse, address, form)
		require.Equal(t, http.StatusSeeOther, status)
		require.Equal(t, "/patients/patient-1", to)
		s.now = s.now.Add(2 * time.Minute)
	}
	form.Set("why", "another reason")
	status, _ := post(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
}

func TestCorrection_IntoAFistulaLimbAsksForTheClinician(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	s.put(t, "limb-1", "", 299, line.Facts{Limits: []line.Limit{{Limb: line.RightArm, Why: line.Fistula}}})
	address := s.server.URL + "/entries/entry-2/correct"
	form := shown(body(t, nurse, address))
	form.Del("repeat")
	form.Del("check")
	form.Set("side", "right")
	form.Set("why_corrected", "wrong arm ticked")
	status, page := answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, `name="clinician_why"`)
	form.Set("clinician", "A. Registrar")
	form.Set("clinician_why", "no other vein found")
	for range 2 {
		status, _ = answerOf(t, nurse, address, form)
		require.Equal(t, http.StatusSeeOther, status)
		s.now = s.now.Add(2 * time.Minute)
	}
	require.Contains(t, body(t, nurse, s.server.URL+"/lines/line-1"), "A. Registrar")
}

// The way there also works for a correction that leaves the line where it lies.
func TestCorrection_InTheSameFistulaLimbAsksNobodyAgain(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	s.put(t, "limb-1", "", 10, line.Facts{Limits: []line.Limit{{Limb: line.LeftArm, Why: line.Fistula}}})
	form := shown(body(t, nurse, s.server.URL+"/entries/entry-2/correct"))
	form.Del("repeat")
	form.Set("why_corrected", "length")
	form.Set("length_mm", "32")
	status, _ := answerOf(t, nurse, s.server.URL+"/entries/entry-2/correct", form)
	require.Equal(t, http.StatusSeeOther, status)
}

func TestBeds_AreChosenFromTheWardsListWithWhoIsThere(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	require.NoError(t, s.app.Desk.SetWard(t.Context(), desk.System(), line.Ward{Ward: "birch", Name: "Birch", Zone: "Europe/London", Beds: []string{"B1", "B2"}}))
	nurse := s.client(t, account.Nurse)
	page := body(t, nurse, s.server.URL+"/wards/alder/admit")
	require.Regexp(t, `<option value="2">2: KD-204</option>`, page)
	require.Regexp(t, `<option value="3">3: nobody recorded</option>`, page)
	address := s.server.URL + "/patients/patient-1/transfer"
	page = body(t, nurse, address)
	require.Regexp(t, `<option value="2">2: this patient</option>`, page)

	// Another ward without its beds on the page: they are shown, nothing is recorded.
	form := shown(page)
	form.Set("ward", "birch")
	form.Set("bed", "3")
	form.Del("check")
	status, page := answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, `<option value="B2">`)
	form = shown(page)
	form.Set("bed", "B2")
	status, _ = answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusSeeOther, status)
	moved, err := s.app.Desk.Patient(t.Context(), s.person(t, "person-nurse"), "patient-1")
	require.NoError(t, err)
	require.Equal(t, "B2", moved.Patient.Bed)
}

func TestHazard12_ADischargeAsksOfEachLineHowItCameOut(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	address := s.server.URL + "/patients/patient-1/discharge"
	form := shown(body(t, nurse, address))
	form.Set("answer.line-1", "out")
	status, page := answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, `href="#reason.line-1"`)
	form.Set("reason.line-1", "phlebitis")
	form.Set("complete.line-1", "yes")
	for range 2 {
		status, _ = answerOf(t, nurse, address, form)
		require.Equal(t, http.StatusSeeOther, status)
		s.now = s.now.Add(2 * time.Minute)
	}
	page = body(t, nurse, s.server.URL+"/lines/line-1")
	require.Contains(t, page, "came out whole: yes")
	require.NotContains(t, page, "Taken out</dt><dd>discharged")
}

// Failed attempts show number and site to the ward; who, only to that person
// and to whoever recorded it.
func TestTimeline_NamesWhoFailedOnlyToThemAndTheRecorder(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.put(t, "tried-1", "line-2", 100, line.Occasion{
		Outcome: line.WithLine, Site: line.Wrist, Side: line.Right, Gauge: 20, Asepsis: line.AsepsisFull,
		Attempts: []line.Attempt{
			{Site: line.Forearm, Side: line.Right, Gauge: 20, Failed: true, Fault: line.VeinRolled, Operator: line.Operator{Account: "person-doctor"}},
			{Site: line.Wrist, Side: line.Right, Gauge: 20, Operator: line.Operator{Account: "person-nurse"}},
		},
	})
	for role, names := range map[account.Role]bool{account.Nurse: true, account.Doctor: true, account.Lead: false} {
		page := body(t, s.client(t, role), s.server.URL+"/lines/line-2")
		require.Contains(t, page, "attempt 1: ", role)
		require.Contains(t, page, "attempt 2: the line went in, by Somebody nurse", role)
		if names {
			require.Regexp(t, `attempt 1: [^<]*by Somebody doctor`, page, role)
		} else {
			require.NotContains(t, page, "by Somebody doctor", role)
		}
	}
}

func TestForms_SayAtTheFieldWhatCannotBeRead(t *testing.T) {
	t.Parallel()
	for name, f := range map[string]struct {
		path, field string
		form        url.Values
	}{
		"ward":     {"/patients/patient-1/transfer", "ward", url.Values{"when": {"now"}, "ward": {"nowhere"}, "bed_other": {"77"}}},
		"no bed":   {"/patients/patient-1/transfer", "bed", url.Values{"when": {"now"}, "ward": {"alder"}, "note": {"77"}}},
		"bed long": {"/wards/alder/admit", "bed", url.Values{"when": {"now"}, "bed_other": {"a bed with a very long name 77"}, "subject": {"patient-7"}}},
		"rule":     {"/lines/line-1/justify", "rule", url.Values{"rule": {"no-such-rule"}, "why": {"77"}, "hours": {"2"}, "clinician": {"Dr A"}}},
		"operator": {"/patients/patient-1/place", "attempt.1.operator", url.Values{
			"line": {"line-9"}, "when": {"now"}, "outcome": {"line"}, "site": {"wrist"}, "side": {"left"}, "gauge": {"20"}, "asepsis": {"full"},
			"attempt.1.result": {"placed"}, "attempt.1.operator": {"nobody-here"}, "note": {"77"},
		}},
		"sign": {"/lines/line-1/review", "sign", url.Values{"when": {"now"}, "sign": {"glowing"}, "note": {"77"}}},
		"need": {"/patients/patient-1/facts", "need", url.Values{"when": {"now"}, "need": {"fast"}, "limb-hours-0": {"77"}, "group": {"adult"}}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			f.form.Set("entry", "wrong-1")
			status, page := answerOf(t, s.client(t, account.Nurse), s.server.URL+f.path, f.form)
			require.Equal(t, http.StatusUnprocessableEntity, status)
			require.Contains(t, page, `href="#`+f.field+`"`)
			require.Contains(t, page, `id="`+f.field+`"`)
			if name != "no bed" && name != "need" {
				require.Contains(t, page, "77")
			}
		})
	}
}
