package stats_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

func TestSeries_RunsAsLongAsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Page []struct {
			P, K  float64
			Steps float64 `json:"H"` // the limit in tenths
			Limit float64 `json:"h"`
			Arl   *float64
		} `json:"page_lattice"`
		LLR []struct {
			P0, P1, H float64
			P         float64 `json:"p_true"`
			Arl       *float64
			By30      *float64 `json:"prob_signal_by_30"`
			By50      *float64 `json:"prob_signal_by_50"`
			By100     *float64 `json:"prob_signal_by_100"`
		}
		Learning []struct {
			Acceptable   float64 `json:"p_ok"`
			Unacceptable float64 `json:"p_bad"`
			H            float64
			P            float64  `json:"p_true"`
			Arl          *float64 `json:"arl_to_competence"`
			By30         *float64 `json:"prob_by_30"`
			By50         *float64 `json:"prob_by_50"`
			By100        *float64 `json:"prob_by_100"`
		} `json:"lc_cusum"`
	}](t, "cusum_arl")
	require.NotEmpty(t, r.Expected.Page)
	for _, w := range r.Expected.Page {
		s := stats.Series{Scores: stats.Scores{Failure: 1 - w.K, Success: -w.K}, FailureRate: w.P}
		require.InDelta(t, w.Limit, w.Steps*w.K, 1e-12)
		r.agree(w.Arl, s.AverageRunLength(w.Limit), "lattice, p %v, h %v", w.P, w.Limit)
	}
	require.NotEmpty(t, r.Expected.LLR)
	for _, w := range r.Expected.LLR {
		s := stats.Series{Scores: rates(t, w.P0, w.P1).Worsening(), FailureRate: w.P}
		what := fmt.Sprint("worsening, rates ", w.P0, w.P1, ", actual ", w.P)
		r.agree(w.Arl, s.AverageRunLength(w.H), what)
		r.agree(w.By30, s.SignalWithin(30, w.H), what)
		r.agree(w.By50, s.SignalWithin(50, w.H), what)
		r.agree(w.By100, s.SignalWithin(100, w.H), what)
	}
	require.NotEmpty(t, r.Expected.Learning)
	for _, w := range r.Expected.Learning {
		s := stats.Series{Scores: rates(t, w.Acceptable, w.Unacceptable).Learning(), FailureRate: w.P}
		what := fmt.Sprint("learning, rates ", w.Acceptable, w.Unacceptable, ", actual ", w.P)
		r.agree(w.Arl, s.AverageRunLength(w.H), what)
		r.agree(w.By30, s.SignalWithin(30, w.H), what)
		r.agree(w.By50, s.SignalWithin(50, w.H), what)
		r.agree(w.By100, s.SignalWithin(100, w.H), what)
	}
}

// With a limit that one failure reaches, the run is until the first failure; with
// one that takes two failures running, it is the wait for such a run, (1+p)/p²
// (Feller, An Introduction to Probability Theory, vol. 1, 3rd ed. 1968, XIII.7;
// from memory).
func TestSeries_RunsAsLongAsAWaitForFailuresInARow(t *testing.T) {
	t.Parallel()
	for _, p := range []float64{0.01, 0.2, 0.5, 0.9} {
		one := stats.Series{Scores: stats.Scores{Failure: 1, Success: -1}, FailureRate: p}
		require.InEpsilon(t, 1/p, one.AverageRunLength(1), 1e-12)
		require.InEpsilon(t, 1-math.Pow(1-p, 7), one.SignalWithin(7, 1), 1e-12)
		two := stats.Series{Scores: stats.Scores{Failure: 1, Success: -5}, FailureRate: p}
		require.InEpsilon(t, (1+p)/(p*p), two.AverageRunLength(2), 1e-12)
		require.InEpsilon(t, p*p, two.SignalWithin(2, 2), 1e-12)
		require.InEpsilon(t, p*p*(2-p), two.SignalWithin(3, 2), 1e-12)
	}
}

// The sum of 40 000 series drawn with a known seed signals when the chain says,
// within five standard errors.
func TestSeries_RunsAsLongAsSimulatedSums(t *testing.T) {
	t.Parallel()
	draw := rand.New(rand.NewPCG(7, 11))
	r := rates(t, 0.20, 0.40)
	for _, s := range []stats.Series{
		{r.Worsening(), 0.20}, {r.Worsening(), 0.40}, {r.Learning(), 0.20}, {r.Learning(), 0.40},
	} {
		const limit, series, trials = 1.7, 40_000, 30
		var total, squares, within float64
		for range series {
			n := simulate(limit, func() float64 {
				if draw.Float64() < s.FailureRate {
					return s.Scores.Failure
				}
				return s.Scores.Success
			})
			total += n
			squares += n * n
			within += one(n <= trials)
		}
		mean := total / series
		se := math.Sqrt((squares/series - mean*mean) / series)
		require.InDelta(t, mean, s.AverageRunLength(limit), 5*se)
		p := within / series
		require.InDelta(t, p, s.SignalWithin(trials, limit), 5*math.Sqrt(p*(1-p)/series))
	}
}

// simulate is the trial at which a sum of scores drawn signals.
func simulate(limit float64, score func() float64) float64 {
	sum := 0.0
	for n := 1.0; ; n++ {
		sum = max(0, sum+score())
		if sum >= limit-1e-12 {
			return n
		}
	}
}

