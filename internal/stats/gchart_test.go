package stats_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

func TestGAndTCharts_AgreeWithChartsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	type limits struct {
		Center, SD, Lcl, Ucl *float64
		P                    *float64  `json:"p_hat"`
		Equal                []float64 `json:"probability_limits_0.00135_0.99865"`
		Median               *float64  `json:"median_center"`
		Outside              []int
		CenterT              *float64 `json:"center_transformed"`
		LclT                 *float64 `json:"lcl_transformed"`
		UclT                 *float64 `json:"ucl_transformed"`
	}
	r := readReference[struct {
		G, T   limits
		Trials limits `json:"g_trials_until_event"`
	}](t, "gchart")
	var gaps []int
	for _, g := range numbers(t, table(t, "gchart.csv")["cases_between"]) {
		gaps = append(gaps, int(g))
	}
	g, want := stats.NewGChart(gaps), r.Expected.G
	r.agree(want.Center, g.Center, "centre")
	r.agree(want.SD, g.SD, "sd")
	r.agree(want.Lcl, g.Lower, "lower")
	r.agree(want.Ucl, g.Upper, "upper")
	r.agree(want.P, g.Chance, "chance")
	r.agree(&want.Equal[0], g.Quantile(0.00135), "lower of equal chance")
	r.agree(&want.Equal[1], g.Quantile(0.99865), "upper of equal chance")
	r.agree(want.Median, g.Quantile(0.5), "median")
	same(r, want.Outside, []int{g.Outside()[0] + 1}, "outside")
	require.Len(t, g.Outside(), 1)
	// Counted up to and with the event, all is 1 more and as wide.
	trials := r.Expected.Trials
	r.agree(trials.Center, g.Center+1, "centre, with the event")
	r.agree(trials.SD, g.SD, "sd, with the event")
	r.agree(trials.Ucl, g.Upper+1, "upper, with the event")
	r.agree(trials.Lcl, g.Lower, "lower, with the event")

	var days []float64
	for _, d := range numbers(t, table(t, "coal_intervals.csv")["days"]) {
		if d > 0 {
			days = append(days, d)
		}
	}
	c, wantT := stats.NewTChart(days), r.Expected.T
	r.agree(wantT.Center, c.Center, "t centre")
	r.agree(wantT.Lcl, c.Lower, "t lower")
	r.agree(wantT.Ucl, c.Upper, "t upper")
	r.agree(wantT.CenterT, math.Pow(c.Center, 1/3.6), "t centre, transformed")
	r.agree(wantT.LclT, math.Pow(c.Lower, 1/3.6), "t lower, transformed")
	r.agree(wantT.UclT, math.Pow(c.Upper, 1/3.6), "t upper, transformed")
	beyond := []int{}
	for _, s := range stats.Signals(c.Z, []stats.RunRule{stats.BeyondLimits}) {
		beyond = append(beyond, s.At+1)
	}
	same(r, wantT.Outside, beyond, "t outside")
}

func TestGChart_AtItsEnds(t *testing.T) {
	t.Parallel()
	require.True(t, math.IsNaN(stats.NewGChart(nil).Center))
	none := stats.NewGChart([]int{0, 0, 0})
	require.Zero(t, none.Upper)
	require.Empty(t, none.Outside())
	require.Zero(t, none.Quantile(0.99))
	require.True(t, math.IsNaN(stats.NewTChart([]float64{3}).Upper))
	require.True(t, math.IsNaN(stats.NewTChart([]float64{3, 0, 4}).Z[1]))
}

// The quantile's own definition: the first gap reached with that chance.
func TestGChart_QuantileIsTheFirstGapReached(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		g := stats.NewGChart(rapid.SliceOfN(rapid.IntRange(0, 2000), 1, 30).Draw(t, "gaps"))
		q := rapid.Float64Range(0.001, 0.999).Draw(t, "q")
		k := g.Quantile(q)
		reached := func(k float64) float64 { return 1 - math.Pow(1-g.Chance, k+1) }
		require.GreaterOrEqual(t, reached(k), q-1e-9)
		if k > 0 {
			require.Less(t, reached(k-1), q+1e-9)
		}
	})
}
