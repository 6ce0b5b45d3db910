package words_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

func speaker(t *testing.T, now string) words.Speaker {
	t.Helper()
	london, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	return words.Speaker{Zone: london, Now: minute(t, now)}
}

func minute(t *testing.T, rfc3339 string) line.Minute {
	t.Helper()
	at, err := time.Parse(time.RFC3339, rfc3339)
	require.NoError(t, err)
	return line.MinuteOf(at)
}

func TestSpan(t *testing.T) {
	t.Parallel()
	const h = time.Hour
	for _, c := range []struct {
		d    time.Duration
		want string
	}{
		{0, "0 min"}, {59 * time.Second, "0 min"}, {59 * time.Minute, "59 min"}, {h, "1 h"}, {h + 5*time.Minute, "1 h 05"},
		{23*h + 59*time.Minute, "23 h 59"}, {24 * h, "24 h"}, {24*h + 59*time.Minute, "24 h"}, {47*h + 59*time.Minute, "47 h"},
		{48 * h, "2 d"}, {49 * h, "2 d 1 h"}, {96*h + 30*time.Minute, "4 d"}, {-30 * time.Minute, "-30 min"}, {-50 * h, "-2 d 2 h"},
	} {
		require.Equal(t, c.want, words.Span(t.Context(), c.d), "%s", c.d)
	}
}

// Europe/London went to summer time on 29 March 2026 at 01:00 UTC and back on
// 25 October 2026 at 01:00 UTC (IANA time zone database).
func TestMomentAndStamp_AroundTheClockChanges(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ now, at, moment, stamp string }{
		{"2026-03-29T12:00:00Z", "2026-03-29T00:59:00Z", "00:59", "Sun 29 Mar 2026 00:59 GMT"},
		{"2026-03-29T12:00:00Z", "2026-03-29T01:00:00Z", "02:00", "Sun 29 Mar 2026 02:00 BST"},
		{"2026-03-29T12:00:00Z", "2026-03-28T23:59:00Z", "Sat 23:59", "Sat 28 Mar 2026 23:59 GMT"},
		{"2026-03-29T12:00:00Z", "2026-03-29T22:59:00Z", "23:59", "Sun 29 Mar 2026 23:59 BST"},
		{"2026-03-29T12:00:00Z", "2026-03-29T23:00:00Z", "Mon 00:00", "Mon 30 Mar 2026 00:00 BST"},
		{"2026-10-25T12:00:00Z", "2026-10-24T23:59:00Z", "00:59", "Sun 25 Oct 2026 00:59 BST"},
		{"2026-10-25T12:00:00Z", "2026-10-25T00:00:00Z", "01:00 BST", "Sun 25 Oct 2026 01:00 BST"},
		{"2026-10-25T12:00:00Z", "2026-10-25T00:59:00Z", "01:59 BST", "Sun 25 Oct 2026 01:59 BST"},
		{"2026-10-25T12:00:00Z", "2026-10-25T01:00:00Z", "01:00 GMT", "Sun 25 Oct 2026 01:00 GMT"},
		{"2026-10-25T12:00:00Z", "2026-10-25T01:59:00Z", "01:59 GMT", "Sun 25 Oct 2026 01:59 GMT"},
		{"2026-10-25T12:00:00Z", "2026-10-25T02:00:00Z", "02:00", "Sun 25 Oct 2026 02:00 GMT"},
		{"2026-10-28T12:00:00Z", "2026-10-25T00:30:00Z", "Sun 01:30 BST", "Sun 25 Oct 2026 01:30 BST"},
		{"2026-12-01T12:00:00Z", "2026-10-25T01:30:00Z", "25 Oct 01:30 GMT", "Sun 25 Oct 2026 01:30 GMT"},
		{"2027-01-20T12:00:00Z", "2026-10-25T11:30:00Z", "25 Oct 2026 11:30", "Sun 25 Oct 2026 11:30 GMT"},
	} {
		s := speaker(t, c.now)
		require.Equal(t, c.moment, s.Moment(minute(t, c.at)), c.at)
		require.Equal(t, c.stamp, s.Stamp(minute(t, c.at)), c.at)
	}
}

// On the night of a change, no two moments are shown alike.
func TestMoment_TellsMomentsOfOneNightApart(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		day := rapid.SampledFrom([]string{"2026-03-29T12:00:00Z", "2026-10-25T12:00:00Z"}).Draw(rt, "day")
		s := speaker(t, day)
		near := rapid.IntRange(-12*60, 0)
		a, b := s.Now+line.Minute(near.Draw(rt, "a")), s.Now+line.Minute(near.Draw(rt, "b"))
		require.Equal(rt, a == b, s.Moment(a) == s.Moment(b), "%s %s", a, b)
		require.Equal(rt, a == b, s.Stamp(a) == s.Stamp(b))
	})
}

func TestSay(t *testing.T) {
	t.Parallel()
	ctx := words.With(context.Background(), speaker(t, "2026-03-04T12:00:00Z"))
	for _, c := range []struct {
		want, key string
		args      []any
	}{
		{"heading not read: Remarks", "import.unread", []any{"n", 1, "headings", "Remarks"}},
		{"headings not read: A, B", "import.unread", []any{"n", 2, "headings", "A, B"}},
		{"nothing was imported", "import.nothing", nil},
		{"[import.no-such-key]", "import.no-such-key", nil},
		{"Advice (1)", "kit.advice", []any{"n", 1}}, // one sentence for one and for more
		{"Advice (2)", "kit.advice", []any{"n", 2}},
		{"wards made: 2 d 1 h", "import.wards", []any{"wards", 49 * time.Hour}},
		{"wards made: Tue 08:20", "import.wards", []any{"wards", minute(t, "2026-03-03T08:20:00Z")}},
		{"wards made: 20G", "import.wards", []any{"wards", line.Gauge(20)}},
		{"wards made: nothing was imported", "import.wards", []any{"wards", line.Say("import.nothing")}},
		{"wards made: " + words.Say(ctx, line.Wrist.Word()), "import.wards", []any{"wards", line.Wrist}},
	} {
		require.Equal(t, c.want, words.Say(ctx, c.key, c.args...))
	}
	require.False(t, words.Known("import.no-such-key"))
	require.Equal(t, "wards made: Tue 08:20", words.Say(ctx, "import.wards", "wards", time.Date(2026, 3, 3, 8, 20, 40, 0, time.UTC)))
}
