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

func TestRate_AgreesWithIntervalsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	type row struct {
		Events                int
		Persontime, Per, Conf float64
		Rate, Lower, Upper    *float64
		CountLower            *float64 `json:"count_lower"`
		CountUpper            *float64 `json:"count_upper"`
	}
	r := readReference[map[string][]row](t, "poisson_exact")
	found := map[string]float64{}
	for group, rows := range r.Expected {
		for _, c := range rows {
			rate := stats.Rate{Events: c.Events, Exposure: c.Persontime / c.Per}
			i := rate.Interval(c.Conf)
			r.agree(c.Rate, rate.Estimate(), "%s %+v", group, c)
			r.agree(c.Lower, i.Lower, "%s %+v", group, c)
			r.agree(c.Upper, i.Upper, "%s %+v", group, c)
			count := stats.Rate{Events: c.Events, Exposure: 1}.Interval(c.Conf)
			r.agree(c.CountLower, count.Lower, "%s %+v", group, c)
			r.agree(c.CountUpper, count.Upper, "%s %+v", group, c)
			if group == "counts" {
				found[fmt.Sprintf("x=%d lower", c.Events)] = i.Lower
				found[fmt.Sprintf("x=%d upper", c.Events)] = i.Upper
			}
		}
	}
	r.books(found)
}

func TestRate_IsNoNumberForWhatIsNoRate(t *testing.T) {
	t.Parallel()
	for _, r := range []stats.Rate{{-1, 2}, {1, 0}, {0, -1}, {1, math.NaN()}, {1, math.Inf(1)}} {
		require.True(t, math.IsNaN(r.Estimate()))
		require.True(t, math.IsNaN(r.Interval(0.95).Lower) && math.IsNaN(r.Interval(0.95).Upper), "%+v", r)
	}
	require.True(t, math.IsNaN(stats.Rate{1, 1}.Interval(1).Upper))
	require.Zero(t, stats.Rate{0, 5}.Interval(0.95).Lower)
}

// The interval's own definition: at each end, what was seen or more extreme has half the error.
func TestRate_IntervalLeavesHalfTheErrorAtEachEnd(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.IntRange(0, 100_000).Draw(t, "events")
		days := rapid.Float64Range(0.01, 1e6).Draw(t, "days")
		r := stats.Rate{Events: x, Exposure: days}
		i := r.Interval(0.95)
		require.True(t, i.Lower <= r.Estimate() && r.Estimate() < i.Upper)
		require.InDelta(t, 0.025, distuv.Poisson{Lambda: i.Upper * days}.CDF(float64(x)), 1e-8)
		if x > 0 {
			require.InDelta(t, 0.975, distuv.Poisson{Lambda: i.Lower * days}.CDF(float64(x-1)), 1e-8)
		}
	})
}
