package app_test

import (
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/flow"
	"dwellbook/internal/line"
)

var tags = regexp.MustCompile(`<[^>]*>|\s+`)

// text is a page without its tags, with single spaces.
func text(page string) string {
	return regexp.MustCompile(` +`).ReplaceAllString(tags.ReplaceAllString(page, " "), " ")
}

func TestChooseSize_AnswersWithoutScriptAndWhileTyping(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	for _, role := range []account.Role{account.Nurse, account.Doctor, account.Lead} {
		c := s.client(t, role)
		page := body(t, c, s.server.URL+"/choose-size")
		require.Contains(t, page, `href="/choose-size" aria-current="page"`)
		require.Contains(t, text(page), "Needed: 2.08 mL/min (125 mL/h)", "a litre in eight hours")
		q := url.Values{"for": {"blood"}, "volume": {"300"}, "minutes": {"5"}, "fluid": {"blood"}, "pressure": {"300"}, "site": {"hand-dorsum"}}
		whole := body(t, c, s.server.URL+"/choose-size?"+q.Encode())
		part := body(t, c, s.server.URL+"/choose-size/answer?"+q.Encode())
		require.Contains(t, whole, part)
		require.NotContains(t, part, "<html")
		for _, says := range []string{
			"Needed: 60.0 mL/min", "whole blood at 22 °C", "a pressure bag at 300 mmHg", "In patients flows can be far lower", "16G in a small vein: back of hand",
			"less than needed", "wider than needed", "Where the pressure goes", "fourth-power law", "17G, 26G: the bore is not known", "house rule",
		} {
			require.Contains(t, text(part), says)
		}
		require.NotContains(t, part, "[")
	}
}

// ACR Manual on Contrast Media v9, 2013 (at second hand): 20G or larger from 3 mL/s on.
func TestChooseSize_TellsWhatInjectorsHaveGivenForContrast(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	page := text(body(t, s.client(t, account.Doctor), s.server.URL+"/choose-size?for=contrast&flow=3&unit=ml-s"))
	require.Contains(t, page, "Needed: 180 mL/min (3.00 mL/s). The thinnest that meets it, even at the low end of its range: 20G. May meet it: 22G, 24G.")
	require.NotContains(t, page, "Where the pressure goes")
}

func TestChooseSize_SaysAtTheFieldWhatCannotBeRead(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	c := s.client(t, account.Nurse)
	for field, value := range map[string]string{
		"for": "tea", "volume": "much", "minutes": "-5", "flow": "NaN", "fluid": "tea", "head": "1000", "pressure": "1e9", "tubing": "narrow", "site": "nose", "gauge": "19",
	} {
		q := url.Values{"for": {"fluids"}}
		q.Set(field, value)
		a, err := c.Get(s.server.URL + "/choose-size?" + q.Encode())
		require.NoError(t, err)
		require.NoError(t, a.Body.Close())
		require.Equal(t, http.StatusUnprocessableEntity, a.StatusCode, field)
		require.Contains(t, body(t, c, s.server.URL+"/choose-size?"+q.Encode()), `href="#`+field+`"`)
		require.Contains(t, body(t, c, s.server.URL+"/choose-size/answer?"+q.Encode()), `href="#`+field+`"`)
	}
}

// The flow on the hospital's own pack counts, also of a gauge that has no usual bore.
func TestChooseSize_TakesTheHospitalsOwnPacks(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	q := desk.SizeQuestion{For: line.ForFluids, Need: flow.PerHour(125), With: flow.StandardTest()}
	before, err := s.app.Desk.Sizes(t.Context(), s.person(t, "person-nurse"), q)
	require.NoError(t, err)
	_, err = s.app.Desk.SetPolicy(t.Context(), desk.System(), []byte("[rated_flow]\n20 = 54\n26 = 13\n"))
	require.NoError(t, err)
	after, err := s.app.Desk.Sizes(t.Context(), s.person(t, "person-nurse"), q)
	require.NoError(t, err)
	of := func(all *desk.Sizes, g line.Gauge) *desk.SizeRow {
		for i := range all.Rows {
			if all.Rows[i].Gauge == g {
				return &all.Rows[i]
			}
		}
		return nil
	}
	require.NotEqual(t, flow.MillilitresPerMinute(54), of(before, 20).Answer.Flow)
	require.InDelta(t, 54, float64(of(after, 20).Answer.Flow), 1e-9)
	require.True(t, of(before, 26).Unknown())
	require.InDelta(t, 13, float64(of(after, 26).Answer.Flow), 1e-9)
	require.Equal(t, line.Gauge(24), before.Fits)
	require.Equal(t, line.Gauge(26), after.Fits)
}

func TestPlace_AsksTheNeedOnceAndSaysWhichSizesMeetIt(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	address := s.server.URL + "/patients/patient-1/place"
	form := shown(body(t, nurse, address))
	form.Del("repeat")
	form.Del("check")
	for name, value := range map[string]string{
		"outcome": "line", "when": "now", "site": "forearm", "side": "right", "gauge": "24", "asepsis": "full",
		"attempt.1.result": "placed", "attempt.1.operator": "person-nurse", "need": "40", "need_unit": "ml-min", "need_for": "fluids",
	} {
		form.Set(name, value)
	}
	_, advice := answerOf(t, nurse, address+"/advice", form)
	// By gravity, without a connector: 22G 36, 20G 64, 18G 98 mL/min (Reddick 2011, at second hand).
	require.Contains(t, text(advice), "For 40.0 mL/min (fluids): 18G or wider meets it. May meet it: 20G.")
	require.Contains(t, text(advice), "needed: 40.0 mL/min", "the audit finds the same")
	form.Set("need", "fast")
	status, page := answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, `href="#need"`)

	form.Set("need", "40")
	status, to := post(t, nurse, address, form)
	require.Equal(t, http.StatusSeeOther, status)
	require.Contains(t, text(body(t, nurse, s.server.URL+to)), "needed: 40.0 mL/min")
	history, err := s.app.Desk.Patient(t.Context(), s.person(t, "person-nurse"), "patient-1")
	require.NoError(t, err)
	need, ok := audit.NeedAt(&history.Subject, s.app.Desk.Now())
	require.True(t, ok)
	require.Equal(t, line.Need{MillilitresPerHour: 2400, For: line.ForFluids}, need)

	// The next line need not say it again.
	require.Contains(t, text(body(t, nurse, address)), "For 40.0 mL/min (fluids)")
}

// BenchmarkSizes is the whole table: flows, verdicts, and what the policy says of each size at the site.
func BenchmarkSizes(b *testing.B) {
	a, err := app.New(b.Context(), app.Config{DB: filepath.Join(b.TempDir(), "record.db")})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, a.Close()) })
	q := desk.SizeQuestion{For: line.ForBlood, Need: 60, Volume: 300, With: flow.Transfusion.Usual(), Site: line.ElbowCrease}
	b.ReportAllocs()
	for b.Loop() {
		_, err := a.Desk.Sizes(b.Context(), desk.System(), q)
		require.NoError(b, err)
	}
}
