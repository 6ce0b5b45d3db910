package app_test

import (
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

var (
	inputs  = regexp.MustCompile(`<input([^>]*)>`)
	areas   = regexp.MustCompile(`(?s)<textarea([^>]*)>(.*?)</textarea>`)
	selects = regexp.MustCompile(`(?s)<select([^>]*)>(.*?)</select>`)
	choices = regexp.MustCompile(`<option([^>]*)>`)
	models  = regexp.MustCompile(`(?s)<template.*?</template>`)
	named   = regexp.MustCompile(` name="([^"]*)"`)
	valued  = regexp.MustCompile(` value="([^"]*)"`)
	ticked  = regexp.MustCompile(` (checked|selected)`)
	kinds   = regexp.MustCompile(` type="(radio|checkbox)"`)
)

func first(re *regexp.Regexp, text string) string {
	if m := re.FindStringSubmatch(text); m != nil {
		return html.UnescapeString(m[1])
	}
	return ""
}

// shown is what a browser would post of the page's form if nobody touched it.
func shown(page string) url.Values {
	page = models.ReplaceAllString(page, "")
	form := url.Values{}
	for _, m := range inputs.FindAllStringSubmatch(page, -1) {
		if name := first(named, m[1]); name != "" && (!kinds.MatchString(m[1]) || ticked.MatchString(m[1])) {
			form.Add(name, first(valued, m[1]))
		}
	}
	for _, m := range areas.FindAllStringSubmatch(page, -1) {
		form.Add(first(named, m[1]), html.UnescapeString(m[2]))
	}
	for _, m := range selects.FindAllStringSubmatch(page, -1) {
		for _, o := range choices.FindAllStringSubmatch(m[2], -1) {
			if ticked.MatchString(o[1]) {
				form.Add(first(named, m[1]), first(valued, o[1]))
			}
		}
	}
	return form
}

func answerOf(t *testing.T, c *http.Client, address string, form url.Values) (int, string) {
	t.Helper()
	a, err := c.PostForm(address, form)
	require.NoError(t, err)
	text, err := io.ReadAll(a.Body)
	require.NoError(t, err)
	require.NoError(t, a.Body.Close())
	return a.StatusCode, string(text)
}

// A correction that changes one thing keeps all others as they were recorded.
func TestCorrection_ThatChangesNothingKeepsTheWholeEntry(t *testing.T) {
	t.Parallel()
	three := 3
	at := line.MinuteOf(time.Date(2026, 3, 4, 13, 0, 0, 0, time.UTC))
	for name, e := range map[string]line.Entry{
		"length":            {Line: "line-2", Body: line.Occasion{Outcome: line.WithLine, Site: line.Wrist, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, LengthMM: 32, Attempts: []line.Attempt{{Site: line.Wrist, Side: line.Left, Gauge: 20, Operator: line.Operator{Account: "person-doctor"}}}}},
		"other site tried":  {Line: "line-2", Body: line.Occasion{Outcome: line.WithLine, Site: line.Wrist, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Attempts: []line.Attempt{{Site: line.ElbowCrease, Side: line.Right, Gauge: 18, Failed: true, Fault: line.NoFlashback, Operator: line.Operator{Written: "AB"}}, {Site: line.Wrist, Side: line.Left, Gauge: 20, Operator: line.Operator{Account: "person-doctor"}}}}},
		"vein and guide":    {Line: "line-2", Body: line.Occasion{Outcome: line.WithLine, Site: line.Wrist, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Supervisor: line.Operator{Account: "person-lead"}, Attempts: []line.Attempt{{Site: line.Wrist, Side: line.Left, Gauge: 20, Difficulty: line.SetOf(line.NotDifficult), Operator: line.Operator{Account: "person-doctor"}}}}},
		"guide as written":  {Line: "line-2", Body: line.Occasion{Outcome: line.WithoutLine, Site: line.Wrist, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Supervisor: line.Operator{Written: "Dr V"}, Attempts: []line.Attempt{{Site: line.Wrist, Side: line.Left, Gauge: 20, Failed: true, Fault: line.Spasm, Difficulty: line.SetOf(line.VeinNotVisible, line.VeinSmall)}}}},
		"only the day":      {Line: "line-2", Precision: line.ToDay, Body: line.Occasion{Outcome: line.WithLine, Site: line.Wrist, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Attempts: []line.Attempt{{Site: line.Wrist, Side: line.Left, Gauge: 20, Operator: line.Operator{Account: "person-doctor"}}}}},
		"before skin":       {Line: "line-2", Body: line.Occasion{Outcome: line.BeforeSkin, Stopped: line.NoVeinFound, Operator: line.Operator{Account: "person-doctor"}, Note: "cold hands"}},
		"number only":       {Line: "line-2", Body: line.Occasion{Outcome: line.WithLine, Site: line.Wrist, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Count: 3, Operator: line.Operator{Account: "person-doctor"}}},
		"kept, not used":    {Line: "line-1", Body: line.Review{Dressing: line.SetOf(line.Intact), KeepUntil: at + 24*60}},
		"review score":      {Line: "line-1", Body: line.Review{Dressing: line.SetOf(line.Intact), Score: &three, Scale: "vip"}},
		"no site":           {Line: "line-2", Body: line.Occasion{Outcome: line.WithoutLine, Attempts: []line.Attempt{{Failed: true, Fault: line.NoFlashback}}}},
		"line, little told": {Line: "line-2", Body: line.Occasion{Outcome: line.WithLine, Site: line.Wrist}},
		"admission":         {Subject: "patient-2", Body: line.Admission{Ward: "alder", Bed: "3", Reference: "KD-205"}},
		"no bed":            {Subject: "patient-2", Body: line.Admission{Ward: "alder"}},
		"transfer":          {Body: line.Transfer{Ward: "alder", Bed: "attic"}},
		"discharge":         {Body: line.Discharge{LeftIn: []line.ID{"line-1"}, Why: "goes home with it"}},
		"plain discharge":   {Body: line.Discharge{}},
		"facts": {Body: line.Facts{
			Group:   line.Child,
			Limits:  []line.Limit{{Limb: line.LeftArm, Why: line.Fistula}, {Limb: line.RightLeg, Why: line.DVT, Until: at + 400*60}, {Limb: line.RightArm, Why: line.Burnt, Lifted: true}},
			Watches: []line.Vigil{{Why: line.WatchSedated, Until: at + 61}, {Why: line.WatchChild, Lifted: true}},
			Need:    &line.Need{MillilitresPerHour: 125, For: line.ForFluids},
		}},
		"not seen":          {Line: "line-1", Body: line.NotSeen{Why: line.OffWard, Returns: at + 61}},
		"not seen, patient": {Body: line.NotSeen{Why: line.OffWard}},
		"dressing":          {Line: "line-1", Body: line.Dressing{Note: "no word of the material"}},
		"justification":     {Line: "line-1", Body: line.Justification{Rule: "across-joint", Clinician: "A. Registrar", Why: "no other vein", Until: at + 90*60 + 1}},
		"cannot be had":     {Line: "line-1", Body: line.Justification{Rule: "record-incomplete", Unobtainable: true}},
		"infection":         {Line: "line-1", Body: line.InfectionOutcome{Outcome: line.InfectionConfirmed, Note: "culture back"}},
		"follow-up":         {Line: "line-1", Body: line.FollowUp{Rule: "review-overdue", Note: "spoken to the ward"}},
		"removal score":     {Line: "line-1", Body: line.Removal{Reason: line.NotNeeded, Score: &three, Scale: "vip"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			who := account.Nurse
			if e.Body.Kind() == line.KindInfection || e.Body.Kind() == line.KindFollowUp {
				who = account.Lead
			}
			nurse := s.client(t, who)
			e.ID, e.Kind, e.Happened = "first-1", e.Body.Kind(), at
			if e.Subject == "" {
				e.Subject = "patient-1"
			}
			if e.Precision == 0 {
				e.Precision = line.ToMinute
			} else {
				e.Happened = line.MinuteOf(time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC))
			}
			_, err := s.app.Desk.Record(t.Context(), s.person(t, line.ID("person-"+who)), desk.Act{Entries: []line.Entry{e}})
			require.NoError(t, err)
			form := shown(body(t, nurse, s.server.URL+"/entries/first-1/correct"))
			form.Set("why_corrected", "looked again")
			form.Del("repeat")
			status, text := answerOf(t, nurse, s.server.URL+"/entries/first-1/correct", form)
			require.Equal(t, http.StatusSeeOther, status, first(regexp.MustCompile(`(?s)(class="errors.*?</div>)`), text))
			now, _, err := s.app.Desk.Latest(t.Context(), s.person(t, "person-nurse"), "first-1")
			require.NoError(t, err)
			require.Equal(t, e.Body, now.Body)
			require.Equal(t, e.Precision, now.Precision)
			require.Equal(t, e.Happened, now.Happened)
		})
	}
}

