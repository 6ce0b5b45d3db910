package app_test

import (
	"bufio"
	"context"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// stream opens a board's stream of changes and hands on the names of its
// events; the channel is closed when the server ends the stream.
func stream(t testing.TB, c *http.Client, address string) <-chan string {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(cancel)
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	require.NoError(t, err)
	request.Header.Set("Accept", "text/event-stream")
	answer, err := c.Do(request)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, answer.StatusCode)
	events := make(chan string, 64)
	go func() {
		defer close(events)
		defer func() { _ = answer.Body.Close() }()
		for lines := bufio.NewScanner(answer.Body); lines.Scan(); {
			if name, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
				events <- name
			} else if strings.HasPrefix(lines.Text(), ":") {
				events <- "nothing"
			}
		}
	}()
	return events
}

// await waits for the event and gives what came before it.
func await(t testing.TB, events <-chan string, want string) (before []string) {
	t.Helper()
	late := time.After(time.Minute)
	for {
		select {
		case got, open := <-events:
			require.True(t, open, "the stream ended before %q", want)
			if got == want {
				return before
			}
			before = append(before, got)
		case <-late:
			require.FailNow(t, "no event came", want)
		}
	}
}

var streamOf = regexp.MustCompile(`data-live="([^"]+)"`)

// streamAddress is where a board page as served hears of changes.
func streamAddress(t *testing.T, s *scene, page string) string {
	t.Helper()
	found := streamOf.FindStringSubmatch(page)
	require.NotNil(t, found)
	return s.server.URL + strings.ReplaceAll(found[1], "&amp;", "&")
}

func (s *scene) look(t *testing.T, id line.ID) {
	t.Helper()
	_, err := s.app.Desk.Record(t.Context(), s.person(t, "person-nurse"), desk.Act{Now: true, Entries: []line.Entry{
		{ID: id, Kind: line.KindReview, Subject: "patient-1", Line: "line-1", Precision: line.ToMinute, Body: line.Review{}},
	}})
	require.NoError(t, err)
}

func TestLive_AChangeByAnotherReachesAnOpenBoard(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	c := s.client(t, account.Doctor)
	events := stream(t, c, streamAddress(t, s, body(t, c, s.server.URL+"/wards/alder")))
	require.NotContains(t, await(t, events, "nothing"), "changed", "nothing happened since the page was made")
	s.look(t, "entry-look")
	await(t, events, "changed")
}

func TestLive_ABoardIsToldWhatHappenedBeforeItsStreamOpened(t *testing.T) {
	t.Parallel()
	for name, happens := range map[string]func(*testing.T, *scene){
		"recorded": func(t *testing.T, s *scene) { s.look(t, "entry-look") },
		"fell due": func(_ *testing.T, s *scene) { s.now = s.now.Add(30 * time.Hour) },
	} {
		s := newScene(t)
		c := s.client(t, account.Nurse)
		address := streamAddress(t, s, body(t, c, s.server.URL+"/wards/alder"))
		happens(t, s)
		if name == "fell due" { // the session has idled out meanwhile
			c = s.client(t, account.Nurse)
		}
		require.Empty(t, await(t, stream(t, c, address), "changed"), name)
	}
}

// The clock runs on from just before something falls due: the stream must tell
// of it though nobody recorded anything.
func TestHazard02_WhatFallsDueReachesAnOpenBoard(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	b, err := s.app.Desk.Board(t.Context(), desk.System(), "alder")
	require.NoError(t, err)
	require.NotEqual(t, line.Far, b.Next)
	offset := time.Until(b.Next.Time().Add(-2 * time.Second))
	s.clock = func() time.Time { return time.Now().Add(offset) }
	c := s.client(t, account.Nurse)
	events := stream(t, c, streamAddress(t, s, body(t, c, s.server.URL+"/wards/alder")))
	await(t, events, "changed")
	require.False(t, s.clock().Before(b.Next.Time()), "told no sooner than it falls due")
}

func TestLive_ARefreshLeavesTheNoticeToThePerson(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	c := s.client(t, account.Nurse)
	status, to := post(t, c, s.server.URL+"/lines/line-1/review", url.Values{"entry": {"entry-look"}, "nothing_wrong": {"1"}, "when": {"now"}})
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/wards/alder", to)
	request, err := http.NewRequest(http.MethodGet, s.server.URL+to, nil)
	require.NoError(t, err)
	request.Header.Set("X-Background", "1")
	answer, err := c.Do(request)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	const note = `<div class="note" role="status">`
	require.Contains(t, body(t, c, s.server.URL+to), note)
	require.NotContains(t, body(t, c, s.server.URL+to), note, "said once")
}

