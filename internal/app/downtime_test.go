package app_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

func TestDowntime_PrintsEveryWardsLinesWithBoxesToWriteIn(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	require.NoError(t, s.app.Desk.SetWard(t.Context(), desk.System(), line.Ward{Ward: "birch", Name: "Birch", Zone: "Europe/London", Beds: []string{"1"}}))
	nurse := s.client(t, account.Nurse)
	require.Contains(t, body(t, nurse, s.server.URL+"/wards"), `href="/downtime"`)
	page := body(t, nurse, s.server.URL+"/downtime")
	for _, said := range []string{"ward Alder", "ward Birch", "KD-204", "elbow crease", "nothing wrong", "known up to entry #", "Follow your local policy"} {
		require.Contains(t, page, said)
	}
}

func TestBackEntry_RecordsEachRowAsDoneThenByWhomThePaperNames(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	address := s.server.URL + "/wards/alder/back-entry"
	form := shown(body(t, nurse, address))
	require.Equal(t, "2026-03-04", form.Get("day"))
	set := func(row, what, clock, by string) {
		form.Set(row, what)
		form.Set(row+"-clock", clock)
		form.Set(row+"-by", by)
	}
	set("look.line-1", "seen", "12:05", "AB")
	form.Set("look.line-1-sign", "redness")
	set("removal.line-1", "phlebitis", "12:20", "CD")
	status, to := post(t, nurse, address, form)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/wards/alder", to)

	look := s.stored(t, line.ID(form.Get("look.line-1-id")))
	require.Equal(t, line.Review{Signs: line.SetOf(line.Redness)}, look.Body)
	require.Equal(t, s.app.Desk.Now()-185, look.Happened)
	require.Equal(t, line.Text("AB"), look.By)
	require.Equal(t, line.ID("person-nurse"), look.Author)
	require.Equal(t, s.now, look.Recorded)
	page := body(t, nurse, s.server.URL+"/lines/line-1")
	require.Contains(t, page, "done by CD, entered later from paper")

	// Who did it survives a correction of what was done.
	correct := s.server.URL + "/entries/" + string(look.ID) + "/correct"
	change := shown(body(t, nurse, correct))
	change.Add("sign", "pain")
	change.Set("why_corrected", "the paper says pain too")
	status, _ = post(t, nurse, correct, change)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, line.Text("AB"), s.stored(t, look.ID).By)
}

func TestBackEntry_KeepsWhatIsRefusedAndStoresTheRest(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.addLine(t, "patient-3", "line-3", "3", 300)
	nurse := s.client(t, account.Nurse)
	address := s.server.URL + "/wards/alder/back-entry"
	form := shown(body(t, nurse, address))
	// Taken out on the screen meanwhile, a look at it after that cannot be true.
	s.put(t, "out-1", "line-1", 100, line.Removal{Reason: line.NotNeeded})
	for row, clock := range map[string]string{"look.line-1": "14:30", "look.line-3": "14:31", "dressing.line-3": "14:32"} {
		form.Set(row, "intact")
		form.Set(row+"-clock", clock)
		form.Set(row+"-by", "AB")
	}
	form.Set("dressing.line-3", "film")
	form.Del("dressing.line-3-by")
	status, page := answerOf(t, nurse, address, form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "1 entry from paper is recorded.")
	kept := shown(page)
	require.Equal(t, "14:30", kept.Get("look.line-1-clock"), "its line is no longer on the ward's list")
	require.Equal(t, "film", kept.Get("dressing.line-3"))
	require.Empty(t, kept.Get("look.line-3-clock"), "what is stored is not sent again")
	require.Contains(t, page, `href="#dressing.line-3-by"`)
	require.Equal(t, line.KindReview, s.stored(t, line.ID(form.Get("look.line-3-id"))).Kind)

	kept.Set("dressing.line-3-by", "AB")
	kept.Del("look.line-1")
	kept.Del("look.line-1-clock")
	kept.Del("look.line-1-by")
	for range 2 { // the second answers like the first
		status, _ = post(t, nurse, address, kept)
		require.Equal(t, http.StatusSeeOther, status)
	}
	status, page = answerOf(t, nurse, address, url.Values{"day": {"2026-03-04"}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "Nothing is filled in yet.")
}

func TestBrowser_DowntimeSheetsStartAPageForEachWardAndBreakBetweenRows(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	require.NoError(t, s.app.Desk.SetWard(t.Context(), desk.System(), line.Ward{Ward: "birch", Name: "Birch", Zone: "Europe/London", Beds: []string{"1"}}))
	signIn(t, ctx, s, account.Nurse)
	pdf := printed(t, ctx, s.server.URL+"/downtime")
	require.Len(t, pdfPage.FindAllString(pdf, -1), 2, "a page for each ward")
	require.Regexp(t, `/MediaBox \[0 0 84[12](\.\d+)? 59[456]`, pdf)

	fillWard(t, s, 27)
	pdf = printed(t, ctx, s.server.URL+"/downtime")
	rows := rowsOnPages(pdf)
	require.GreaterOrEqual(t, len(rows), 29, "28 lines and the heading")
	split := 0
	for _, on := range rows {
		if len(on) > 1 {
			split++
		}
	}
	require.LessOrEqual(t, split, 1, "only the heading's row stands on several pages")
}
