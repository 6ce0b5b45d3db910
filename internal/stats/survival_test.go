package stats_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

var nan, inf = math.NaN(), math.Inf(1)

// drawEpisodes draws up to 30 episodes in whole hours, so that many tie, of
// endings 0 to 2, some of them late; none ends before first.
func drawEpisodes(t *rapid.T, first int) []stats.Episode {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) stats.Episode {
		exit := rapid.IntRange(first, 20).Draw(t, "exit")
		e := stats.Episode{Exit: float64(exit), Ending: stats.Ending(rapid.IntRange(0, 2).Draw(t, "ending"))}
		if rapid.IntRange(0, 3).Draw(t, "late") == 0 {
			e.Entry = float64(rapid.IntRange(0, exit).Draw(t, "entry"))
		}
		return e
	}), 0, 30).Draw(t, "episodes")
}

// requireSame compares points, of which NaN equals itself.
func requireSame(t require.TestingT, want, got stats.SurvivalPoint) {
	for _, v := range [][2]float64{
		{want.Time, got.Time}, {want.Estimate, got.Estimate}, {want.SE, got.SE},
		{want.Hazard, got.Hazard}, {want.HazardSE, got.HazardSE},
	} {
		require.InDelta(t, v[0], v[1], 1e-12)
	}
	require.Equal(t, want.AtRisk, got.AtRisk)
	require.Equal(t, want.Failures, got.Failures)
}

func TestSurvival_HasItsConventionsAtTheEdges(t *testing.T) {
	t.Parallel()
	failed := func(at float64) stats.Episode { return stats.Episode{Exit: at, Ending: fails} }
	left := func(at float64) stats.Episode { return stats.Episode{Exit: at} }
	for _, c := range []struct {
		name     string
		episodes []stats.Episode
		at       float64
		want     stats.SurvivalPoint
	}{
		{"before the first failure", []stats.Episode{failed(2), left(3)}, 1, stats.SurvivalPoint{AtRisk: 2, Estimate: 1}},
		{"a failure counts at its moment", []stats.Episode{failed(2), left(3)}, 2,
			stats.SurvivalPoint{AtRisk: 2, Failures: 1, Estimate: 0.5, SE: math.Sqrt(0.125), Hazard: 0.5, HazardSE: 0.5}},
		{"one censored with a failure is still at risk of it", []stats.Episode{failed(2), left(2)}, 2,
			stats.SurvivalPoint{AtRisk: 2, Failures: 1, Estimate: 0.5, SE: math.Sqrt(0.125), Hazard: 0.5, HazardSE: 0.5}},
		{"no failures", []stats.Episode{left(2), left(3)}, 3, stats.SurvivalPoint{AtRisk: 1, Estimate: 1}},
		{"after the last exit", []stats.Episode{failed(2), left(3)}, 3.5,
			stats.SurvivalPoint{Failures: 1, Estimate: nan, SE: nan, Hazard: nan, HazardSE: nan}},
		{"after everybody failed", []stats.Episode{failed(2)}, 3.5,
			stats.SurvivalPoint{Failures: 1, Estimate: 0, SE: nan, Hazard: 1, HazardSE: 1}},
		{"before 0", []stats.Episode{failed(2)}, -1, stats.SurvivalPoint{Estimate: nan, SE: nan, Hazard: nan, HazardSE: nan}},
		{"at 0", []stats.Episode{failed(0), left(2), {Entry: 1, Exit: 2}}, 0,
			stats.SurvivalPoint{AtRisk: 2, Failures: 1, Estimate: 0.5, SE: math.Sqrt(0.125), Hazard: 0.5, HazardSE: 0.5}},
		{"without episodes", nil, 0, stats.SurvivalPoint{Estimate: nan, SE: nan, Hazard: nan, HazardSE: nan}},
		{"nobody at risk for a while", []stats.Episode{left(1), {Entry: 3, Exit: 4}}, 2, stats.SurvivalPoint{Estimate: 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.want.Time = c.at
			s := stats.NewSurvival(cohort(t, c.episodes), fails)
			end := -inf
			for _, e := range c.episodes {
				end = max(end, e.Exit)
			}
			require.Equal(t, end, s.End())
			got := s.At(c.at)
			if math.IsNaN(c.want.Estimate) {
				require.True(t, math.IsNaN(got.Estimate) && math.IsNaN(got.SE) && math.IsNaN(got.Hazard) && math.IsNaN(got.HazardSE))
				require.Equal(t, c.want.AtRisk, got.AtRisk)
				require.Equal(t, c.want.Failures, got.Failures)
				return
			}
			if math.IsNaN(c.want.SE) {
				require.True(t, math.IsNaN(got.SE))
				c.want.SE, got.SE = 0, 0
			}
			requireSame(t, c.want, got)
		})
	}
}