func TestLive_AStreamEndsWithItsSession(t *testing.T) {
	t.Parallel()
	for name, ends := range map[string]func(*testing.T, *scene, *http.Client){
		"signed out in another tab": func(t *testing.T, s *scene, c *http.Client) {
			_, to := post(t, c, s.server.URL+"/sign-out", nil)
			require.Equal(t, "/sign-in", to)
		},
		"account closed": func(t *testing.T, s *scene, _ *http.Client) {
			require.NoError(t, s.app.Desk.ChangeAccount(t.Context(), desk.System(), account.Account{
				ID: "person-nurse", SignIn: "nurse", Name: "Somebody nurse", Initials: "SB", Role: account.Nurse, Closed: true,
			}))
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			c := s.client(t, account.Nurse)
			events := stream(t, c, streamAddress(t, s, body(t, c, s.server.URL+"/wards/alder")))
			await(t, events, "nothing")
			ends(t, s, c)
			await(t, events, "ended")
			_, open := <-events
			require.False(t, open, "nothing more is sent")
		})
	}
}

// counted is a record that says how often a ward was read, and holds readers up.
type counted struct {
	desk.Store
	reads atomic.Int32
	hold  chan struct{}
}

func (c *counted) WardPatients(ctx context.Context, ward line.Key) ([]line.Patient, error) {
	c.reads.Add(1)
	<-c.hold
	return c.Store.WardPatients(ctx, ward)
}

func TestBoard_ManyWhoAskAtOnceAreAnsweredByOneReading(t *testing.T) {
	t.Parallel()
	now := func() time.Time { return time.Date(2026, 3, 4, 15, 10, 0, 0, time.UTC) }
	st, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "record.db"), store.Options{Clock: now})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	record := &counted{Store: st}
	d := desk.New(record, now)
	require.NoError(t, d.SetWard(t.Context(), desk.System(), line.Ward{Ward: "alder", Name: "Alder", Zone: "Europe/London", Beds: []string{"1"}}))
	_, err = d.House(t.Context())
	require.NoError(t, err)
	synctest.Test(t, func(t *testing.T) {
		record.hold = make(chan struct{})
		leaving, leave := context.WithCancel(context.Background())
		var all sync.WaitGroup
		for range 8 {
			all.Go(func() {
				b, err := d.Board(leaving, desk.System(), "alder")
				require.NoError(t, err)
				require.Equal(t, "Alder", b.Ward.Name)
			})
		}
		synctest.Wait() // all eight are held up, one by the record and seven by the one
		leave()         // one who leaves takes nothing from the others
		close(record.hold)
		all.Wait()
	})
	require.EqualValues(t, 1, record.reads.Load())
}

// The person reads on while the board changes around them.
func TestBrowser_ARefreshKeepsFocusPlaceAndWhatIsOpen(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	for i, bed := range []string{"1", "3"} {
		s.addLine(t, "other-"+bed, line.ID("line-"+bed+"x"), bed, i)
	}
	signIn(t, ctx, s, account.Nurse)
	const row = `document.getElementById("line-line-1")`
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.server.URL+"/wards/alder"), chromedp.WaitVisible(chromedp.CSS("#line-line-1-advice summary"))))
	run := func(script string) bool {
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script))
		require.NoError(t, err, script)
		return ok
	}
	run(`(() => { const s = ` + row + `.querySelector("summary"); s.click(); s.focus(); scrollTo(0, 300);
		window.was = ` + row + `; window.top0 = was.getBoundingClientRect().top; return true })()`)
	// A look moves the row's next duty, so the row is drawn anew; another line comes in.
	s.look(t, "entry-look")
	s.addLine(t, "other-4", "line-4x", "2", 3)
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#line-line-4x"))))
	require.True(t, run(row+` !== window.was`), "the row was drawn anew")
	require.True(t, run(row+`.querySelector("details").open`), "what was open is open")
	require.True(t, run(`document.activeElement === `+row+`.querySelector("summary")`), "the focus is on the same thing")
	require.True(t, run(`Math.abs(`+row+`.getBoundingClientRect().top - window.top0) < 2`), "the row stands where it stood")
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank"))) // ends the board's stream
}

// addLine admits a patient and records a line minutes ago.
func (s *scene) addLine(t *testing.T, patient string, id line.ID, bed string, ago int) {
	t.Helper()
	at := s.app.Desk.Now() - line.Minute(ago)
	entry := func(key string, on line.ID, b line.Body) line.Entry {
		return line.Entry{ID: line.ID(patient + key), Kind: b.Kind(), Subject: line.ID(patient), Line: on, Happened: at, Precision: line.ToMinute, Body: b}
	}
	_, err := s.app.Desk.Record(t.Context(), s.person(t, "person-nurse"), desk.Act{BedConfirmed: true, Entries: []line.Entry{
		entry("-in", "", line.Admission{Ward: "alder", Bed: line.Text(bed), Reference: line.Text(strings.ToUpper(patient))}),
		entry("-line", id, line.Occasion{
			Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Dressing: line.Film,
			Attempts: []line.Attempt{{Operator: line.Operator{Account: "person-nurse"}}},
		}),
	}})
	require.NoError(t, err)
}
