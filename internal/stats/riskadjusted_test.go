package stats_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

func TestOddsRatio_ScoresAsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Scores []struct {
			P, RA, Y float64
			Score    *float64
		}
		Path struct {
			RA        float64
			Path      []*float64
			Max       *float64
			First     *int  `json:"first_signal_h4.5"`
			Restarted []int `json:"signals_with_reset_h2.5"`
		}
	}](t, "cusum_risk_adjusted")
	require.NotEmpty(t, r.Expected.Scores)
	for _, w := range r.Expected.Scores {
		got := stats.OddsRatio(w.RA).Scores(w.P).Of([]bool{w.Y == 1})
		r.agree(w.Score, got[0], "p %v, odds ratio %v, failed %v", w.P, w.RA, w.Y)
	}
	c := table(t, "cusum_risk_adjusted.csv")
	var scores []float64
	for k, p := range numbers(t, c["predicted"]) {
		scores = append(scores, stats.OddsRatio(r.Expected.Path.RA).Scores(p).Of([]bool{c["failure"][k] == "1"})...)
	}
	p := stats.Cusum{Limit: 4.5}.Run(scores)
	r.sums(r.Expected.Path.Path, p.Sums, "path")
	r.agree(r.Expected.Path.Max, slices.Max(p.Sums), "max")
	same(r, r.Expected.Path.First, firstOf(p.Signals), "first signal at 4.5")
	same(r, r.Expected.Path.Restarted, stats.Cusum{Limit: 2.5, Restarts: true}.Run(scores).Signals, "signals at 2.5")
}

// Where every trial is as hard, the risk-adjusted sum is the plain one.
func TestOddsRatio_ScoresAsRatesDoWhereAllRisksAreEqual(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p0 := rapid.Float64Range(0.01, 0.5).Draw(t, "expected")
		ratio := stats.OddsRatio(rapid.Float64Range(1.1, 8).Draw(t, "ratio"))
		p1 := ratio.Of(p0)
		require.InEpsilon(t, float64(ratio), p1/(1-p1)/(p0/(1-p0)), 1e-9)
		a, b := rates(t, p0, p1).Worsening(), ratio.Scores(p0)
		require.InDelta(t, a.Failure, b.Failure, 1e-9)
		require.InDelta(t, a.Success, b.Success, 1e-9)
	})
}

// mix is how hard trials are, from easy to hard.
func mix() []float64 {
	var out []float64
	for k := range 50 {
		out = append(out, 0.03+0.5*math.Pow(float64(k)/49, 2))
	}
	return out
}

// Two scores alone are the hardest case for a chain in steps, and the one whose
// exact run length is known.
func TestMixedSeries_RunsAsLongAsOneWhoseRisksAreEqual(t *testing.T) {
	t.Parallel()
	for _, p0 := range []float64{0.05, 0.1, 0.2, 0.3} {
		for _, tested := range []stats.OddsRatio{2, 2.5, 0.5} {
			for _, actual := range []stats.OddsRatio{1, tested} {
				for _, limit := range []float64{2, 3, 4.5} {
					exact := stats.Series{Scores: tested.Scores(p0), FailureRate: actual.Of(p0)}.AverageRunLength(limit)
					got := stats.MixedSeries{Expected: []float64{p0}, Tested: tested, Actual: actual}.AverageRunLength(limit)
					require.InEpsilon(t, exact, got, 0.03, "p %v, tested %v, actual %v, limit %v", p0, tested, actual, limit)
				}
			}
		}
	}
}

// Sums of 10 000 series drawn with a known seed signal when the chain says, within
// five standard errors and a hundredth, over many risks and over two.
func TestMixedSeries_RunsAsLongAsSimulatedSums(t *testing.T) {
	t.Parallel()
	draw := rand.New(rand.NewPCG(3, 5))
	const limit, series = 2.5, 10_000
	for _, s := range []stats.MixedSeries{
		{mix(), 2, 1}, {mix(), 2, 2}, {mix(), 0.5, 1}, {mix(), 0.5, 0.5},
		{[]float64{0.1, 0.1, 0.1, 0.3}, 2, 1},
	} {
		var total, squares float64
		for range series {
			n := simulate(limit, func() float64 {
				p := s.Expected[draw.IntN(len(s.Expected))]
				return s.Tested.Scores(p).Of([]bool{draw.Float64() < s.Actual.Of(p)})[0]
			})
			total += n
			squares += n * n
		}
		mean := total / series
		se := math.Sqrt((squares/series - mean*mean) / series)
		require.InDelta(t, mean, s.AverageRunLength(limit), 5*se+0.01*mean)
	}
}

