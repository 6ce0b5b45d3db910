package stats_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/stats"
)

// dwells draws so many episodes of six groups: whole minutes up to two weeks,
// five causes of ending besides being censored, one in twenty seen late.
func dwells(n int) [][]stats.Episode {
	r := rand.New(rand.NewPCG(5, 6))
	groups := make([][]stats.Episode, 6)
	for k := range n {
		exit := min(math.Ceil(r.ExpFloat64()*4000), 20160)
		e := stats.Episode{Exit: exit, Ending: stats.Ending(r.IntN(6))}
		if r.IntN(20) == 0 {
			e.Entry = math.Floor(exit * r.Float64())
		}
		groups[k%len(groups)] = append(groups[k%len(groups)], e)
	}
	return groups
}

func BenchmarkNewCohort(b *testing.B) {
	groups := dwells(1_000_000)
	for b.Loop() {
		for _, episodes := range groups {
			cohort(b, episodes)
		}
	}
}

// A year of a large region: six groups' curves with their intervals, medians
// and the test between them, from the episodes on.
func BenchmarkSurvival(b *testing.B) {
	groups := dwells(1_000_000)
	failures := []stats.Ending{1, 2, 3}
	for b.Loop() {
		cohorts := make([]*stats.Cohort, len(groups))
		for k, episodes := range groups {
			cohorts[k] = cohort(b, episodes)
			s := stats.NewSurvival(cohorts[k], failures...)
			for _, p := range s.Steps() {
				p.Interval(stats.LogLog, 0.95)
			}
			s.Median(stats.LogLog, 0.95)
		}
		_, err := stats.LogRank(cohorts, failures...)
		require.NoError(b, err)
	}
}

func BenchmarkLogRank(b *testing.B) {
	var cohorts []*stats.Cohort
	for _, episodes := range dwells(1_000_000) {
		cohorts = append(cohorts, cohort(b, episodes))
	}
	for b.Loop() {
		_, err := stats.LogRank(cohorts, 1, 2, 3)
		require.NoError(b, err)
	}
}
