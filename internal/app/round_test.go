package app_test

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

var (
	shownStop = regexp.MustCompile(`<section class="stop" id="stop-([\w-]+)"[^>]*>`)
	hiddenTag = regexp.MustCompile(` hidden[ >]`)
)

// stopShown is the stop of a round's page that shows.
func stopShown(page string) string {
	for _, m := range shownStop.FindAllStringSubmatch(page, -1) {
		if !hiddenTag.MatchString(m[0]) {
			return m[1]
		}
	}
	return ""
}

// lookAt posts a look of the round and gives the page that follows.
func lookAt(t *testing.T, s *scene, c *http.Client, id line.ID, form url.Values) string {
	t.Helper()
	form.Set("entry", "look-"+string(id))
	form.Set("from", "round")
	status, to := post(t, c, s.server.URL+"/lines/"+string(id)+"/look", form)
	require.Equal(t, http.StatusSeeOther, status)
	return body(t, c, s.server.URL+to)
}

func TestRound_WalksInBedOrderAndIsTakenUpBySomeoneElse(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.addLine(t, "patient-3", "line-3", "3", 300)
	s.addLine(t, "patient-0", "line-0", "1", 300)
	nurse := s.client(t, account.Nurse)
	require.Contains(t, body(t, nurse, s.server.URL+"/wards/alder"), `href="/wards/alder/round"`)
	page := body(t, nurse, s.server.URL+"/wards/alder/round")
	require.Equal(t, "line-0", stopShown(page))
	require.Contains(t, page, "3 of 3 left")
	page = lookAt(t, s, nurse, "line-0", url.Values{"nothing_wrong": {"1"}})
	require.Equal(t, "line-1", stopShown(page), "bed 2 comes next")
	require.Contains(t, page, "Undo")
	require.Contains(t, page, "2 of 3 left")

	doctor := s.client(t, account.Doctor)
	page = body(t, doctor, s.server.URL+"/wards/alder/round")
	require.Equal(t, "line-1", stopShown(page), "what is left follows from the record")
	require.NotContains(t, page, "action=\"/entries/look-line-0/undo\"")
	page = lookAt(t, s, doctor, "line-1", url.Values{"why": {"off-ward"}})
	require.Equal(t, "line-3", stopShown(page))
	page = lookAt(t, s, doctor, "line-3", url.Values{"nothing_wrong": {"1"}})
	require.Equal(t, "end", stopShown(page))
	require.Contains(t, page, "0 of 3 left")
	require.Contains(t, page, "Not seen 15:10: ")
	require.Contains(t, page, "Any cannula not on this list?")
	require.Contains(t, page, "/patients/patient-1/place?when=unknown")

	_, to := post(t, doctor, s.server.URL+"/entries/look-line-3/undo", url.Values{"to": {"/wards/alder/round?line=line-3"}})
	page = body(t, doctor, s.server.URL+to)
	require.Equal(t, "line-3", stopShown(page))
	require.Contains(t, page, "1 of 3 left", "what was undone is left again")
}

func TestRound_NamesWhoWasMissed(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.addLine(t, "patient-3", "line-3", "3", 300)
	nurse := s.client(t, account.Nurse)
	lookAt(t, s, nurse, "line-1", url.Values{"nothing_wrong": {"1"}})
	page := body(t, nurse, s.server.URL+"/wards/alder/round?end=1")
	require.Equal(t, "end", stopShown(page))
	require.Regexp(t, `No look recorded yet in this shift</h3><ul class="beds"><li data-line="line-3">`, page)
}

// definitions.md, Looks and shifts: the next shift asks for a look of its own;
// a placement in the last six hours of a shift meets that shift's.
func TestRound_AsksForEachLineOnceAShift(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.person(t, "person-nurse")
	left := func() (ids []line.ID) {
		round, err := s.app.Desk.Round(t.Context(), nurse, "alder")
		require.NoError(t, err)
		for _, stop := range round.Left() {
			ids = append(ids, stop.Line.ID)
		}
		return ids
	}
	s.addLine(t, "patient-3", "line-3", "3", 30) // 14:40, and the shift ends at 19:30
	require.Equal(t, []line.ID{"line-1"}, left())
	s.put(t, "look-1", "line-1", 0, line.Review{})
	require.Empty(t, left())
	s.now = time.Date(2026, 3, 4, 19, 30, 0, 0, time.UTC)
	require.Equal(t, []line.ID{"line-1", "line-3"}, left())
	s.put(t, "away", "line-1", 0, line.NotSeen{Why: line.OffWard, Returns: s.app.Desk.Now() + 60})
	require.Equal(t, []line.ID{"line-3"}, left())
	s.now = s.now.Add(3 * time.Hour) // two hours after the return
	require.Equal(t, []line.ID{"line-1", "line-3"}, left())
	s.put(t, "watch", "", 0, line.Facts{Watches: []line.Vigil{{Why: line.WatchSedated}}})
	s.put(t, "look-2", "line-1", 0, line.Review{})
	require.Equal(t, []line.ID{"line-3"}, left())
}