// What is counted from now is the same when the same form arrives again.
func TestHazard09_FormsSentTwiceAreStoredOnce(t *testing.T) {
	t.Parallel()
	for name, f := range map[string]struct {
		path string
		form url.Values
	}{
		"minutes ago":   {"/lines/line-1/review", url.Values{"when": {"ago"}, "when-ago": {"10"}, "state": {"intact"}}},
		"kept, hours":   {"/lines/line-1/review", url.Values{"when": {"now"}, "state": {"intact"}, "keep_hours": {"24"}}},
		"back in hours": {"/patients/patient-1/not-seen", url.Values{"when": {"now"}, "why": {"off-ward"}, "returns_hours": {"2"}}},
		"not known":     {"/patients/patient-1/place", url.Values{"line": {"line-9"}, "when": {"unknown"}, "outcome": {"line"}, "site": {"wrist"}, "side": {"left"}, "gauge": {"20"}, "asepsis": {"full"}, "attempt.1.result": {"placed"}}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			nurse := s.client(t, account.Nurse)
			f.form.Set("entry", "twice-1")
			status, text := answerOf(t, nurse, s.server.URL+f.path, f.form)
			require.Equal(t, http.StatusSeeOther, status, first(regexp.MustCompile(`(?s)(class="errors.*?</div>)`), text))
			s.now = s.now.Add(2 * time.Minute)
			status, _ = answerOf(t, nurse, s.server.URL+f.path, f.form)
			require.Equal(t, http.StatusSeeOther, status)
		})
	}
}

