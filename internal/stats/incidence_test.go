package stats_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// requireShare compares shares, of which NaN equals itself.
func requireShare(t require.TestingT, want, got stats.Share, msg ...any) {
	require.InDelta(t, want.Estimate, got.Estimate, 1e-12, msg...)
	require.InDelta(t, want.SE, got.SE, 1e-7, msg...)
}

func TestIncidence_HasItsConventionsAtTheEdges(t *testing.T) {
	t.Parallel()
	unknown := stats.Share{Estimate: nan, SE: nan}
	ended := func(at float64, of stats.Ending) stats.Episode { return stats.Episode{Exit: at, Ending: of} }
	half := stats.Share{Estimate: 0.5, SE: math.Sqrt(0.125)}
	for _, c := range []struct {
		name     string
		episodes []stats.Episode
		cause    stats.Ending
		at       float64
		want     stats.Share
		free     float64
	}{
		{"before anything ended", []stats.Episode{ended(2, 1), ended(3, 0)}, 1, 1, stats.Share{}, 1},
		{"an ending counts at its moment", []stats.Episode{ended(2, 1), ended(3, 0)}, 1, 2, half, 0.5},
		{"one censored with an ending is still at risk of it", []stats.Episode{ended(2, 1), ended(2, 0)}, 1, 2, half, 0.5},
		{"an ending at 0", []stats.Episode{ended(0, 1), ended(3, 0)}, 1, 0, half, 0.5},
		{"a cause of which nothing ended", []stats.Episode{ended(2, 2), ended(3, 0)}, 1, 2, stats.Share{}, 0.5},
		{"a cause never heard of", []stats.Episode{ended(2, 2), ended(3, 0)}, 3, 2, stats.Share{}, 0.5},
		{"nothing ended of any cause", []stats.Episode{ended(2, 0), ended(3, 0)}, 1, 3, stats.Share{}, 1},
		{"all ended of one cause", []stats.Episode{ended(2, 1), ended(3, 1), ended(5, 1)}, 1, 5, stats.Share{Estimate: 1}, 0},
		{"after the last exit, some still going on", []stats.Episode{ended(2, 1), ended(3, 0)}, 1, 3.5, unknown, nan},
		{"after all had ended", []stats.Episode{ended(2, 1), ended(3, 2)}, 1, 3.5, half, 0},
		{"after all at risk ended early, before others enter", []stats.Episode{ended(2, 1), ended(3, 2), {Entry: 4, Exit: 9, Ending: 1}}, 1, 9, half, 0},
		{"before 0", []stats.Episode{ended(2, 1)}, 1, -1, unknown, nan},
		{"at no time", []stats.Episode{ended(2, 1)}, 1, nan, unknown, nan},
		{"no episodes", nil, 1, 0, unknown, nan},
		{"censored is no cause", []stats.Episode{ended(2, 1), ended(3, 0)}, stats.Censored, 2, unknown, 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			i := stats.NewIncidence(cohort(t, c.episodes), stats.DeltaMethod)
			requireShare(t, c.want, i.At(c.cause, c.at))
			require.InDelta(t, c.free, i.EventFree(c.at), 0)
		})
	}
}

// One cause alone comes to 1 exactly, also where the steps are no binary
// fractions, so that there is no interval made of what rounding left.
func TestIncidence_HasNoLogLogIntervalOnceAllEndedOfOneCause(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var episodes []stats.Episode
		n := rapid.IntRange(1, 40).Draw(t, "n")
		for k := range n {
			episodes = append(episodes, stats.Episode{Exit: float64(k), Ending: 2})
		}
		share := stats.NewIncidence(cohort(t, episodes), stats.DeltaMethod).At(2, float64(n))
		require.Equal(t, 1.0, share.Estimate)
		i := share.Interval(stats.LogLog, 0.95)
		require.True(t, math.IsNaN(i.Lower) && math.IsNaN(i.Upper))
	})
}

// An invented table with late entries, worked out with R 4.2.2, etm 1.1.1, whose
// errors are of Greenwood's type. The survival package (3.5-3) gives the same
// shares; its errors are a jackknife's, which differs with late entries.
func TestIncidence_AgreesOnLateEntries(t *testing.T) {
	t.Parallel()
	i := stats.NewIncidence(cohort(t, []stats.Episode{
		{0, 4, 2}, {0, 6, 1}, {0, 6, 0}, {3, 9, 1}, {5, 9, 2}, {0, 10, 1}, {8, 12, 0}, {2, 12, 2},
		{0, 15, 1}, {10, 15, 2}, {0, 18, 1}, {4, 20, 2}, {0, 24, 0}, {0, 30, 2}, {6, 30, 0},
	}), stats.DeltaMethod)
	for _, want := range []struct {
		at, free      float64
		first, second stats.Share
	}{
		{4, 0.9, stats.Share{Estimate: 0, SE: 0}, stats.Share{Estimate: 0.1, SE: 0.0948683298050514}},
		{6, 0.818181818181818, stats.Share{Estimate: 0.0818181818181818, SE: 0.0784858589338999}, stats.Share{Estimate: 0.1, SE: 0.0948683298050514}},
		{9, 0.669421487603306, stats.Share{Estimate: 0.156198347107438, SE: 0.1016366738632897}, stats.Share{Estimate: 0.174380165289256, SE: 0.1124883338357569}},
		{12, 0.528925619834711, stats.Share{Estimate: 0.2305785123966942, SE: 0.117122312256627}, stats.Share{Estimate: 0.240495867768595, SE: 0.1214857888925468}},
		{15, 0.37780401416765, stats.Share{Estimate: 0.3061393152302243, SE: 0.1281580927467289}, stats.Share{Estimate: 0.316056670602125, SE: 0.1310274134500553}},
		{20, 0.22668240850059, stats.Share{Estimate: 0.3817001180637544, SE: 0.1351985563205769}, stats.Share{Estimate: 0.391617473435655, SE: 0.1368388155258871}},
		{30, 0.113341204250295, stats.Share{Estimate: 0.3817001180637544, SE: 0.1351985563205769}, stats.Share{Estimate: 0.50495867768595, SE: 0.146976494446556}},
	} {
		require.InDelta(t, want.free, i.EventFree(want.at), 1e-12)
		requireShare(t, want.first, i.At(1, want.at), "cause 1 at %v", want.at)
		requireShare(t, want.second, i.At(2, want.at), "cause 2 at %v", want.at)
	}
}

