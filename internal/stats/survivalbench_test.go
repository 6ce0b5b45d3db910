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
			_, err := stats.NewCohort(episodes)
			require.NoError(b, err)
		}
	}
}
