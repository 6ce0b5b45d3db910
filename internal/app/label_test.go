package app_test

import (
	"context"
	"image"
	"image/color"
	"image/draw"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	qr "github.com/piglig/go-qr"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

var (
	drawnQR  = regexp.MustCompile(`<svg class="qr" viewBox="0 0 (\d+) \d+"[^>]*><path d="([^"]*)"`)
	drawnRun = regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-\d+z`)
)

// scanned reads the QR code that stands on a page, from its picture.
func scanned(t *testing.T, page string) *qr.DecodeResult {
	t.Helper()
	drawn := drawnQR.FindStringSubmatch(page)
	require.NotNil(t, drawn, "no code on the page")
	number := func(s string) int {
		n, err := strconv.Atoi(s)
		require.NoError(t, err)
		return n
	}
	const pixels = 6 // to a module
	picture := image.NewGray(image.Rect(0, 0, number(drawn[1])*pixels, number(drawn[1])*pixels))
	draw.Draw(picture, picture.Bounds(), image.White, image.Point{}, draw.Src)
	for _, run := range drawnRun.FindAllStringSubmatch(drawn[2], -1) {
		x, y, n := number(run[1]), number(run[2]), number(run[3])
		draw.Draw(picture, image.Rect(x*pixels, y*pixels, (x+n)*pixels, (y+1)*pixels), image.NewUniform(color.Black), image.Point{}, draw.Src)
	}
	read, err := qr.DecodeDetailed(picture)
	require.NoError(t, err)
	return read
}

// get is the status of a page, and where it leads.
func get(t *testing.T, c *http.Client, address string) (status int, to string) {
	t.Helper()
	answer, err := c.Get(address)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return answer.StatusCode, answer.Header.Get("Location")
}

// opened is the path that the label of a line opens.
func (s *scene) opened(t *testing.T, on string) string {
	t.Helper()
	read := scanned(t, body(t, s.client(t, account.Nurse), s.server.URL+"/lines/"+on+"/label"))
	path, ours := strings.CutPrefix(read.Text, s.server.URL)
	require.True(t, ours, read.Text)
	return path
}

// placeBy records that a line was placed, as line-2, by whom the occasion says.
func (s *scene) placeBy(t *testing.T, o line.Occasion) {
	t.Helper()
	o.Outcome, o.Site, o.Side, o.Gauge, o.Asepsis = line.WithLine, line.Forearm, line.Right, 20, line.AsepsisFull
	s.put(t, "placed-2", "line-2", 60, o)
}

func TestLabel_SaysWhatWasPlacedAndDressed(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	text := body(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-1/label")
	require.Contains(t, text, "Placed by SB")
	require.Contains(t, text, "<dd>4 Mar 2026 10:10</dd>")
	require.Contains(t, text, "<dd>4 Mar 2026</dd>")
	require.Contains(t, text, "<b>22</b>G")
	require.Contains(t, text, "elbow crease, left")
	require.NotContains(t, text, "KD-204")
	require.NotRegexp(t, `(?i)review by`, text)
}

func TestLabel_PrintedAgainKeepsThePlacementAndTheCode(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	before := s.opened(t, "line-1")
	s.now = s.now.Add(48 * time.Hour)
	s.put(t, "dressed", "line-1", 10, line.Dressing{Material: line.Film})
	text := body(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-1/label")
	require.Contains(t, text, "<dd>4 Mar 2026 10:10</dd>")
	require.Contains(t, text, "<dd>6 Mar 2026</dd>")
	require.Equal(t, before, s.opened(t, "line-1"))
}

func TestLabel_SaysWhoHeldTheCannulaThatWentIn(t *testing.T) {
	t.Parallel()
	attempt := func(o line.Operator, failed bool) line.Attempt {
		a := line.Attempt{Operator: o, Site: line.Forearm, Side: line.Right, Gauge: 20, Failed: failed}
		if failed {
			a.Fault = line.VeinRolled
		}
		return a
	}
	written := line.Operator{Written: "ZX"}
	for name, c := range map[string]struct {
		placed line.Occasion
		says   string
	}{
		"account":            {line.Occasion{Attempts: []line.Attempt{attempt(written, true), attempt(line.Operator{Account: "person-doctor"}, false)}}, "Placed by SB"},
		"as written":         {line.Occasion{Attempts: []line.Attempt{attempt(line.Operator{Account: "person-doctor"}, true), attempt(written, false)}}, "Placed by ZX"},
		"number of attempts": {line.Occasion{Operator: written, Count: 2}, "Placed by ZX"},
		"other hospital":     {line.Occasion{PlacedBy: line.OtherHospital}, "Placed by other hospital"},
		"not recorded":       {line.Occasion{}, "Placed</dt>"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			s.placeBy(t, c.placed)
			require.Contains(t, body(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-2/label"), c.says)
		})
	}
}

func TestLabel_SaysWhatIsNotKnownOfTheTime(t *testing.T) {
	t.Parallel()
	for known, says := range map[line.Precision][]string{
		line.ToDay:    {"<dt>Placed</dt><dd>4 Mar 2026</dd>", "<dt>Dressing</dt><dd>4 Mar 2026</dd>"},
		line.NotKnown: {"<dt>Placed before</dt><dd>4 Mar 2026 14:10</dd>", "<dt>Dressing, on before</dt><dd>4 Mar 2026</dd>"},
	} {
		s := newScene(t)
		_, err := s.app.Desk.Record(t.Context(), s.person(t, "person-nurse"), desk.Act{Entries: []line.Entry{{
			ID: "placed-2", Kind: line.KindOccasion, Subject: "patient-1", Line: "line-2", Happened: s.app.Desk.Now() - 60, Precision: known,
			Body: line.Occasion{Outcome: line.WithLine, Site: line.Forearm, Side: line.Right, Gauge: 20, Asepsis: line.AsepsisFull},
		}}})
		require.NoError(t, err)
		text := body(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-2/label")
		for _, one := range says {
			require.Contains(t, text, one)
		}
	}
}

// A label is handled, so a quarter of its code may be lost (level Q of ISO/IEC
// 18004), and four modules around it stay white.
func TestLabel_CodeIsReadAndStandsHandling(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	text := body(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-1/label")
	read := scanned(t, text)
	require.Regexp(t, "^"+regexp.QuoteMeta(s.server.URL)+`/l/[\w-]{22}$`, read.Text)
	require.GreaterOrEqual(t, read.Ecc, qr.Quartile)
	drawn := drawnQR.FindStringSubmatch(text)
	side, err := strconv.Atoi(drawn[1])
	require.NoError(t, err)
	require.Equal(t, 17+4*read.Version+8, side)
	for _, run := range drawnRun.FindAllStringSubmatch(drawn[2], -1) {
		for i, at := range run[1:3] {
			from, err := strconv.Atoi(at)
			require.NoError(t, err)
			n := 1
			if i == 0 {
				n, err = strconv.Atoi(run[3])
				require.NoError(t, err)
			}
			require.GreaterOrEqual(t, from, 4)
			require.LessOrEqual(t, from+n, side-4)
		}
	}
}

func TestLabel_OpensItsLineForThoseWhoRecordCare(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.placeBy(t, line.Occasion{})
	path := s.opened(t, "line-1")
	require.NotEqual(t, path, s.opened(t, "line-2"))
	status, to := get(t, s.client(t, account.Nurse), s.server.URL+path)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/lines/line-1/review", to)
	status, _ = get(t, s.client(t, account.Administrator), s.server.URL+path)
	require.Equal(t, http.StatusForbidden, status)

	// Signing in on the way keeps the address.
	stranger := s.client(t, "")
	status, to = get(t, stranger, s.server.URL+path)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/sign-in?to="+url.QueryEscape(path), to)
	form := shown(body(t, stranger, s.server.URL+to))
	form.Set("sign_in", "nurse")
	form.Set("passphrase", passphrase)
	status, to = post(t, stranger, s.server.URL+"/sign-in", form)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, path, to)
}

func TestLabel_OfALineThatIsOutOpensWhatWasRecorded(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.placeBy(t, line.Occasion{})
	out, withdrawn := s.opened(t, "line-1"), s.opened(t, "line-2")
	s.put(t, "out", "line-1", 10, line.Removal{Reason: line.NotNeeded})
	s.put(t, "gone", "line-2", 10, line.Void{Root: "placed-2", Seen: "placed-2", Why: "other patient"})
	nurse := s.client(t, account.Nurse)
	status, to := get(t, nurse, s.server.URL+out)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/lines/line-1", to)
	status, _ = get(t, nurse, s.server.URL+"/lines/line-1/label")
	require.Equal(t, http.StatusConflict, status)
	for _, path := range []string{withdrawn, "/l/none", "/l/" + strings.Repeat("A", 22), out + "A"} {
		status, _ = get(t, nurse, s.server.URL+path)
		require.Equal(t, http.StatusNotFound, status, path)
		require.Contains(t, body(t, nurse, s.server.URL+path), "This label is not known here")
	}
}

func TestLabel_OpensTheAddressPeopleUse(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	fetched := func(s *scene, host string) (int, string) {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.server.URL+"/lines/line-1/label", nil)
		require.NoError(t, err)
		if host != "" {
			request.Host = host
		}
		here, err := url.Parse(s.server.URL)
		require.NoError(t, err)
		for _, c := range s.client(t, account.Nurse).Jar.Cookies(here) {
			request.AddCookie(c) // a jar keeps them from another host
		}
		answer, err := http.DefaultTransport.RoundTrip(request)
		require.NoError(t, err)
		text, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		return answer.StatusCode, string(text)
	}
	status, text := fetched(s, "ward.example:8443")
	require.Equal(t, http.StatusOK, status)
	path, ok := strings.CutPrefix(scanned(t, text).Text, "http://ward.example:8443")
	require.True(t, ok)
	require.NotContains(t, text, "this computer only")
	for _, here := range []string{"", "localhost:8080", "[::1]:8080"} {
		_, text = fetched(s, here)
		require.Contains(t, text, "this computer only", here)
	}
	status, _ = fetched(s, strings.Repeat("a", 3000))
	require.Equal(t, http.StatusUnprocessableEntity, status)

	public, err := app.New(t.Context(), app.Config{DB: s.file, Clock: s.tell, Public: "https://dwellbook.example"})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, public.Close()) })
	other := *s
	other.server = httptest.NewServer(public.Handler)
	t.Cleanup(other.server.Close)
	for _, host := range []string{"", "forged.example"} {
		_, text = fetched(&other, host)
		require.Equal(t, "https://dwellbook.example"+path, scanned(t, text).Text)
		require.NotContains(t, text, "this computer only")
	}
}

func TestParseOrigin_TakesAServersAddressAlone(t *testing.T) {
	t.Parallel()
	for given, want := range map[string]string{
		"": "", "https://dwellbook.example": "https://dwellbook.example", "HTTPS://Dwellbook.example/": "https://dwellbook.example",
		"http://10.1.2.3:8080": "http://10.1.2.3:8080",
	} {
		origin, err := app.ParseOrigin(given)
		require.NoError(t, err, given)
		require.Equal(t, want, origin)
	}
	for _, given := range []string{"dwellbook.example", "https://", "ftp://a.example", "https://a.example/ward", "https://me@a.example", "https://a.example?x=1", "https://a.example#x", "https://:8080", "https://a b"} {
		_, err := app.ParseOrigin(given)
		var misuse *app.Misuse
		require.ErrorAs(t, err, &misuse, given)
	}
}

func TestLabel_RemembersThePaperOfTheDevice(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.client(t, account.Nurse)
	address := s.server.URL + "/lines/line-1/label"
	require.Contains(t, body(t, nurse, address), "on-62")
	require.Contains(t, body(t, nurse, address+"?paper=29"), "on-29")
	require.Contains(t, body(t, nurse, address+"?paper=wall"), "on-29")
	text := body(t, nurse, address+"?paper=a4&place=5")
	require.Equal(t, 4, strings.Count(text, "label-used"))
	for _, place := range []string{"0", "25", "x"} {
		require.NotContains(t, body(t, nurse, address+"?paper=a4&place="+place), "label-used", place)
	}
}

func TestBrowser_ALabelPrintsOnItsPaper(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	signIn(t, ctx, s, account.Nurse)
	for paper, size := range map[string][2]float64{"62": {62, 36}, "29": {29, 70}, "a4&place=24": {210, 297}} {
		pdf := printed(t, ctx, s.server.URL+"/lines/line-1/label?paper="+paper)
		require.Len(t, pdfPage.FindAllString(pdf, -1), 1, paper)
		width, height := pageSize(t, pdf)
		// Chromium rounds to whole device units, about a quarter of a point.
		require.InDelta(t, size[0], width, 0.2, paper)
		require.InDelta(t, size[1], height, 0.2, paper)
		require.Equal(t, "22G"+"Elbowcrease,left"+"PlacedbySB"+"4Mar202610:10"+"Dressing"+"4Mar2026", pdfText(t, pdf), paper)
	}
}

// What the label holds fits it, with the longest of each.
func TestBrowser_ALabelHoldsTheLongestWords(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	_, err := s.app.Desk.Record(t.Context(), s.person(t, "person-nurse"), desk.Act{Entries: []line.Entry{{
		ID: "placed-2", Kind: line.KindOccasion, Subject: "patient-1", Line: "line-2", Happened: s.app.Desk.Now() - 60, Precision: line.NotKnown,
		Body: line.Occasion{
			Outcome: line.WithLine, Site: line.ElbowCrease, Side: line.Right, Gauge: 20, Asepsis: line.AsepsisFull,
			Operator: line.Operator{Written: "the registrar of the night team, as told by the ward"},
		},
	}}})
	require.NoError(t, err)
	signIn(t, ctx, s, account.Nurse)
	for _, paper := range []string{"62", "29", "a4"} {
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/lines/line-2/label?paper="+paper)))
		fits, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`(() => {
			const box = (e) => e.getBoundingClientRect(), label = document.querySelector(".label"), words = box(label.querySelector(".label-words"));
			const all = box(label), code = box(label.querySelector(".qr"));
			const apart = words.right <= code.left || words.bottom <= code.top;
			return apart && [words, code].every((b) => b.left >= all.left && b.top >= all.top && b.right <= all.right && b.bottom <= all.bottom) &&
				document.documentElement.scrollWidth <= innerWidth;
		})()`))
		require.NoError(t, err)
		require.True(t, fits, paper)
	}
}

// camera puts a camera and a reader of codes into the pages to come, which
// Chromium has on few systems: getUserMedia as given, and what the reader reads.
func camera(t *testing.T, ctx context.Context, media, reads string) {
	t.Helper()
	_, err := chromedp.Run(ctx, func(ctx context.Context, target *chromedp.Target) (page.ScriptIdentifier, error) {
		added, err := cdp.Call(ctx, target, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `
			navigator.mediaDevices.getUserMedia = async () => { ` + media + ` };
			window.BarcodeDetector = class {
				static async getSupportedFormats() { return ["qr_code"]; }
				async detect() { return ` + reads + `; }
			};`})
		return added.Identifier, err
	})
	require.NoError(t, err)
}

const picture = `return document.createElement("canvas").captureStream();`

func TestBrowser_ThePageScansALabel(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	path := s.opened(t, "line-1")
	signIn(t, ctx, s, account.Nurse)
	// Only the path counts: a label opens this record, whatever server it names.
	camera(t, ctx, picture, `[{ rawValue: "https://elsewhere.example`+path+`" }]`)
	require.NoError(t, chromedp.Do(ctx,
		chromedp.Navigate(s.server.URL+"/scan"), chromedp.Click(chromedp.CSS(".scan button")), chromedp.WaitVisible(chromedp.CSS(`[name="nothing_wrong"]`)),
	))
	at, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.pathname`))
	require.NoError(t, err)
	require.Equal(t, "/lines/line-1/review", at)
}

func TestBrowser_ScanningSaysWhatIsInTheWay(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ media, reads, says string }{
		"refused":      {`throw new DOMException("", "NotAllowedError");`, `[]`, "The camera is blocked for this page"},
		"no camera":    {`throw new DOMException("", "NotFoundError");`, `[]`, "No camera could be started"},
		"another code": {picture, `[{ rawValue: "https://elsewhere.example/offer" }]`, "not on a label from here"},
		"no address":   {picture, `[{ rawValue: "4006381333931" }]`, "not on a label from here"},
		"nothing yet":  {picture, `[]`, "Hold the label"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ctx := browser(t)
			s := newScene(t)
			signIn(t, ctx, s, account.Nurse)
			camera(t, ctx, c.media, c.reads)
			require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/scan"), chromedp.Click(chromedp.CSS(".scan button"))))
			require.Eventually(t, func() bool { return strings.Contains(mainText(t, ctx), c.says) }, 10*time.Second, 50*time.Millisecond)
		})
	}
}
