package line_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
)

func zone(t require.TestingT, name string) *time.Location {
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

func wall(t *testing.T, text string) time.Time {
	t.Helper()
	w, err := time.Parse("2006-01-02 15:04", text)
	require.NoError(t, err)
	return w
}

func TestMinute_DropsTheSeconds(t *testing.T) {
	t.Parallel()
	require.Equal(t, line.Minute(0), line.MinuteOf(time.Unix(59, 999)))
	require.Equal(t, line.Minute(1), line.MinuteOf(time.Unix(60, 0)))
	require.Equal(t, line.Minute(-1), line.MinuteOf(time.Unix(-1, 0)))
	require.Equal(t, line.Minute(-1), line.MinuteOf(time.Unix(-60, 0)))
	require.Equal(t, line.Minute(-2), line.MinuteOf(time.Unix(-61, 0)))
	require.Equal(t, "1970-01-01T01:40:00Z", line.Minute(100).String())
	require.Equal(t, line.Minute(101), line.Minute(100).Add(119*time.Second))
	require.Equal(t, 40*time.Minute, line.Minute(100).Sub(60))
	var m line.Minute
	require.NoError(t, m.UnmarshalText([]byte("2026-03-02T08:20:59+01:00")))
	require.Equal(t, "2026-03-02T07:20:00Z", m.String())
	for _, bad := range []string{"2026-03-02T08:20", "0000-01-01T00:00:00+01:00", "9999-12-31T23:30:00-01:00"} {
		require.Error(t, m.UnmarshalText([]byte(bad)), bad)
	}
}

func TestStretch_PastIsWhatHasCome(t *testing.T) {
	t.Parallel()
	s := line.Stretch{From: 10, Until: 20}
	for now, until := range map[line.Minute]line.Minute{25: 20, 20: 20, 19: 19, 11: 11, 10: 10, 5: 10} {
		require.Equal(t, line.Stretch{From: 10, Until: until}, s.Past(now), "at %d", now)
	}
}

func TestStretch_HoldsItsStartAndNotItsEnd(t *testing.T) {
	t.Parallel()
	s := line.Stretch{From: 10, Until: 20}
	for at, want := range map[line.Minute]bool{9: false, 10: true, 19: true, 20: false} {
		require.Equal(t, want, s.Holds(at))
	}
	require.False(t, line.Stretch{From: 10, Until: 10}.Holds(10))
}

// Clock changes by the IANA time zone database: Europe/London 29 March 2026
// 01:00 and 25 October 2026 02:00 local; Lord Howe Island half an hour on 5
// April 2026 at 02:00 and 4 October 2026 at 02:00; Cairo skips midnight on 24 April 2026.
func TestOnWall_AroundClockChanges(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		zone, wall string
		which      line.Which
		want       string
		twice      bool
	}{
		{"Europe/London", "2026-03-29 00:59", line.NotAsked, "2026-03-29T00:59:00Z", false},
		{"Europe/London", "2026-03-29 01:00", line.NotAsked, "", false},
		{"Europe/London", "2026-03-29 01:59", line.First, "", false},
		{"Europe/London", "2026-03-29 02:00", line.NotAsked, "2026-03-29T01:00:00Z", false},
		{"Europe/London", "2026-10-25 00:59", line.NotAsked, "2026-10-24T23:59:00Z", false},
		{"Europe/London", "2026-10-25 01:00", line.NotAsked, "", true},
		{"Europe/London", "2026-10-25 01:00", line.First, "2026-10-25T00:00:00Z", false},
		{"Europe/London", "2026-10-25 01:59", line.Second, "2026-10-25T01:59:00Z", false},
		{"Europe/London", "2026-10-25 02:00", line.NotAsked, "2026-10-25T02:00:00Z", false},
		{"Europe/London", "2026-07-01 08:00", line.Second, "2026-07-01T07:00:00Z", false},
		{"Australia/Lord_Howe", "2026-04-05 01:45", line.NotAsked, "", true},
		{"Australia/Lord_Howe", "2026-04-05 01:45", line.First, "2026-04-04T14:45:00Z", false},
		{"Australia/Lord_Howe", "2026-04-05 01:45", line.Second, "2026-04-04T15:15:00Z", false},
		{"Australia/Lord_Howe", "2026-10-04 02:15", line.NotAsked, "", false},
		{"UTC", "2026-10-25 01:30", line.NotAsked, "2026-10-25T01:30:00Z", false},
	} {
		got, err := line.OnWall(wall(t, c.wall), zone(t, c.zone), c.which)
		if c.want == "" {
			var off *line.WallError
			require.ErrorAs(t, err, &off, "%s %s", c.zone, c.wall)
			require.Equal(t, c.twice, off.Twice, "%s %s", c.zone, c.wall)
			require.NotEmpty(t, err.Error())
			continue
		}
		require.NoError(t, err, "%s %s", c.zone, c.wall)
		require.Equal(t, c.want, got.String(), "%s %s", c.zone, c.wall)
	}
}

func TestDayStart(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ zone, day, want string }{
		{"Europe/London", "2026-03-29", "2026-03-29T00:00:00Z"},
		{"Europe/London", "2026-07-01", "2026-06-30T23:00:00Z"},
		{"Europe/London", "2026-10-25", "2026-10-24T23:00:00Z"},
		{"Africa/Cairo", "2026-04-24", "2026-04-23T22:00:00Z"}, // the clocks skip from midnight to one
	} {
		require.Equal(t, c.want, line.DayStart(wall(t, c.day+" 13:00"), zone(t, c.zone)).String(), "%s %s", c.zone, c.day)
	}
}

// What a clock on the wall shows at some moment leads back to that moment.
func TestOnWall_LeadsBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		z := zone(t, rapid.SampledFrom([]string{"Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"}).Draw(t, "zone"))
		at := line.Minute(rapid.Int64Range(27_000_000, 32_000_000).Draw(t, "at")) // 2021 to 2030
		shown := at.Time().In(z)
		first, err := line.OnWall(shown, z, line.First)
		require.NoError(t, err)
		second, err := line.OnWall(shown, z, line.Second)
		require.NoError(t, err)
		require.LessOrEqual(t, first, second)
		require.Contains(t, []line.Minute{first, second}, at)
		plain, err := line.OnWall(shown, z, line.NotAsked)
		require.Equal(t, first != second, err != nil)
		require.True(t, err != nil || plain == at)
		start := line.DayStart(shown, z)
		require.LessOrEqual(t, start, at)
		require.Less(t, at.Sub(start), 26*time.Hour)
	})
}