// Each error of the summary leads to a control that is there.
func TestErrors_LeadToAField(t *testing.T) {
	t.Parallel()
	links := regexp.MustCompile(`href="#([^"]+)"`)
	for name, f := range map[string]struct {
		path string
		form url.Values
	}{
		"intact and not":      {"/lines/line-1/review", url.Values{"when": {"now"}, "state": {"intact", "damp"}}},
		"future correction":   {"/entries/entry-2/correct", url.Values{"when": {"typed"}, "when-date": {"2026-03-05"}, "when-clock": {"09:00"}, "why_corrected": {"x"}, "seen": {"entry-2"}, "outcome": {"line"}, "site": {"wrist"}, "side": {"left"}, "gauge": {"20"}, "asepsis": {"full"}, "attempt.1.result": {"placed"}}},
		"end before start":    {"/lines/line-1/review", url.Values{"when": {"now"}, "state": {"intact"}, "keep_hours": {"0"}}},
		"stopped, no reason":  {"/patients/patient-1/place", url.Values{"line": {"line-9"}, "when": {"now"}, "outcome": {"before-skin"}}},
		"last attempt failed": {"/patients/patient-1/place", url.Values{"line": {"line-9"}, "when": {"now"}, "outcome": {"line"}, "site": {"wrist"}, "side": {"left"}, "gauge": {"20"}, "asepsis": {"full"}, "attempt.4.result": {"no-flashback"}}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			f.form.Set("entry", "wrong-1")
			status, text := answerOf(t, s.client(t, account.Nurse), s.server.URL+f.path, f.form)
			require.Equal(t, http.StatusUnprocessableEntity, status)
			for _, l := range links.FindAllStringSubmatch(text, -1) {
				require.True(t, strings.Contains(text, `id="`+l[1]+`"`), "nothing is called %s", l[1])
			}
			t.Log(links.FindAllString(text, -1))
		})
	}
}