// tap presses what a person would touch next, and waits as long as a quick hand.
func tap(t *testing.T, ctx context.Context, selector string) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(selector))), selector)
	time.Sleep(400 * time.Millisecond)
}

const visibleStop = `.stop:not([hidden]) `

func TestBrowser_TwentyLinesWithNothingWrongTakeFortyTaps(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	for i := range 19 {
		s.addLine(t, fmt.Sprintf("many-%02d", i), line.ID(fmt.Sprintf("many-line-%02d", i)), fmt.Sprintf("A%d", i), 300)
	}
	signIn(t, ctx, s, account.Nurse)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/wards/alder/round"), chromedp.WaitVisible(chromedp.CSS(visibleStop+"a.tap"))))
	_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`(() => {
		sessionStorage.taps = 0; sessionStorage.slowest = 0;
		addEventListener("pointerdown", () => sessionStorage.taps++);
		addEventListener("click", () => {
			const from = performance.now();
			requestAnimationFrame(() => setTimeout(() => { sessionStorage.slowest = Math.max(sessionStorage.slowest, performance.now() - from); }));
		}, true);
		return true;
	})()`))
	require.NoError(t, err)
	began := time.Now()
	for range 20 {
		tap(t, ctx, visibleStop+`[data-is="whose"] a.tap`)
		tap(t, ctx, visibleStop+`[data-is="found"] button.tap`)
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#stop-end"))))
	took := time.Since(began)
	require.Contains(t, mainText(t, ctx), "0 of 20 left")
	taps, err := chromedp.Run(ctx, chromedp.Evaluate[string](`sessionStorage.taps`))
	require.NoError(t, err)
	require.Equal(t, "40", taps)
	slowest, err := chromedp.Run(ctx, chromedp.Evaluate[string](`sessionStorage.slowest`))
	require.NoError(t, err)
	t.Logf("20 lines, 40 taps with 400 ms between them in %.1f s; the slowest tap was drawn after %s ms", took.Seconds(), slowest)
	round, err := s.app.Desk.Round(t.Context(), s.person(t, "person-nurse"), "alder")
	require.NoError(t, err)
	require.Empty(t, round.Left())
	require.Len(t, round.Stops, 20)
}

// leftOf waits until so many lines of the round are left in the record.
func leftOf(t *testing.T, s *scene, n int) {
	t.Helper()
	require.Eventually(t, func() bool {
		round, err := s.app.Desk.Round(t.Context(), s.person(t, "person-nurse"), "alder")
		return err == nil && len(round.Left()) == n
	}, 20*time.Second, 50*time.Millisecond, "%d left", n)
}

func TestBrowser_ARoundByKeyboardGoesOnWhileTheServerCannotBeReached(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	s.addLine(t, "patient-3", "line-3", "3", 300)
	signIn(t, ctx, s, account.Nurse)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/wards/alder/round"), chromedp.WaitVisible(chromedp.CSS("#stop-line-1 a.tap"))))
	press := func(keys string, options ...chromedp.KeyOption) {
		require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(keys, options...)))
		time.Sleep(400 * time.Millisecond)
	}
	js := func(code string) {
		_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`(() => { `+code+`; return true; })()`))
		require.NoError(t, err)
	}
	press(kb.ArrowRight)
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#stop-line-3"))))
	press(kb.ArrowLeft)

	js(`const real = fetch; window.cut = true; window.fetch = (...a) => cut ? Promise.reject(new TypeError("cut")) : real(...a)`)
	press(kb.Enter) // this patient, this arm
	press(kb.Enter) // nothing wrong
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#stop-line-3 a.tap")), chromedp.WaitVisible(chromedp.CSS("[data-unsent] .bad"))))
	require.Contains(t, mainText(t, ctx), "1 of 2 left")
	leftOf(t, s, 2) // the record does not have it yet, and the page says so
	js(`window.cut = false; dispatchEvent(new Event("online"))`)
	leftOf(t, s, 1)
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitNotPresent(chromedp.CSS("[data-unsent] .bad"))))

	press("z", chromedp.KeyModifiers(chromedp.ModifierCtrl))
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#stop-line-1 a.tap"))))
	require.Contains(t, mainText(t, ctx), "2 of 2 left")
	leftOf(t, s, 2)
}

// What the server refuses is shown as it answers, with what was typed.
func TestBrowser_ALookRefusedOnTheRoundIsShown(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	s.addLine(t, "patient-3", "line-3", "3", 300)
	signIn(t, ctx, s, account.Nurse)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/wards/alder/round"), chromedp.WaitVisible(chromedp.CSS("#stop-line-1 a.tap"))))
	s.put(t, "out-1", "line-1", 10, line.Removal{Reason: line.NotNeeded})
	tap(t, ctx, visibleStop+`[data-is="whose"] a.tap`)
	tap(t, ctx, visibleStop+`[data-is="found"] button.tap`)
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS(".note.bad"))))
	require.Contains(t, mainText(t, ctx), "recorded as out")
}
