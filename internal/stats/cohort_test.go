package stats_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/stats"
)

func TestNewCohort_RefusesWhatIsNoEpisode(t *testing.T) {
	t.Parallel()
	for name, e := range map[string]stats.Episode{
		"entry before 0":       {Entry: -1, Exit: 2},
		"exit before entry":    {Entry: 3, Exit: 2},
		"exit before 0":        {Exit: -1},
		"exit at no time":      {Exit: math.Inf(1)},
		"entry that is no one": {Entry: math.NaN(), Exit: 2},
		"exit that is no one":  {Exit: math.NaN()},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := stats.NewCohort([]stats.Episode{{Exit: 1}, e})
			require.ErrorIs(t, err, stats.ErrEpisode)
			require.ErrorContains(t, err, "number 2")
		})
	}
}

func TestCohort_CountsThoseWhoAreAtRiskAtSomeMoment(t *testing.T) {
	t.Parallel()
	c := cohort(t, []stats.Episode{
		{Exit: 0, Ending: 1}, {Exit: 4, Ending: 2}, {Entry: 2, Exit: 4, Ending: 1}, {Entry: 3, Exit: 6},
		{Entry: 5, Exit: 5, Ending: 1}, // enters and leaves at once
	})
	require.Equal(t, 4, c.N())
	require.Equal(t, 2, c.Ended(1))
	require.Equal(t, 3, c.Ended(1, 2, 200))
	require.Equal(t, 1, c.Ended(stats.Censored))
	for at, want := range map[float64]int{-1: 0, 0: 2, 1: 1, 2: 1, 2.5: 2, 3: 2, 3.5: 3, 4: 3, 5: 1, 6: 1, 6.5: 0} {
		require.Equal(t, want, c.AtRisk(at), at)
	}
	require.Zero(t, c.AtRisk(math.NaN()))
}