func TestSeries_SignalsSoonerTheLowerItsLimit(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p0 := rapid.Float64Range(0.05, 0.3).Draw(t, "acceptable")
		r := rates(t, p0, p0+rapid.Float64Range(0.05, 0.3).Draw(t, "more"))
		s := stats.Series{Scores: r.Worsening(), FailureRate: rapid.Float64Range(0.02, 0.9).Draw(t, "actual")}
		if rapid.Bool().Draw(t, "learning") {
			s.Scores = r.Learning()
		}
		low := rapid.Float64Range(0.1, 3).Draw(t, "limit")
		high := low + rapid.Float64Range(0, 2).Draw(t, "higher")
		require.LessOrEqual(t, s.AverageRunLength(low), s.AverageRunLength(high)*(1+1e-12))
		trials := rapid.IntRange(0, 60).Draw(t, "trials")
		require.GreaterOrEqual(t, s.SignalWithin(trials, low), s.SignalWithin(trials, high)-1e-12)
		require.LessOrEqual(t, s.SignalWithin(trials, low), s.SignalWithin(trials+1, low)+1e-12)
		require.LessOrEqual(t, s.SignalWithin(trials, low), 1+1e-12)

		// The limit found gives the run length wanted, and one a little lower does not.
		wanted := rapid.Float64Range(2, 2000).Draw(t, "wanted")
		limit, err := s.LimitFor(wanted)
		require.NoError(t, err)
		require.GreaterOrEqual(t, s.AverageRunLength(limit), wanted)
		if limit > max(s.Scores.Failure, s.Scores.Success) {
			require.Less(t, s.AverageRunLength(limit*(1-1e-8)), wanted)
		}
	})
}

func TestSeries_LimitWithinKeepsTheProbabilityAsked(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(0.05, 0.6).Draw(t, "acceptable")
		s := stats.Series{Scores: rates(t, low, low+0.2).Learning(), FailureRate: rapid.Float64Range(0, 1).Draw(t, "failing")}
		trials, probability := rapid.IntRange(1, 120).Draw(t, "trials"), rapid.Float64Range(0.001, 0.9).Draw(t, "probability")
		limit, err := s.LimitWithin(trials, probability)
		require.NoError(t, err)
		require.LessOrEqual(t, s.SignalWithin(trials, limit), probability)
		if limit > max(s.Scores.Failure, s.Scores.Success) {
			require.Greater(t, s.SignalWithin(trials, limit*(1-1e-8)), probability)
		}
	})
	_, err := stats.Series{}.LimitWithin(50, 0.1)
	require.ErrorIs(t, err, stats.ErrNoLimit)
	_, err = stats.Series{Scores: rates(t, 0.2, 0.4).Learning(), FailureRate: 0.4}.LimitWithin(50, 0)
	require.ErrorIs(t, err, stats.ErrNoLimit)
}

func TestSeries_SaysWhatCannotSignalOrIsNone(t *testing.T) {
	t.Parallel()
	good := stats.Series{Scores: rates(t, 0.2, 0.4).Worsening(), FailureRate: 0.2}
	never := good
	never.FailureRate = 0
	require.Equal(t, math.Inf(1), never.AverageRunLength(3))
	require.Zero(t, never.SignalWithin(1000, 3))
	always := good
	always.FailureRate = 1
	require.InDelta(t, 5, always.AverageRunLength(3), 1e-12)
	require.InDelta(t, 1, always.SignalWithin(5, 3), 1e-12)
	require.Zero(t, always.SignalWithin(4, 3))
	require.Zero(t, good.SignalWithin(0, 3))

	for name, s := range map[string]stats.Series{
		"no scores":        {FailureRate: 0.2},
		"both rise":        {Scores: stats.Scores{Failure: 1, Success: 1}, FailureRate: 0.2},
		"both fall":        {Scores: stats.Scores{Failure: -1, Success: -1}, FailureRate: 0.2},
		"a rate above 1":   {Scores: good.Scores, FailureRate: 1.1},
		"no rate":          {Scores: good.Scores, FailureRate: math.NaN()},
		"an endless score": {Scores: stats.Scores{Failure: math.Inf(1), Success: -1}, FailureRate: 0.2},
	} {
		require.True(t, math.IsNaN(s.AverageRunLength(3)), name)
		require.True(t, math.IsNaN(s.SignalWithin(10, 3)), name)
		_, err := s.LimitFor(100)
		require.ErrorIs(t, err, stats.ErrNoLimit, name)
	}
	for _, limit := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		require.True(t, math.IsNaN(good.AverageRunLength(limit)), "%v", limit)
	}
	for _, wanted := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := good.LimitFor(wanted)
		require.ErrorIs(t, err, stats.ErrNoLimit, "%v", wanted)
	}
}

// What a page of one person's record asks for.
func BenchmarkSeries(b *testing.B) {
	r := rates(b, 0.20, 0.40)
	for b.Loop() {
		limit, err := stats.Series{Scores: r.Worsening(), FailureRate: 0.20}.LimitFor(500)
		require.NoError(b, err)
		require.NotZero(b, stats.Series{Scores: r.Worsening(), FailureRate: 0.40}.AverageRunLength(limit))
		require.NotZero(b, stats.Series{Scores: r.Learning(), FailureRate: 0.20}.SignalWithin(100, 1.7))
		require.NotZero(b, stats.Series{Scores: r.Learning(), FailureRate: 0.40}.SignalWithin(100, 1.7))
	}
}