// At 1 there is no log-log interval, and none at 0 at all.
func TestSurvival_HasNoIntervalWhereItsTransformHasNone(t *testing.T) {
	t.Parallel()
	s := stats.NewSurvival(cohort(t, []stats.Episode{{Exit: 1}, {Exit: 2, Ending: fails}}), fails)
	require.True(t, math.IsNaN(s.At(1).Interval(stats.LogLog, 0.95).Lower))
	for _, transform := range []stats.Transform{stats.Plain, stats.Log} {
		require.Equal(t, stats.Interval{Lower: 1, Upper: 1}, s.At(1).Interval(transform, 0.95))
	}
	for _, transform := range []stats.Transform{stats.LogLog, stats.Log, stats.Plain} {
		i := s.At(2).Interval(transform, 0.95)
		require.True(t, math.IsNaN(i.Lower) && math.IsNaN(i.Upper), transform)
	}
}

func TestSurvival_HasAMedianWhereItComesDownToAHalf(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		failures []float64
		censored []float64
		median   float64
		lower    float64
		upper    float64
	}{
		{"odd", []float64{1, 2, 3}, nil, 2, 1, inf},
		{"at rest on a half: the middle", []float64{1, 2, 4, 5}, nil, 3, 1, inf},
		{"at rest on a half to the end: its start", []float64{1, 2}, []float64{6, 7}, 2, 1, inf},
		{"not reached", []float64{1}, []float64{2, 3}, inf, 1, inf},
		{"no failures", nil, []float64{2, 3}, inf, inf, inf},
		{"all at once", []float64{2, 2, 2}, nil, 2, nan, inf},
		{"no episodes", nil, nil, inf, inf, inf},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var episodes []stats.Episode
			for _, at := range c.failures {
				episodes = append(episodes, stats.Episode{Exit: at, Ending: fails})
			}
			for _, at := range c.censored {
				episodes = append(episodes, stats.Episode{Exit: at})
			}
			m, i := stats.NewSurvival(cohort(t, episodes), fails).Median(stats.LogLog, 0.95)
			require.Equal(t, c.median, m)
			require.Equal(t, c.upper, i.Upper)
			if math.IsNaN(c.lower) {
				require.True(t, math.IsNaN(i.Lower))
				return
			}
			require.Equal(t, c.lower, i.Lower)
		})
	}
	s := stats.NewSurvival(cohort(t, []stats.Episode{{Exit: 2, Ending: fails}, {Exit: 3}}), fails)
	for _, a := range [][2]float64{{0, 0.95}, {1, 0.95}, {nan, 0.95}, {0.5, 0}, {0.5, 1}, {0.5, nan}} {
		q, i := s.Quantile(a[0], stats.LogLog, a[1])
		require.True(t, math.IsNaN(q) && math.IsNaN(i.Lower) && math.IsNaN(i.Upper), a)
	}
}

// The product of fractions comes near a half, not always to it.
func TestMedian_IsTheMiddleOfAnEvenNumber(t *testing.T) {
	t.Parallel()
	for n := 2; n <= 100; n += 2 {
		var episodes []stats.Episode
		for k := range n {
			episodes = append(episodes, stats.Episode{Exit: float64(k + 1), Ending: fails})
		}
		m, _ := stats.NewSurvival(cohort(t, episodes), fails).Median(stats.LogLog, 0.95)
		require.Equal(t, float64(n+1)/2, m, n)
	}
}

func TestRestrictedMean_IsNoNumberWhereTheCurveIsNotKnown(t *testing.T) {
	t.Parallel()
	open := stats.NewSurvival(cohort(t, []stats.Episode{{Exit: 2, Ending: fails}, {Exit: 4}}), fails)
	ended := stats.NewSurvival(cohort(t, []stats.Episode{{Exit: 2, Ending: fails}, {Exit: 4, Ending: fails}}), fails)
	for _, c := range []struct {
		name     string
		survival *stats.Survival
		until    float64
		mean, se float64
	}{
		{"at 0", open, 0, 0, 0},
		{"before the first failure", open, 1, 1, 0},
		{"at the first failure", open, 2, 2, 0},
		{"at the last exit", open, 4, 3, math.Sqrt(0.5)}, // 2 + 2/2; area 1 left, 1/(2·1)
		{"after it", open, 4.5, nan, nan},
		{"after everybody failed", ended, 9, 3, math.Sqrt(0.5)},
		{"without a limit", ended, inf, 3, math.Sqrt(0.5)},
		{"without a limit, but some left", open, inf, nan, nan},
		{"before 0", open, -1, nan, nan},
		{"no number", ended, nan, nan, nan},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			mean, se := c.survival.RestrictedMean(c.until)
			if math.IsNaN(c.mean) {
				require.True(t, math.IsNaN(mean) && math.IsNaN(se))
				return
			}
			require.InDelta(t, c.mean, mean, 1e-12)
			require.InDelta(t, c.se, se, 1e-12)
		})
	}
}

