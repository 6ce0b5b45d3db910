package app_test

import (
	"context"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
)

// browser opens a phone-sized page, or skips where there is no browser; with
// CI set a missing browser is a failure.
func browser(t testing.TB) context.Context {
	t.Helper()
	return browserFor(t, 90*time.Second)
}

// browserFor is a browser that is given so long.
func browserFor(t testing.TB, limit time.Duration) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		require.Empty(t, os.Getenv("CI"), "the browser tests need chromium")
		t.Skip("there is no chromium: the browser tests are skipped")
	}
	if testing.Short() {
		t.Skip("the browser tests are not short")
	}
	options := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(path), chromedp.Headless, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.WindowSize(390, 844),
	}
	allocated, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(allocated)
	t.Cleanup(cancel)
	ctx, end := context.WithTimeout(ctx, limit)
	t.Cleanup(end)
	return ctx
}

func signIn(t *testing.T, ctx context.Context, s *scene, role account.Role) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx,
		chromedp.Navigate(s.server.URL+"/sign-in"),
		chromedp.SendKeys(chromedp.CSS(`[name="sign_in"]`), string(role)),
		chromedp.SendKeys(chromedp.CSS(`[name="passphrase"]`), passphrase),
		chromedp.Click(chromedp.CSS(`main form button`)),
		chromedp.WaitVisible(chromedp.CSS(`form[action="/sign-out"]`)),
	))
}

func mainText(t *testing.T, ctx context.Context) string {
	t.Helper()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("main").innerText`))
	require.NoError(t, err)
	return text
}

func TestBrowser_ANursePlacesReviewsAndTakesOutALine(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	signIn(t, ctx, s, account.Nurse)
	tick := func(name, value string) {
		_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`(() => { document.querySelector('[name="`+name+`"][value="`+value+`"]').click(); return true })()`))
		require.NoError(t, err, "%s %s", name, value)
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/patients/patient-1/place"), chromedp.WaitVisible(chromedp.CSS("#advice"))))
	tick("site", "wrist")
	tick("side", "right")
	tick("gauge", "16")
	tick("asepsis", "full")
	// The advice comes from the server while the form is filled in.
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#advice .finding"))))
	require.Contains(t, mainText(t, ctx), "wrist")
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(".acts .btn.main")), chromedp.WaitVisible(chromedp.CSS("ol.entries"))))
	require.Contains(t, mainText(t, ctx), "16G")

	require.NoError(t, chromedp.Do(ctx,
		chromedp.Click(chromedp.CSS(`.head a[href$="/review"]`)), chromedp.WaitVisible(chromedp.CSS(`[name="nothing_wrong"]`)),
		chromedp.Click(chromedp.CSS(`[name="nothing_wrong"]`)), chromedp.WaitVisible(chromedp.CSS(`#ward-lines`)),
	))
	lines, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.querySelectorAll("#ward-lines .row[id^=line-]").length`))
	require.NoError(t, err)
	require.Equal(t, 2, lines)

	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/lines/line-1/remove"), chromedp.WaitVisible(chromedp.CSS(`[name="reason"]`))))
	tick("reason", "not-needed")
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("main form .btn.main")), chromedp.WaitVisible(chromedp.CSS("ol.entries"))))
	require.Contains(t, mainText(t, ctx), "Taken out")
}

func TestBrowser_ALeadSeesTheWorstLineInTheHospital(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	s.now = s.now.Add(40 * time.Hour)
	signIn(t, ctx, s, account.Lead)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/audit"), chromedp.WaitVisible(chromedp.CSS("table.data"))))
	first, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("table.data tbody tr").innerText`))
	require.NoError(t, err)
	require.Contains(t, first, "Alder")
	require.Contains(t, first, "No look recorded")
}

func TestBrowser_ADoctorSeesTheirOwnSuccess(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	signIn(t, ctx, s, account.Doctor)
	// The nurse recorded the line as the doctor's: it counts once the doctor says so.
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/my-record"), chromedp.Click(chromedp.CSS(`button[value="yes"]`)),
		chromedp.WaitVisible(chromedp.CSS("#title-by-site"))))
	require.Contains(t, mainText(t, ctx), "1 of 1, 100 %")
}

// What needs no vein asks for none, and a further attempt is by the same hand
// until somebody says otherwise.
func TestBrowser_ADoctorStopsBeforeSkin(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	signIn(t, ctx, s, account.Doctor)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/patients/patient-1/place"), chromedp.Click(chromedp.CSS("[data-add]"))))
	same, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`(() => {
		const [first, second] = document.querySelectorAll('[data-item] [name$=".operator"]');
		return first.value !== "" && first.value === second.value;
	})()`))
	require.NoError(t, err)
	require.True(t, same)

	vein, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`(() => {
		document.querySelector('[name="outcome"][value="before-skin"]').click();
		document.querySelector('[name="stopped"][value="no-vein"]').click();
		return document.querySelector(".bodypick").checkVisibility();
	})()`))
	require.NoError(t, err)
	require.False(t, vein)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(".acts .btn.main")), chromedp.WaitVisible(chromedp.CSS("ol.entries"))))
	require.Contains(t, mainText(t, ctx), "stopped before skin")
}
