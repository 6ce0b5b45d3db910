package app_test

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/target"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// device is a tablet's browser whose network can be cut.
type device struct {
	t       *testing.T
	s       *scene
	browser context.Context
	tab     context.Context
	kill    context.CancelFunc
	cut     bool
	watched map[target.ID]context.Context // workers
}

func newDevice(t *testing.T, s *scene) *device {
	d := &device{t: t, s: s, browser: browser(t), watched: map[target.ID]context.Context{}}
	require.NoError(t, chromedp.Do(d.browser, chromedp.Navigate("about:blank")))
	d.openTab()
	return d
}

func (d *device) openTab() {
	d.tab, d.kill = chromedp.NewContext(d.browser)
	d.t.Cleanup(d.kill)
	require.NoError(d.t, chromedp.Do(d.tab, chromedp.Navigate("about:blank")))
	d.emulate(d.tab)
}

// network cuts the network or brings it back, for the tab and for the worker
// behind it, which is a target of its own.
func (d *device) network(on bool) {
	d.t.Helper()
	d.cut = !on
	d.emulate(d.tab)
	for _, worker := range d.workers() {
		d.emulate(worker)
	}
}

// workers are the service workers of the browser; one that is watched stays awake.
// What is emulated holds for who watches, so each has one watcher.
func (d *device) workers() map[target.ID]context.Context {
	d.t.Helper()
	targets, err := chromedp.Targets(d.browser)
	require.NoError(d.t, err)
	for _, one := range targets {
		if one.Type == "service_worker" && d.watched[one.TargetID] == nil {
			worker, leave := chromedp.NewContext(d.browser, chromedp.WithTargetID(one.TargetID))
			d.t.Cleanup(leave)
			d.watched[one.TargetID] = worker
		}
	}
	require.NotEmpty(d.t, d.watched)
	return d.watched
}

func (d *device) emulate(ctx context.Context) {
	d.t.Helper()
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(d.t, err)
	conditions := []*network.Conditions{{DownloadThroughput: -1, UploadThroughput: -1, Offline: d.cut}}
	_, err = chromedp.Call(ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: conditions})
	require.NoError(d.t, err)
	_, err = chromedp.Call(ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: d.cut, DownloadThroughput: -1, UploadThroughput: -1})
	require.NoError(d.t, err)
}

// setClock puts the worker's clock ahead of the machine's.
func (d *device) setClock(ahead time.Duration) {
	d.t.Helper()
	script := fmt.Sprintf(`{
		const right = self.right ??= Date;
		self.Date = class extends right {
			constructor(...a) { if (a.length) super(...a); else super(right.now() + %d); }
			static now() { return right.now() + %[1]d; }
		};
	}`, ahead.Milliseconds())
	for _, worker := range d.workers() {
		_, err := chromedp.Run(worker, chromedp.Evaluate[any](script))
		require.NoError(d.t, err)
	}
}

func (d *device) do(steps ...chromedp.Action[chromedp.Void]) {
	d.t.Helper()
	ctx, done := context.WithTimeout(d.tab, 20*time.Second)
	defer done()
	require.NoError(d.t, chromedp.Do(ctx, steps...))
}

func (d *device) open(path, until string) {
	d.t.Helper()
	d.do(chromedp.Navigate(d.s.server.URL+path), chromedp.WaitVisible(chromedp.CSS(until)))
}

// choose ticks an answer of the form.
func (d *device) choose(name, value string) {
	d.t.Helper()
	_, err := chromedp.Run(d.tab, chromedp.Evaluate[bool](fmt.Sprintf(`(() => { document.querySelector('[name="%s"][value="%s"]').click(); return true })()`, name, value)))
	require.NoError(d.t, err, "%s %s", name, value)
}

// send presses the button and waits for the page that says that it is kept.
func (d *device) send(button string) string {
	d.t.Helper()
	d.do(chromedp.Click(chromedp.CSS(button)), chromedp.WaitVisible(chromedp.CSS(`[data-when="kept"]`)))
	return mainText(d.t, d.tab)
}

func (d *device) signIn(role account.Role) {
	d.t.Helper()
	signIn(d.t, d.tab, d.s, role)
}

// held counts what the device holds: pages that can be read, entries to be sent.
func (d *device) held() (pages, entries int) {
	d.t.Helper()
	n, err := chromedp.Run(d.tab, chromedp.Evaluate[[]int](`(async () => {
		const db = await new Promise((done) => { const o = indexedDB.open("dwellbook", 1); o.onsuccess = () => done(o.result); });
		const count = (name) => new Promise((done) => { const q = db.transaction(name).objectStore(name).count(); q.onsuccess = () => done(q.result); });
		return [await count("pages"), await count("queue")];
	})()`, chromedp.EvalAwaitPromise))
	require.NoError(d.t, err)
	return n[0], n[1]
}

// takesAlong opens the ward and waits until its pages are on the device.
func (d *device) takesAlong(least int) {
	d.t.Helper()
	d.open("/wards/alder", "#ward-lines")
	require.Eventually(d.t, func() bool { pages, _ := d.held(); return pages >= least }, 10*time.Second, 100*time.Millisecond)
}

