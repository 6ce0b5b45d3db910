package app_test

import (
	"bytes"
	"context"
	"io"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// What was overdue at a past moment, as anyone could have known it then, is the
// same for ever; as known now it follows late entries, corrections and withdrawals.
func TestAudit_OfAPastMomentAsKnownThenNeverChanges(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	s := newScene(t)
	nurse := s.person(t, "person-nurse")
	asked := s.now.Add(20 * time.Hour) // the next morning: a look is overdue
	s.now = asked.Add(time.Minute)
	file := s.file
	clock := func() time.Time { return s.now }
	then := func(known bool) string {
		q := app.AuditQuery{DB: file, At: asked.Format(time.RFC3339)}
		if known {
			q.KnownAt = asked.Format(time.RFC3339)
		}
		a, err := app.Audit(ctx, q, clock)
		require.NoError(t, err)
		var out bytes.Buffer
		require.NoError(t, a.JSON(&out))
		return out.String()
	}
	page := func(known bool) string {
		q := url.Values{"at": {asked.Format("2006-01-02T15:04")}} // London is on UTC in March
		if known {
			q.Set("known", asked.Format("2006-01-02T15:04"))
		}
		answer, err := s.client(t, account.Lead).Get(s.server.URL + "/audit?" + q.Encode())
		require.NoError(t, err)
		text, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		_, rows, _ := strings.Cut(string(text), "<tbody>") // there is no table where nothing is due
		rows, _, _ = strings.Cut(rows, "</tbody>")
		return rows
	}
	pageThen := page(true)
	knownThen, knownNow := then(true), then(false)
	require.Contains(t, knownThen, "review-overdue")
	require.Contains(t, pageThen, "No look recorded for 2 shifts")

	s.now = s.now.Add(3 * time.Hour)
	record := func(entries ...line.Entry) {
		t.Helper()
		_, err := s.app.Desk.Record(ctx, nurse, desk.Act{Entries: entries})
		require.NoError(t, err)
	}
	entry := func(id line.ID, at time.Time, body line.Body) line.Entry {
		return line.Entry{ID: id, Kind: body.Kind(), Subject: "patient-1", Line: "line-1", Happened: line.MinuteOf(at), Precision: line.ToMinute, Body: body}
	}
	look := entry("late-look", asked.Add(-2*time.Hour), line.Review{Dressing: line.SetOf(line.Intact), Needed: line.Yes})
	record(look) // recorded late: it was looked at in time after all
	require.Equal(t, knownThen, then(true), "a late entry")
	require.NotEqual(t, knownNow, then(false))
	require.NotContains(t, then(false), "review-overdue")
	require.Equal(t, pageThen, page(true))
	require.NotContains(t, page(false), "No look recorded")

	s.now = s.now.Add(time.Hour)
	moved := look
	moved.ID, moved.Happened = "late-look-2", line.MinuteOf(asked.Add(-3*time.Hour))
	record(entry("late-look-moved", asked.Add(-3*time.Hour), line.Correction{Root: "late-look", Seen: "late-look", Why: "other hour", Replacement: moved}))
	require.Equal(t, knownThen, then(true), "a correction")
	void := line.Entry{ID: "void-1", Kind: line.KindVoid, Subject: "patient-1", Line: "line-1", Happened: line.MinuteOf(s.now), Precision: line.ToMinute,
		Body: line.Void{Root: "late-look", Seen: "late-look-moved", Why: "wrong line"}}
	record(void)
	require.Equal(t, knownThen, then(true), "a withdrawal")
	require.Contains(t, then(false), "review-overdue")
}

// A moment that does not exist, or that happens twice, is refused at its field.
func TestAudit_AsksWhichOfTwoMoments(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	require.NoError(t, s.app.Desk.SetHospital(context.Background(), desk.System(), line.Hospital{Name: "Larkwell", Zone: "Europe/London"}))
	c := s.client(t, account.Lead)
	for _, ask := range []struct {
		at, says string
		status   int
	}{
		{"2026-03-29T01:30", "did not happen", 422}, {"2025-10-26T01:30", "happens twice", 422}, {"2025-10-26T01:30&at-which=second", "As it stood Sun 26 Oct 2025 01:30 GMT", 200},
		{"2025-10-26T01:30&at-which=first", "As it stood Sun 26 Oct 2025 01:30 BST", 200}, {"yesterday", "is no date and time", 422}, {"", "As it stands now", 200},
		{"2026-03-05T08:00", "not come yet", 422}, {"2026-03-03T08:00&hours=24&hours-stood=24", "As it stood Tue 3 Mar 2026 08:00 GMT", 200},
		{"2026-03-03T08:00&hours=24&hours-stood=31", "As it stood Tue 3 Mar 2026 15:10 GMT", 200}, {"2026-03-03T08:00&hours=0&hours-stood=31", "As it stands now", 200},
		{"&known=2026-03-04T12:00", "As it stood Wed 4 Mar 2026 12:00 GMT, as anyone could have known it Wed 4 Mar 2026 12:00 GMT", 200},
		{"&hours=24", "As it stood Tue 3 Mar 2026 15:10 GMT", 200}, {"&hours=-3", "As it stands now", 200},
	} {
		for _, path := range []string{"/audit", "/walk-round", "/compliance"} {
			answer, err := c.Get(s.server.URL + path + "?at=" + ask.at)
			require.NoError(t, err)
			text, err := io.ReadAll(answer.Body)
			require.NoError(t, err)
			require.NoError(t, answer.Body.Close())
			require.Equal(t, ask.status, answer.StatusCode, "%s %s", path, ask.at)
			if path == "/audit" || ask.status != 200 {
				require.Contains(t, string(text), ask.says, "%s %s", path, ask.at)
			}
		}
	}
}

// The slider moves by elapsed hours, also over the hours that the clocks skip
// and repeat (Europe/London 2026: 29 March and 25 October, 01:00 UTC).
func TestAudit_SlidesOverBothClockChanges(t *testing.T) {
	t.Parallel()
	for now, want := range map[time.Time]map[int]string{
		time.Date(2026, 3, 29, 12, 0, 0, 0, time.UTC):   {11: "Sun 29 Mar 2026 02:00 BST", 12: "Sun 29 Mar 2026 00:00 GMT"},
		time.Date(2026, 10, 25, 11, 30, 0, 0, time.UTC): {10: "Sun 25 Oct 2026 01:30 GMT", 11: "Sun 25 Oct 2026 01:30 BST"},
	} {
		s := newScene(t)
		require.NoError(t, s.app.Desk.SetHospital(t.Context(), desk.System(), line.Hospital{Name: "Larkwell", Zone: "Europe/London"}))
		s.now = now
		lead := s.client(t, account.Lead)
		for hours := 9; hours < 14; hours++ {
			text := body(t, lead, s.server.URL+"/audit?at=&at-clock=&hours-stood=0&hours="+strconv.Itoa(hours))
			require.Contains(t, text, "As it stood "+want[hours])
		}
	}
}
