package app_test

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
	"dwellbook/web/static"
)

// The phone: a slow line, and a processor a quarter as fast as this machine's.
var slowLine = network.Conditions{Latency: 150, DownloadThroughput: 1.6e6 / 8, UploadThroughput: 1.6e6 / 8}

const (
	slowProcessor = 4
	atRest        = 4 * time.Second
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
	ctx := browserFor(b, 5*time.Minute)
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
	visit := func() float64 {
		b.Helper()
		do(chromedp.Navigate("about:blank"), chromedp.Sleep(atRest), chromedp.Navigate(ward))
		return number(readable)
	}
	for b.Loop() {
		var first, later []float64
		for range phoneVisits {
			do(command(network.ClearBrowserCache, cdp.Empty{}), command(storage.ClearDataForOrigin, storage.ClearDataForOriginParams{
				Origin: server.URL, StorageTypes: "service_workers,cache_storage,indexeddb,local_storage",
			}))
			first = append(first, visit())
			time.Sleep(atRest) // what it keeps for when there is no network comes last
			later = append(later, visit())
		}
		do(chromedp.Navigate(ward + "/round"))
		online := taps(b, ctx, phoneTaps/2)
		cut := slowLine
		cut.Offline = true
		do(onLine(cut))
		offline := taps(b, ctx, phoneTaps/2)
		do(onLine(slowLine))
		b.ReportMetric(median(first), "first-ms")
		b.ReportMetric(median(later), "later-ms")
		b.ReportMetric(median(online), "tap-ms")
		b.ReportMetric(slices.Max(online), "slowest-tap-ms")
		b.ReportMetric(median(offline), "cut-tap-ms")
		b.ReportMetric(slices.Max(offline), "slowest-cut-tap-ms")
		b.ReportMetric(float64(len(online)+len(offline)), "taps")
	}
	b.ReportMetric(scriptSent(b, server.URL)/1000, "script-kB")
	b.ReportMetric(0, "ns/op")
}

// scriptSent is the size of all script there is, as it is sent.
func scriptSent(b *testing.B, server string) float64 {
	b.Helper()
	files, err := filepath.Glob("../../web/static/*.js")
	require.NoError(b, err)
	require.NotEmpty(b, files)
	sum := 0
	for _, file := range files {
		request, err := http.NewRequestWithContext(b.Context(), http.MethodGet, server+static.Prefix+filepath.Base(file), nil)
		require.NoError(b, err)
		request.Header.Set("Accept-Encoding", "gzip")
		answer, err := http.DefaultTransport.RoundTrip(request)
		require.NoError(b, err)
		sent, err := io.ReadAll(answer.Body)
		require.NoError(b, err)
		require.NoError(b, answer.Body.Close())
		require.Equal(b, "gzip", answer.Header.Get("Content-Encoding"))
		sum += len(sent)
	}
	return float64(sum)
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