// fullWard puts more patients into the scene's ward, each with a line.
func (s *scene) fullWard(t *testing.T, lines int) {
	t.Helper()
	nurse := s.person(t, "person-nurse")
	for i := 2; i <= lines; i++ {
		subject, on := line.ID(fmt.Sprintf("patient-%d", i)), line.ID(fmt.Sprintf("line-%d", i))
		entry := func(id string, of line.ID, b line.Body) line.Entry {
			return line.Entry{ID: line.ID(fmt.Sprintf("%s-%d", id, i)), Kind: b.Kind(), Subject: subject, Line: of, Happened: s.app.Desk.Now() - 300, Precision: line.ToMinute, Body: b}
		}
		_, err := s.app.Desk.Record(t.Context(), nurse, desk.Act{Entries: []line.Entry{
			entry("in", "", line.Admission{Ward: "alder", Bed: line.Text(fmt.Sprint(i + 10)), Reference: line.Text(fmt.Sprintf("KD-%d", 300+i))}),
			entry("placed", on, line.Occasion{
				Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Dressing: line.Film,
				Attempts: []line.Attempt{{Operator: line.Operator{Account: "person-doctor"}}},
			}),
		}})
		require.NoError(t, err)
	}
}

// Half an hour's work on a ward of ten lines while the network is down: two
// looks at each, a dressing, a removal and a placement; the tab is killed and
// the server restarted in the middle.
func TestBrowser_ANursesHalfHourWithoutNetworkIsStoredOnceAndInOrder(t *testing.T) {
	t.Parallel()
	s := newSceneAt(t, time.Now())
	s.clock = time.Now
	const lines = 10
	s.fullWard(t, lines)
	d := newDevice(t, s)
	d.signIn(account.Nurse)
	d.takesAlong(lines * 7)
	d.network(false)

	d.open("/wards/alder", `[data-when="snapshot"]`)
	require.Contains(t, mainText(t, d.tab), "KD-204", "the ward can be read")
	d.open("/lines/line-5", "ol.entries")
	d.open("/audit", `[data-when="missing"]`)

	look := func(on int) {
		d.open(fmt.Sprintf("/lines/line-%d/review", on), `[name="nothing_wrong"]`)
		require.Contains(t, d.send(`[name="nothing_wrong"]`), "Kept on this device")
	}
	for on := 1; on <= lines; on++ {
		look(on)
	}
	d.open("/lines/line-2/dressing", `[name="material"]`)
	d.choose("material", "film")
	d.send("main form .btn.main")
	d.open("/wards/alder", ".kept-mark")

	d.kill()
	s.restart(t)
	d.openTab()
	d.open("/patients/patient-4/place", `#advice`)
	require.Contains(t, mainText(t, d.tab), "Not checked yet")
	for _, answer := range [][2]string{{"site", "wrist"}, {"side", "right"}, {"gauge", "22"}, {"asepsis", "full"}} {
		d.choose(answer[0], answer[1])
	}
	require.Contains(t, mainText(t, d.tab), "Not checked yet", "also when all is chosen")
	require.Contains(t, d.send(".acts .btn.main"), "Not checked yet")
	for on := 1; on <= lines; on++ {
		look(on)
	}
	d.open("/lines/line-1/remove", `[name="reason"]`)
	d.choose("reason", "not-needed")
	d.send("main form .btn.main")
	_, entries := d.held()
	require.Equal(t, 2*lines+3, entries)

	// Meanwhile somebody elsewhere has taken one out.
	status, _ := post(t, s.client(t, account.Doctor), s.server.URL+"/lines/line-3/remove", url.Values{"entry": {"out-3"}, "when": {"ago"}, "when-ago": {"30"}, "reason": {"leak"}})
	require.Equal(t, http.StatusSeeOther, status)

	d.network(true)
	d.open("/wards/alder", `#ward-lines`)
	require.Eventually(t, func() bool { _, entries := d.held(); return entries == 0 }, 20*time.Second, 100*time.Millisecond)
	for on := 1; on <= lines; on++ {
		page := s.page(t, line.ID(fmt.Sprintf("line-%d", on)))
		want := 2
		if on == 3 {
			want = 0
		}
		require.Len(t, page.History.Reviews, want, "line %d", on)
		require.True(t, slices.IsSortedFunc(page.History.Reviews, func(a, b line.Mark) int { return int(a.At - b.At) }))
		require.Equal(t, on == 1 || on == 3, page.History.Removal != nil, "line %d", on)
	}
	require.Len(t, s.page(t, "line-2").History.Dressings, 1)
	patient, err := s.app.Desk.Patient(t.Context(), s.person(t, "person-nurse"), "patient-4")
	require.NoError(t, err)
	require.Len(t, patient.Lines, 2)
	tray := s.tray(t, "person-nurse")
	require.Len(t, tray, 2, "the two looks at the line that was out already")
	require.Equal(t, "/lines/line-3/review", tray[0].Path)
	require.Equal(t, "1", tray[0].Form.Get("nothing_wrong"))

	d.do(chromedp.Click(chromedp.CSS(`form[action="/sign-out"] button`)), chromedp.WaitVisible(chromedp.CSS(`[name="passphrase"]`)))
	require.Eventually(t, func() bool { pages, _ := d.held(); return pages == 0 }, 5*time.Second, 50*time.Millisecond, "no patient can be read after signing out")
}