func TestSurvival_FallsAndCountsThoseAtRisk(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		episodes := drawEpisodes(t, 0)
		s := stats.NewSurvival(cohort(t, episodes), fails)
		before := stats.SurvivalPoint{Time: -1, Estimate: 1}
		for _, p := range s.Steps() {
			require.Greater(t, p.Time, before.Time)
			require.Less(t, before.Failures, p.Failures)
			require.LessOrEqual(t, p.Estimate, before.Estimate)
			require.GreaterOrEqual(t, p.Estimate, 0.0)
			require.Greater(t, p.Hazard, before.Hazard)
			if p.Estimate > 0 {
				require.LessOrEqual(t, p.Estimate, math.Exp(-p.Hazard)+1e-12, "1-x lies below exp(-x)")
			}
			before = p
		}
		t0 := rapid.Float64Range(0, 21).Draw(t, "t")
		for _, at := range []float64{t0, math.Floor(t0)} {
			atRisk := 0
			for _, e := range episodes {
				if e.Entry < at && at <= e.Exit || e.Entry == 0 && at == 0 {
					atRisk++
				}
			}
			require.Equal(t, atRisk, s.At(at).AtRisk, at)
		}
		transform := rapid.SampledFrom([]stats.Transform{stats.LogLog, stats.Log, stats.Plain}).Draw(t, "transform")
		q, i := s.Quantile(rapid.Float64Range(0.01, 0.99).Draw(t, "share"), transform, 0.9)
		require.False(t, i.Lower > q || i.Upper < q, "%v %v", q, i)
		mean, _ := s.RestrictedMean(t0)
		require.False(t, mean > t0)
	})
}

func TestSurvival_DoesNotDependOnOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		episodes := drawEpisodes(t, 0)
		want := stats.NewSurvival(cohort(t, episodes), 1, 2).Steps()
		got := stats.NewSurvival(cohort(t, rapid.Permutation(episodes).Draw(t, "order")), 2, 1).Steps()
		require.Len(t, got, len(want))
		for k := range want {
			requireSame(t, want[k], got[k])
		}
	})
}

func TestSurvival_DoesNotChangeBeforeWhatComesLater(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		episodes := append(drawEpisodes(t, 0), stats.Episode{Exit: 7, Ending: fails})
		want := stats.NewSurvival(cohort(t, episodes), fails).Steps()
		last := want[len(want)-1].Time
		episodes = append(episodes, stats.Episode{Entry: last + 1, Exit: last + 5})
		got := stats.NewSurvival(cohort(t, episodes), fails).Steps()
		require.Len(t, got, len(want))
		for k := range want {
			requireSame(t, want[k], got[k])
		}
	})
}

// One who goes on past the last failure counts the same however long.
func TestSurvival_DoesNotAskWhenAfterTheLastFailureOneWasCensored(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		episodes := drawEpisodes(t, 0)
		want := stats.NewSurvival(cohort(t, append(episodes, stats.Episode{Exit: 20})), fails).Steps()
		got := stats.NewSurvival(cohort(t, append(episodes, stats.Episode{Exit: 50})), fails).Steps()
		require.Len(t, got, len(want))
		for k := range want {
			requireSame(t, want[k], got[k])
		}
	})
}

func TestSurvival_IsTheShareLeftWhereNoneIsCensored(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		exits := rapid.SliceOfN(rapid.IntRange(0, 20), 1, 50).Draw(t, "exits")
		var episodes []stats.Episode
		for _, at := range exits {
			episodes = append(episodes, stats.Episode{Exit: float64(at), Ending: fails})
		}
		s := stats.NewSurvival(cohort(t, episodes), fails)
		n, sum := float64(len(exits)), 0.0
		for at := range 25 {
			left := 0.0
			for _, exit := range exits {
				if exit > at {
					left++
				}
			}
			p := s.At(float64(at))
			require.InDelta(t, left/n, p.Estimate, 1e-12)
			if left > 0 {
				require.InDelta(t, math.Sqrt(left/n*(1-left/n)/n), p.SE, 1e-12, "the binomial error")
			}
		}
		for _, exit := range exits {
			sum += float64(exit)
		}
		mean, _ := s.RestrictedMean(inf)
		require.InDelta(t, sum/n, mean, 1e-9)
	})
}

func TestSurvival_DoesNotMindAnEntryBeforeTheFirstExit(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var early, late []stats.Episode
		for _, e := range drawEpisodes(t, 2) {
			e.Entry = 0
			early = append(early, e)
			e.Entry = rapid.Float64Range(0, 1.9).Draw(t, "entry")
			late = append(late, e)
		}
		want, got := stats.NewSurvival(cohort(t, early), fails).Steps(), stats.NewSurvival(cohort(t, late), fails).Steps()
		require.Len(t, got, len(want))
		for k := range want {
			requireSame(t, want[k], got[k])
		}
	})
}
