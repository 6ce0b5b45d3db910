package stats_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

func TestClopperPearson_AgreesWithIntervalsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	type row struct {
		X, N    int
		Conf, P *float64
		WL      *float64 `json:"wilson_lower"`
		WU      *float64 `json:"wilson_upper"`
		CL      *float64 `json:"cp_lower"`
		CU      *float64 `json:"cp_upper"`
	}
	r := readReference[struct{ Rows []row }](t, "proportion_ci")
	require.Len(t, r.Expected.Rows, 20)
	found := map[string]float64{}
	for _, c := range r.Expected.Rows {
		exact, wilson := stats.ClopperPearson(c.X, c.N, *c.Conf), stats.Wilson(c.X, c.N, *c.Conf)
		r.agree(c.P, stats.Proportion{c.X, c.N}.Estimate(), "%d/%d", c.X, c.N)
		r.agree(c.CL, exact.Lower, "%d/%d at %v", c.X, c.N, *c.Conf)
		r.agree(c.CU, exact.Upper, "%d/%d at %v", c.X, c.N, *c.Conf)
		r.agree(c.WL, wilson.Lower, "%d/%d at %v", c.X, c.N, *c.Conf)
		r.agree(c.WU, wilson.Upper, "%d/%d at %v", c.X, c.N, *c.Conf)
		if *c.Conf == 0.95 {
			name := fmt.Sprintf(" %d/%d ", c.X, c.N)
			found["Wilson"+name+"lower"], found["Wilson"+name+"upper"] = wilson.Lower, wilson.Upper
			found["Clopper-Pearson"+name+"lower"], found["Clopper-Pearson"+name+"upper"] = exact.Lower, exact.Upper
		}
	}
	r.books(found)
}

func TestClopperPearson_LeavesHalfTheErrorAtEachEnd(t *testing.T) {
	t.Parallel()
	require.Equal(t, stats.Interval{Lower: 0, Upper: 1}, stats.ClopperPearson(0, 0, 0.95))
	require.True(t, math.IsNaN(stats.ClopperPearson(3, 2, 0.95).Lower))
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 20_000).Draw(t, "n")
		x := rapid.IntRange(0, n).Draw(t, "x")
		i := stats.ClopperPearson(x, n, 0.95)
		p := float64(x) / float64(n)
		require.True(t, 0 <= i.Lower && i.Lower <= p && p <= i.Upper && i.Upper <= 1)
		if x > 0 {
			require.InDelta(t, 0.025, distuv.Binomial{N: float64(n), P: i.Lower}.Survival(float64(x-1)), 1e-8)
		}
		if x < n {
			require.InDelta(t, 0.025, distuv.Binomial{N: float64(n), P: i.Upper}.CDF(float64(x)), 1e-8)
		}
	})
}

func TestNewcombeDifference_AgreesWithIntervalsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	type row struct {
		X1, N1, X2, N2     int
		Diff, Lower, Upper *float64
	}
	r := readReference[struct{ Rows []row }](t, "risk_difference_newcombe")
	require.Len(t, r.Expected.Rows, 8)
	found := map[string]float64{}
	for _, c := range r.Expected.Rows {
		a, b := stats.Proportion{c.X1, c.N1}, stats.Proportion{c.X2, c.N2}
		i := stats.NewcombeDifference(a, b, 0.95)
		r.agree(c.Diff, a.Estimate()-b.Estimate(), "%+v", c)
		r.agree(c.Lower, i.Lower, "%+v", c)
		r.agree(c.Upper, i.Upper, "%+v", c)
		name := fmt.Sprintf("%d/%d - %d/%d ", c.X1, c.N1, c.X2, c.N2)
		found[name+"lower"], found[name+"upper"] = i.Lower, i.Upper
	}
	r.books(found)
}

// What published trials and cohorts of peripheral lines print, to the last
// digit they print.
func TestProportions_AgreeWithPublishedTrials(t *testing.T) {
	t.Parallel()
	// Rickard et al., Lancet 2012;380:1066-74: phlebitis 114/1593 against
	// 114/1690, risk difference 0.41 % (-1.33 to 2.15); by the plain method.
	a, b := stats.Proportion{114, 1593}, stats.Proportion{114, 1690}
	require.InDelta(t, 0.41, 100*(a.Estimate()-b.Estimate()), 0.005)
	wald := stats.WaldDifference(a, b, 0.95)
	require.InDelta(t, -1.33, 100*wald.Lower, 0.005)
	require.InDelta(t, 2.15, 100*wald.Upper, 0.005)
	// The hybrid score interval of the same, worked out beside it: the second decimal differs.
	hybrid := stats.NewcombeDifference(a, b, 0.95)
	require.InDelta(t, -1.3326, 100*hybrid.Lower, 0.00005)
	require.InDelta(t, 2.1691, 100*hybrid.Upper, 0.00005)
	// Webster et al., BMJ 2008;337:a339: failure 143/379 against 123/376, RR 1.15 (0.95 to 1.40).
	ratio, i := stats.RiskRatio(stats.Proportion{143, 379}, stats.Proportion{123, 376}, 0.95)
	require.InDelta(t, 1.15, ratio, 0.005)
	require.InDelta(t, 0.95, i.Lower, 0.005)
	require.InDelta(t, 1.40, i.Upper, 0.005)
	// Evison et al., Scand J Trauma Resusc Emerg Med 2021: 366 of 1249 idle, 29.3 % (26.9 to 31.9).
	idle := stats.Wilson(366, 1249, 0.95)
	require.InDelta(t, 29.3, 100*stats.Proportion{366, 1249}.Estimate(), 0.05)
	require.InDelta(t, 26.9, 100*idle.Lower, 0.055) // 26.846, printed as if rounded twice
	require.InDelta(t, 31.9, 100*idle.Upper, 0.05)
}

func TestProportions_TurnRound(t *testing.T) {
	t.Parallel()
	draw := func(t *rapid.T, name string) stats.Proportion {
		n := rapid.IntRange(1, 500).Draw(t, name+" trials")
		return stats.Proportion{rapid.IntRange(0, n).Draw(t, name), n}
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := draw(t, "a"), draw(t, "b")
		one, other := stats.NewcombeDifference(a, b, 0.95), stats.NewcombeDifference(b, a, 0.95)
		require.InDelta(t, -one.Upper, other.Lower, 1e-12)
		d := a.Estimate() - b.Estimate()
		require.True(t, -1-1e-12 <= one.Lower && one.Lower <= d && d <= one.Upper && one.Upper <= 1+1e-12)
		ratio, i := stats.RiskRatio(a, b, 0.95)
		if a.Successes > 0 && b.Successes > 0 {
			back, j := stats.RiskRatio(b, a, 0.95)
			require.InEpsilon(t, 1/ratio, back, 1e-9)
			require.InEpsilon(t, 1/i.Upper, j.Lower, 1e-9)
		} else {
			require.Zero(t, i.Lower)
			require.True(t, math.IsInf(i.Upper, 1))
		}
	})
	require.True(t, math.IsNaN(stats.NewcombeDifference(stats.Proportion{}, stats.Proportion{1, 2}, 0.95).Lower))
	require.True(t, math.IsNaN(stats.WaldDifference(stats.Proportion{}, stats.Proportion{1, 2}, 0.95).Lower))
}
