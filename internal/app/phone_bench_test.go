package app_test

import (
	"context"
	"net/http/httptest"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
)

// The phone: a slow line, and a processor a quarter as fast as this machine's.
var slowLine = network.Conditions{Latency: 150, DownloadThroughput: 1.6e6 / 8, UploadThroughput: 1.6e6 / 8}

const (
	slowProcessor = 4
	phoneVisits   = 5
	phoneTaps     = 40 // twenty lines of two
)

func command[P, R any](c cdp.Command[P, R], params P) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, target *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, target, c, params)
		return chromedp.Void{}, err
	}
}

func onLine(conditions network.Conditions) chromedp.Action[chromedp.Void] {
	return command(network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{&conditions},
	})
}

// readable gives when a page had painted its largest text and read itself to
// the end, in ms from the start of the visit (W3C Paint Timing, Largest
// Contentful Paint).
const readable = `new Promise((tell) => {
	const painted = new PerformanceObserver((list) => {
		const at = list.getEntries().at(-1).startTime;
		setTimeout(() => tell(Math.max(at, performance.getEntriesByType("navigation")[0].domInteractive)), 300);
	});
	painted.observe({ type: "largest-contentful-paint", buffered: true });
})`

// scriptSent sums the bytes of script that a page fetched, as sent.
const scriptSent = `performance.getEntriesByType("resource").filter((r) => r.initiatorType === "script").reduce((n, r) => n + r.encodedBodySize, 0)`

// watchTaps notes the time from each tap to the next frame that is painted after it.
const watchTaps = `(() => {
	if (window.taps) return true;
	window.taps = [];
	addEventListener("click", (e) => {
		if (!e.isTrusted) return;
		requestAnimationFrame(() => { const c = new MessageChannel(); c.port1.onmessage = () => taps.push(performance.now() - e.timeStamp); c.port2.postMessage(0); });
	}, true);
	return true;
})()`

// nextTap is the middle of what the thumb presses on the stop that shows; none: nothing.
const nextTap = `(() => {
	const stop = document.querySelector("[data-stop]:not([hidden])");
	const target = stop?.querySelector('[data-is="' + stop.dataset.part + '"] :is(a.tap, button[data-said])');
	if (!target) return [];
	target.scrollIntoView({ block: "center" });
	const r = target.getBoundingClientRect();
	return [r.x + r.width / 2, r.y + r.height / 2];
})()`

// BenchmarkPhone shows the ward's board and walks the round on a throttled
// phone. Aims: the board readable in under 2 s at the first visit and 0.8 s
// later; a tap of the round answered in under 100 ms, with the line cut as
// well; under 40 kB of script.
func BenchmarkPhone(b *testing.B) {
	ctx := browser(b)
	file := filepath.Join(b.TempDir(), "demo.db")
	// Five minutes into the shift: hardly a line was looked at.
	now := time.Date(2026, 11, 25, 7, 35, 0, 0, time.UTC)
	_, err := app.MakeDemo(ctx, file, 1, now)
	require.NoError(b, err)
	a, err := app.New(ctx, app.Config{DB: file, Clock: func() time.Time { return now }})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, a.Close()) })
	server := httptest.NewServer(a.Handler)
	b.Cleanup(server.Close)
	do := func(steps ...chromedp.Action[chromedp.Void]) {
		b.Helper()
		require.NoError(b, chromedp.Do(ctx, steps...))
	}
	number := func(script string) float64 {
		b.Helper()
		n, err := chromedp.Run(ctx, chromedp.Evaluate[float64](script, chromedp.EvalAwaitPromise))
		require.NoError(b, err)
		return n
	}
	do(chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile),
		chromedp.Navigate(server.URL+"/sign-in"),
		chromedp.SendKeys(chromedp.CSS(`[name="sign_in"]`), "nurse.alder1"),
		chromedp.SendKeys(chromedp.CSS(`[name="passphrase"]`), app.DemoPassphrase),
		chromedp.Click(chromedp.CSS(`main form button`)), chromedp.WaitVisible(chromedp.CSS(`main section a`)))
	ward, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("main section h2 a").href`))
	require.NoError(b, err)

	do(command(network.Enable, network.EnableParams{}), onLine(slowLine),
		command(emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: slowProcessor}))
	for b.Loop() {
		var first, later []float64
		for range phoneVisits {
			do(chromedp.Navigate("about:blank"), command(network.ClearBrowserCache, cdp.Empty{}), chromedp.Navigate(ward))
			first = append(first, number(readable))
			do(chromedp.Navigate("about:blank"), chromedp.Navigate(ward))
			later = append(later, number(readable))
		}
		do(command(network.ClearBrowserCache, cdp.Empty{}), chromedp.Navigate(ward+"/round"))
		script := number(scriptSent)
		online := taps(b, ctx, phoneTaps/2)
		cut := slowLine
		cut.Offline = true
		do(onLine(cut))
		offline := taps(b, ctx, phoneTaps/2)
		do(onLine(slowLine))
		b.ReportMetric(median(first), "first-ms")
		b.ReportMetric(median(later), "later-ms")
		b.ReportMetric(worst(online), "tap-ms")
		b.ReportMetric(worst(offline), "cut-tap-ms")
		b.ReportMetric(float64(len(online)+len(offline)), "taps")
		b.ReportMetric(script/1000, "script-kB")
	}
	b.ReportMetric(0, "ns/op")
}

func worst(list []float64) float64 {
	most := 0.0
	for _, n := range list {
		most = max(most, n)
	}
	return most
}

// taps walks the round by so many taps, as far as it goes, and gives how long
// each waited for its answer on the screen, in ms.
func taps(b *testing.B, ctx context.Context, n int) []float64 {
	b.Helper()
	_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](watchTaps))
	require.NoError(b, err)
	var waited []float64
	for range n {
		time.Sleep(400 * time.Millisecond) // a second tap of a double tap counts for nothing
		at, err := chromedp.Run(ctx, chromedp.Evaluate[[]float64](nextTap))
		require.NoError(b, err)
		if len(at) == 0 {
			break
		}
		require.NoError(b, chromedp.Do(ctx,
			command(input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: "touchStart", TouchPoints: []*input.TouchPoint{{X: at[0], Y: at[1]}}}),
			command(input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: "touchEnd", TouchPoints: []*input.TouchPoint{}}),
		))
		time.Sleep(200 * time.Millisecond)
		took, err := chromedp.Run(ctx, chromedp.Evaluate[[]float64](`window.taps.splice(0)`))
		require.NoError(b, err)
		require.Len(b, took, 1, "one tap, one answer on the screen")
		waited = append(waited, took...)
	}
	return waited
}
