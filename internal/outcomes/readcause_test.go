package outcomes_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

func TestReadCause_TellsGroupsApartByWhatEndsThem(t *testing.T) {
	t.Parallel()
	period := line.Stretch{From: 0, Until: 100_000}
	end := func(site line.Site, n int, reason line.Reason) line.Course {
		at := line.Minute(100 * n)
		return line.Course{Line: line.Key(n), Site: site, Placed: at, Out: at + line.Minute(600+37*(n%50)), Reason: reason, Precision: line.ToMinute}
	}
	read := func(of func(n int) (line.Site, line.Reason)) []string {
		var lines []line.Course
		for n := range 80 {
			site, reason := of(n)
			lines = append(lines, end(site, n, reason))
		}
		c, err := outcomes.Follow(lines, outcomes.Asked{Period: period, By: outcomes.BySite}, outcomes.Names{})
		require.NoError(t, err)
		var keys []string
		for _, m := range c.ReadCause("phlebitis", line.Phlebitis) {
			keys = append(keys, m.Key)
		}
		return keys
	}
	require.Equal(t, []string{"outcomes.read.cause-differ", "outcomes.read.mix.site"}, read(func(n int) (line.Site, line.Reason) {
		if n%2 == 0 {
			return line.Wrist, line.Phlebitis
		}
		return line.Forearm, line.NotNeeded
	}))
	require.Equal(t, "outcomes.read.cause-alike", read(func(n int) (line.Site, line.Reason) {
		site, reason := line.Wrist, line.Phlebitis
		if n%2 == 0 {
			site = line.Forearm
		}
		if n%4 < 2 {
			reason = line.NotNeeded
		}
		return site, reason
	})[0])
	require.Empty(t, read(func(int) (line.Site, line.Reason) { return line.Wrist, line.Phlebitis }), "one group")
	require.Empty(t, read(func(n int) (line.Site, line.Reason) { return line.Site(1 + n%2), line.Leak }), "no such end")
}