// A round without network takes the same two taps a line; what was tapped
// wrongly is undone before anybody was told of it.
func TestBrowser_ARoundWithoutNetworkIsKeptAndCanBeUndone(t *testing.T) {
	t.Parallel()
	s := newSceneAt(t, time.Now())
	s.clock = time.Now
	s.fullWard(t, 3)
	d := newDevice(t, s)
	d.signIn(account.Nurse)
	d.takesAlong(3 * 8)
	d.network(false)
	d.open("/wards/alder/round", "#stop-line-1 a.tap")
	const settled = 400 * time.Millisecond // a double tap does not answer the next question
	for n, on := range []string{"line-1", "line-2", "line-3"} {
		d.do(chromedp.WaitVisible(chromedp.CSS("#stop-"+on+" a.tap")), chromedp.Sleep(settled), chromedp.Click(chromedp.CSS("#stop-"+on+" a.tap")))
		d.do(chromedp.Sleep(settled), chromedp.Click(chromedp.CSS("#stop-"+on+` [name="nothing_wrong"]`)))
		require.Eventually(t, func() bool { _, entries := d.held(); return entries == n+1 }, 5*time.Second, 50*time.Millisecond)
	}
	d.do(chromedp.Click(chromedp.CSS("[data-undo] button")))
	require.Eventually(t, func() bool { _, entries := d.held(); return entries == 2 }, 5*time.Second, 50*time.Millisecond)
	d.network(true)
	d.open("/wards/alder", "#ward-lines")
	require.Eventually(t, func() bool { _, entries := d.held(); return entries == 0 }, 10*time.Second, 100*time.Millisecond)
	for on, want := range map[line.ID]int{"line-1": 1, "line-2": 1, "line-3": 0} {
		require.Len(t, s.page(t, on).History.Reviews, want, on)
	}
	require.Empty(t, s.tray(t, "person-nurse"))
}

func TestBrowser_WhatIsKeptGoesUnderItsAuthorsNameWhoeverSignsInNext(t *testing.T) {
	t.Parallel()
	s := newSceneAt(t, time.Now())
	s.clock = time.Now
	d := newDevice(t, s)
	d.signIn(account.Nurse)
	d.takesAlong(7)
	d.network(false)
	d.open("/lines/line-1/review", `[name="nothing_wrong"]`)
	d.send(`[name="nothing_wrong"]`)
	d.open("/wards/alder", `[data-when="snapshot"]`)
	d.do(chromedp.Click(chromedp.CSS(`form[action="/sign-out"] button`)), chromedp.WaitVisible(chromedp.CSS(`[data-when="signed-out"]`)))
	pages, entries := d.held()
	require.Zero(t, pages, "signed out, though the server could not be told")
	require.Equal(t, 1, entries)
	d.open("/wards/alder", `[data-when="missing"]`)

	d.network(true)
	d.signIn(account.Doctor)
	require.Eventually(t, func() bool { _, entries := d.held(); return entries == 0 }, 10*time.Second, 100*time.Millisecond)
	page := s.page(t, "line-1")
	require.Len(t, page.History.Reviews, 1)
	require.Equal(t, line.KindReview, page.Events[0].Entry.Kind)
	require.Equal(t, line.ID("person-nurse"), page.Events[0].Entry.Author)
}

func TestBrowser_ADeviceWhoseClockIsAnHourWrongSaysSoAndLeavesTheChoice(t *testing.T) {
	t.Parallel()
	s := newSceneAt(t, time.Now())
	s.clock = time.Now
	d := newDevice(t, s)
	d.signIn(account.Nurse)
	d.takesAlong(7)
	d.network(false)
	d.setClock(time.Hour)
	d.open("/lines/line-1/review", `[name="nothing_wrong"]`)
	d.send(`[name="nothing_wrong"]`)
	d.network(true)
	d.open("/wards/alder", `[data-when="tray"]`)
	require.Empty(t, s.page(t, "line-1").History.Reviews)
	d.open("/tray", ".sheet")
	text := mainText(t, d.tab)
	require.Regexp(t, `clock was 1 h ahead`, text)
	require.Contains(t, text, "Dwellbook’s clock")
	d.do(chromedp.Click(chromedp.CSS(`.sheet a[href$="clock=server"]`)), chromedp.WaitVisible(chromedp.CSS(`[name="nothing_wrong"]`)),
		chromedp.Click(chromedp.CSS(`[name="nothing_wrong"]`)), chromedp.WaitVisible(chromedp.CSS("#ward-lines")))
	page := s.page(t, "line-1")
	require.Len(t, page.History.Reviews, 1)
	require.InDelta(t, int64(line.MinuteOf(time.Now())), int64(page.History.Reviews[0].At), 2)
	require.Empty(t, s.tray(t, "person-nurse"))
}
