package stats_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// Worked by hand: three clusters 3/4, 1/2, 2/4; p = 6/10. The squares of x -
// pn are 0.36, 0.04 and 0.16, so the variance is 3/2 * 0.56 / 100 = 0.0084, the
// trials count as min(10, 0.24/0.0084 = 28.6) = 10, and Student's t with two
// degrees of freedom is 4.302653 (any table).
func TestClusters_WorkedByHand(t *testing.T) {
	t.Parallel()
	var c stats.Clusters
	for _, x := range [][2]int{{3, 4}, {1, 2}, {2, 4}} {
		c.Add(x[0], x[1])
	}
	c.Add(0, 0) // says nothing
	i := c.Wilson(0.95)
	const t2 = 4.302653 * 4.302653
	// The roots of (p - 0.6)^2 = t^2 p(1-p)/10.
	for _, p := range []float64{i.Lower, i.Upper} {
		require.InDelta(t, t2*p*(1-p)/10, (p-0.6)*(p-0.6), 1e-6)
	}
	require.Less(t, i.Lower, 0.6)
	require.Greater(t, i.Upper, 0.6)
}

// Wholly alike inside each cluster, many trials say no more than one a cluster:
// the design effect is then the size of a cluster (Kish 1965; from memory).
func TestClusters_CountClustersNotTrialsWhereTheyAreAlike(t *testing.T) {
	t.Parallel()
	var ones, tens stats.Clusters
	for k := range 40 {
		met := 1
		if k%4 == 0 {
			met = 0
		}
		ones.Add(met, 1)
		tens.Add(10*met, 10)
	}
	require.Equal(t, ones.N, tens.N)
	require.InDelta(t, ones.Wilson(0.95).Lower, tens.Wilson(0.95).Lower, 1e-12)
	require.InDelta(t, ones.Wilson(0.95).Upper, tens.Wilson(0.95).Upper, 1e-12)
	plain := stats.Wilson(300, 400, 0.95)
	require.Greater(t, tens.Wilson(0.95).Upper-tens.Wilson(0.95).Lower, 2.5*(plain.Upper-plain.Lower))
}

// Of clusters whose trials do go together, the interval covers the truth about
// as often as it says; the plain one does so far less often. 2,000 drawn sets
// of 60 clusters of 10, the chance of each cluster drawn from Beta(3, 1): mean 0.75.
func TestClusters_CoverTheTruthAsOftenAsTheySay(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(1, 2))
	const sets = 2000
	ours, plain := 0, 0
	for range sets {
		var c stats.Clusters
		for range 60 {
			chance := max(r.Float64(), r.Float64(), r.Float64()) // the largest of three is Beta(3, 1)
			met := 0
			for range 10 {
				if r.Float64() < chance {
					met++
				}
			}
			c.Add(met, 10)
		}
		if i := c.Wilson(0.95); i.Lower <= 0.75 && 0.75 <= i.Upper {
			ours++
		}
		if i := stats.Wilson(c.Successes, c.Trials, 0.95); i.Lower <= 0.75 && 0.75 <= i.Upper {
			plain++
		}
	}
	require.InDelta(t, 0.95, float64(ours)/sets, 0.015)
	require.Less(t, float64(plain)/sets, 0.85)
}

func TestClusters_HoldTheProportion(t *testing.T) {
	t.Parallel()
	require.Equal(t, stats.Interval{Lower: 0, Upper: 1}, stats.Clusters{}.Wilson(0.95))
	rapid.Check(t, func(t *rapid.T) {
		var c stats.Clusters
		for range rapid.IntRange(1, 30).Draw(t, "clusters") {
			n := rapid.IntRange(1, 20).Draw(t, "n")
			c.Add(rapid.IntRange(0, n).Draw(t, "x"), n)
		}
		i := c.Wilson(0.95)
		p := float64(c.Successes) / float64(c.Trials)
		require.True(t, 0 <= i.Lower && i.Lower <= p+1e-12 && p <= i.Upper+1e-12 && i.Upper <= 1, "%v %v", i, p)
		plain := stats.Wilson(c.Successes, c.Trials, 0.95)
		if c.N > 1 {
			require.GreaterOrEqual(t, i.Upper-i.Lower, plain.Upper-plain.Lower-1e-9)
		}
	})
}
