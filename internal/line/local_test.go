package line_test

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
)

// The moments at which the wall clock shows a time are those found by looking
// at every half hour around it. Zones and their changes are those of the IANA
// time zone database; Samoa left out 30 December 2011.
func TestOnWall_FindsWhatALookAtEveryHalfHourFinds(t *testing.T) {
	t.Parallel()
	changes := map[string][]string{
		"Europe/London":       {"2026-03-29 01:00", "2026-10-25 01:00"},
		"Australia/Lord_Howe": {"2026-04-05 02:00", "2026-10-04 02:00"},
		"Africa/Cairo":        {"2026-04-24 00:00", "2026-10-30 00:00"},
		"Pacific/Apia":        {"2011-12-30 12:00", "2011-12-31 00:00"},
		"Antarctica/Troll":    {"2026-03-29 01:00", "2026-10-25 01:00"}, // two hours
		"UTC":                 {"2026-03-29 01:00"},
	}
	const layout = "2006-01-02 15:04"
	rapid.Check(t, func(rt *rapid.T) {
		name := rapid.SampledFrom([]string{"Europe/London", "Australia/Lord_Howe", "Africa/Cairo", "Pacific/Apia", "Antarctica/Troll", "UTC"}).Draw(rt, "zone")
		z := zone(rt, name)
		near := wall(t, rapid.SampledFrom(changes[name]).Draw(rt, "change"))
		shown := near.Add(time.Duration(rapid.IntRange(-40*60, 40*60).Draw(rt, "minutes")) * time.Minute)
		var want []line.Minute
		guess := time.Date(shown.Year(), shown.Month(), shown.Day(), shown.Hour(), shown.Minute(), 0, 0, z)
		for shift := -2 * time.Hour; shift <= 2*time.Hour; shift += 30 * time.Minute {
			if guess.Add(shift).Format(layout) == shown.Format(layout) {
				want = append(want, line.MinuteOf(guess.Add(shift)))
			}
		}
		first, err := line.OnWall(shown, z, line.First)
		var off *line.WallError
		if len(want) == 0 {
			require.True(rt, errors.As(err, &off) && !off.Twice)
			return
		}
		require.NoError(rt, err)
		require.Equal(rt, want[0], first)
		second, err := line.OnWall(shown, z, line.Second)
		require.NoError(rt, err)
		require.Equal(rt, want[len(want)-1], second)
		_, err = line.OnWall(shown, z, line.NotAsked)
		require.Equal(rt, len(want) > 1, err != nil)
	})
}