// A correction typed when the session had ended is given back as typed.
func TestDraft_OfACorrectionIsGivenBack(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	for _, what := range []string{"correct", "void"} {
		require.NoError(t, s.app.Desk.KeepDraft(t.Context(), "person-nurse", "/entries/entry-2/"+what, url.Values{"entry": {"c-1"}, "seen": {"entry-2"}, "why": {"typed reason"}, "why_corrected": {"typed reason"}}))
	}
	drafts, err := s.app.Desk.Tray(t.Context(), s.person(t, "person-nurse"))
	require.NoError(t, err)
	for _, d := range drafts {
		t.Run(d.Path, func(t *testing.T) {
			require.True(t, strings.Contains(body(t, nurse, s.server.URL+d.Path+"?draft="+d.ID), "typed reason"))
		})
	}
}

// What is due can be answered for 24 hours at most; the form says so.
func TestJustification_OfADutyEndsWithinADay(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	status, _ := answerOf(t, s.client(t, account.Doctor), s.server.URL+"/lines/line-1/justify", url.Values{
		"entry": {"j-1"}, "when": {"now"}, "rule": {"review-overdue"}, "clinician": {"Dr A"}, "why": {"away"}, "hours": {"300"},
	})
	require.Equal(t, http.StatusUnprocessableEntity, status)
}

// Without script, the findings can be asked for before anything is recorded.
func TestPlace_CanBeCheckedWithoutScript(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	require.True(t, strings.Contains(body(t, s.client(t, account.Nurse), s.server.URL+"/patients/patient-1/place"), `name="check"`))
}

// A correction that arrives again is stored once, and the newest still stands.
func TestCorrection_SentTwiceIsStoredOnce(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	form := shown(body(t, nurse, s.server.URL+"/entries/entry-2/correct"))
	form.Del("repeat")
	form.Set("why_corrected", "read again")
	form.Set("gauge", "20")
	for range 2 {
		status, _ := answerOf(t, nurse, s.server.URL+"/entries/entry-2/correct", form)
		require.Equal(t, http.StatusSeeOther, status)
		s.now = s.now.Add(2 * time.Minute)
	}
	now, seen, err := s.app.Desk.Latest(t.Context(), s.person(t, "person-nurse"), "entry-2")
	require.NoError(t, err)
	require.Equal(t, line.ID(form.Get("entry")), seen)
	require.IsType(t, line.Occasion{}, now.Body)
}

// A limb with a fistula takes a line only with a named clinician's reason.
func TestHazard11_AFistulaLimbAsksForTheClinician(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	status, _ := answerOf(t, nurse, s.server.URL+"/patients/patient-1/facts", url.Values{"entry": {"f-1"}, "when": {"now"}, "limb-0": {line.LeftArm.String()}, "limb-why-0": {line.Fistula.String()}})
	require.Equal(t, http.StatusSeeOther, status)
	form := url.Values{
		"entry": {"p-1"}, "line": {"line-9"}, "when": {"now"}, "outcome": {"line"}, "site": {"forearm"}, "side": {"left"}, "gauge": {"20"},
		"asepsis": {"full"}, "attempt.1.result": {"placed"}, "attempt.1.operator": {"person-nurse"},
	}
	status, text := answerOf(t, nurse, s.server.URL+"/patients/patient-1/place", form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.True(t, strings.Contains(text, `name="clinician_why"`))
	form.Set("clinician", "A. Registrar")
	status, text = answerOf(t, nurse, s.server.URL+"/patients/patient-1/place", form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.True(t, strings.Contains(text, `href="#clinician_why"`))
	form.Set("clinician_why", "no other vein found")
	for range 2 {
		status, _ = answerOf(t, nurse, s.server.URL+"/patients/patient-1/place", form)
		require.Equal(t, http.StatusSeeOther, status)
		s.now = s.now.Add(2 * time.Minute)
	}
}