func TestIncidence_AddsUpToAllAndRises(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := cohort(t, drawEpisodes(t, 0))
		i := stats.NewIncidence(c, stats.DeltaMethod)
		before := stats.IncidenceStep{Time: -1, EventFree: 1, Causes: make([]stats.Share, 2)}
		for _, s := range i.Steps() {
			sum := s.EventFree
			for k, share := range s.Causes {
				sum += share.Estimate
				require.GreaterOrEqual(t, share.Estimate, before.Causes[k].Estimate)
				require.Equal(t, share, i.At(stats.Ending(k+1), s.Time))
			}
			require.InDelta(t, 1, sum, 1e-12)
			require.Greater(t, s.Time, before.Time)
			require.Less(t, s.EventFree, before.EventFree)
			require.Equal(t, s.EventFree, i.EventFree(s.Time))
			before = s
		}
	})
}

func TestIncidence_OfOneCauseIsWhatDoesNotSurvive(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		episodes := drawEpisodes(t, 0)
		for k := range episodes {
			episodes[k].Ending = min(1, episodes[k].Ending)
		}
		c := cohort(t, episodes)
		i, s := stats.NewIncidence(c, stats.DeltaMethod), stats.NewSurvival(c, 1)
		for _, want := range s.Steps() {
			if want.Estimate == 0 {
				want.SE = 0
			}
			requireShare(t, stats.Share{Estimate: 1 - want.Estimate, SE: want.SE}, i.At(1, want.Time))
		}
	})
}

func TestIncidence_OfTwoCausesInOneIsTheirSum(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		three := drawEpisodes(t, 0)
		two := make([]stats.Episode, len(three))
		for k := range three {
			if three[k].Ending == 2 && rapid.Bool().Draw(t, "third") {
				three[k].Ending = 3
			}
			two[k] = three[k]
			two[k].Ending = min(2, two[k].Ending)
		}
		apart, joined := stats.NewIncidence(cohort(t, three), stats.DeltaMethod), stats.NewIncidence(cohort(t, two), stats.DeltaMethod)
		for _, s := range joined.Steps() {
			require.InDelta(t, joined.At(2, s.Time).Estimate, apart.At(2, s.Time).Estimate+apart.At(3, s.Time).Estimate, 1e-12)
			requireShare(t, joined.At(1, s.Time), apart.At(1, s.Time))
		}
	})
}

func TestIncidence_DoesNotDependOnOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		episodes := drawEpisodes(t, 0)
		moved := rapid.Permutation(episodes).Draw(t, "order")
		for _, by := range []stats.IncidenceError{stats.DeltaMethod, stats.AalenType} {
			require.Equal(t, stats.NewIncidence(cohort(t, episodes), by).Steps(), stats.NewIncidence(cohort(t, moved), by).Steps())
		}
	})
}

// Where nobody is censored or late it is a share of the episodes, with the error
// of one.
func TestIncidence_IsTheShareEndedWhereAllAreSeenToEnd(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		episodes := append(drawEpisodes(t, 0), stats.Episode{Exit: 3, Ending: 1})
		for k := range episodes {
			episodes[k].Entry, episodes[k].Ending = 0, max(1, episodes[k].Ending)
		}
		at, n := float64(rapid.IntRange(0, 20).Draw(t, "at")), float64(len(episodes))
		i := stats.NewIncidence(cohort(t, episodes), stats.DeltaMethod)
		for cause := range stats.Ending(2) {
			share := 0.0
			for _, e := range episodes {
				share += one(e.Ending == cause+1 && e.Exit <= at) / n
			}
			requireShare(t, stats.Share{Estimate: share, SE: math.Sqrt(max(0, share*(1-share)/n))}, i.At(cause+1, at))
		}
	})
}

// A million episodes in six groups and five causes, once laid out: the shares of
// every minute with their intervals.
func BenchmarkIncidence(b *testing.B) {
	var cohorts []*stats.Cohort
	for _, episodes := range dwells(1_000_000) {
		cohorts = append(cohorts, cohort(b, episodes))
	}
	for b.Loop() {
		for _, c := range cohorts {
			for _, s := range stats.NewIncidence(c, stats.DeltaMethod).Steps() {
				for _, share := range s.Causes {
					share.Interval(stats.LogLog, 0.95)
				}
			}
		}
	}
}