// The same chain over scores that follow a normal distribution, whose run
// lengths are printed and were worked out to many digits by another program.
func TestMixedSeries_RunsOnAChainThatAgreesOnNormalScores(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile(referenceFolder + "cusum_arl_normal.json")
	require.NoError(t, err)
	r := reference[struct {
		Rows []struct {
			K, H, Delta float64
			OneSided    float64 `json:"arl_one_sided"`
			TwoSided    float64 `json:"arl_two_sided"`
		}
	}]{t: t}
	require.NoError(t, json.Unmarshal(text, &r))
	require.NotEmpty(t, r.Expected.Rows)
	run := func(k, h, delta float64) float64 {
		const width = 0.01
		var scores, probabilities []float64
		for z := -9.0; z < 9; z += width {
			scores = append(scores, z+delta-k)
			probabilities = append(probabilities, distuv.UnitNormal.CDF(z+width/2)-distuv.UnitNormal.CDF(z-width/2))
		}
		return stats.BrookEvans(scores, probabilities, h)
	}
	both := func(k, h, delta float64) float64 {
		return 1 / (1/run(k, h, delta) + 1/run(k, h, -delta))
	}
	for _, w := range r.Expected.Rows {
		require.InEpsilon(t, w.OneSided, run(w.K, w.H, w.Delta), 0.0005, "%+v", w)
		require.InEpsilon(t, w.TwoSided, both(w.K, w.H, w.Delta), 0.0005, "%+v", w)
	}
	r.books(map[string]float64{
		"two-sided h=5 delta=0": both(0.5, 5, 0), "h=5 delta=.5": both(0.5, 5, 0.5), "h=5 delta=1": both(0.5, 5, 1),
		"h=4 delta=0": both(0.5, 4, 0), "h=4 delta=.5": both(0.5, 4, 0.5), "h=4 delta=1": both(0.5, 4, 1),
	})
}

func TestMixedSeries_FindsTheLimitOfARunLength(t *testing.T) {
	t.Parallel()
	for _, wanted := range []float64{50, 500, 5000} {
		s := stats.MixedSeries{Expected: mix(), Tested: 2, Actual: 1}
		limit, err := s.LimitFor(wanted)
		require.NoError(t, err)
		require.InEpsilon(t, wanted, s.AverageRunLength(limit), 0.01)
	}
}

func TestMixedSeries_SaysWhatCannotSignalOrIsNone(t *testing.T) {
	t.Parallel()
	require.True(t, math.IsInf(stats.MixedSeries{[]float64{0.2}, 2, 0}.AverageRunLength(3), 1), "nobody fails")
	for name, s := range map[string]stats.MixedSeries{
		"no trials":               {nil, 2, 1},
		"more than certain":       {[]float64{1.2}, 2, 1},
		"less than impossible":    {[]float64{-0.2}, 2, 1},
		"no probability":          {[]float64{math.NaN()}, 2, 1},
		"nothing to look for":     {[]float64{0.2}, 0, 1},
		"less than nothing":       {[]float64{0.2}, -2, 1},
		"actually less than none": {[]float64{0.2}, 2, -1},
	} {
		require.True(t, math.IsNaN(s.AverageRunLength(3)), name)
		_, err := s.LimitFor(100)
		require.ErrorIs(t, err, stats.ErrNoLimit, name)
	}
	for _, limit := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		require.True(t, math.IsNaN(stats.MixedSeries{mix(), 2, 1}.AverageRunLength(limit)))
	}
	_, err := stats.MixedSeries{mix(), 1, 1}.LimitFor(100)
	require.ErrorIs(t, err, stats.ErrNoLimit, "a ratio of 1 scores nothing")
}

func BenchmarkMixedSeries(b *testing.B) {
	for b.Loop() {
		_, err := stats.MixedSeries{mix(), 2, 1}.LimitFor(500)
		require.NoError(b, err)
	}
}
