package stats_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// constants are those of a sequential test as the reference files give them.
type constants struct {
	S         *float64
	OneMinusS *float64 `json:"one_minus_s"`
	H0, H1    *float64
	Fewest    int      `json:"min_successes_to_h0"`
	AtP0      *float64 `json:"asn_p0"`
	AtP1      *float64 `json:"asn_p1"`
}

func (r *reference[E]) constants(want constants, got stats.SequentialTest, what string) {
	r.t.Helper()
	r.agree(want.S, -got.Scores.Success, what)
	r.agree(want.OneMinusS, got.Scores.Failure, what)
	r.agree(want.H0, got.Lower, what)
	r.agree(want.H1, got.Upper, what)
	same(r, want.Fewest, got.FewestTrials(), what)
	acceptable, unacceptable := got.AverageTrials()
	r.agree(want.AtP0, acceptable, what)
	r.agree(want.AtP1, unacceptable, what)
}

func TestSequential_AgreesWithConstantsAndPaths(t *testing.T) {
	t.Parallel()
	type design struct{ P0, P1, Alpha, Beta float64 }
	r := readReference[struct {
		Constants []struct {
			design
			constants
		}
		Paths []struct {
			design
			Sequences map[string]struct {
				Path         []*float64
				Acceptable   *int `json:"first_below_minus_h0"`
				Unacceptable *int `json:"first_above_h1"`
				Final        *float64
			}
		}
	}](t, "cusum_kestin")
	of := func(d design) stats.SequentialTest {
		s, err := rates(t, d.P0, d.P1).Sequential(d.Alpha, d.Beta)
		require.NoError(t, err)
		return s
	}
	require.NotEmpty(t, r.Expected.Constants)
	for _, want := range r.Expected.Constants {
		r.constants(want.constants, of(want.design), "constants")
	}
	failures := sequences(t)
	require.NotEmpty(t, r.Expected.Paths)
	for _, want := range r.Expected.Paths {
		require.Len(t, want.Sequences, len(failures))
		for name, w := range want.Sequences {
			p := of(want.design).Run(failures[name])
			r.sums(w.Path, p.Sums, name)
			same(r, w.Acceptable, first(p.Acceptable), name)
			same(r, w.Unacceptable, first(p.Unacceptable), name)
			r.agree(w.Final, p.Sums[len(p.Sums)-1], name)
		}
	}
	tenth, twentieth, fifth := of(design{0.10, 0.20, 0.1, 0.1}), of(design{0.05, 0.10, 0.1, 0.1}), of(design{0.20, 0.40, 0.1, 0.1})
	r.books(map[string]float64{
		"s (p0 .10, p1 .20)": -tenth.Scores.Success, "h0=h1 (.10,.20,.1,.1)": tenth.Lower,
		"s (.05,.10)": -twentieth.Scores.Success, "h0 (.05,.10,.1,.1)": twentieth.Lower,
		"h0 (.20,.40,.1,.1)": fifth.Lower,
	})
	// That the risks are equal makes the boundaries so.
	require.InDelta(t, tenth.Lower, tenth.Upper, 1e-12)
}

// The sum is the log-likelihood ratio of all trials so far in other units, and
// the fewest trials are all successes.
func TestSequential_IsALikelihoodRatio(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p0 := rapid.Float64Range(0.02, 0.4).Draw(t, "acceptable")
		p1 := p0 + rapid.Float64Range(0.05, 0.5).Draw(t, "more")
		alpha, beta := rapid.Float64Range(0.01, 0.4).Draw(t, "alpha"), rapid.Float64Range(0.01, 0.4).Draw(t, "beta")
		s, err := rates(t, p0, p1).Sequential(alpha, beta)
		require.NoError(t, err)
		failures := rapid.SliceOf(rapid.Bool()).Draw(t, "failures")
		p := s.Run(failures)
		scale, failed := math.Log(p1/p0)+math.Log((1-p0)/(1-p1)), 0.0
		for k, f := range failures {
			failed += one(f)
			succeeded := float64(k+1) - failed
			ratio := failed*math.Log(p1/p0) + succeeded*math.Log((1-p1)/(1-p0))
			require.InDelta(t, ratio/scale, p.Sums[k], 1e-9)
		}
		n := s.FewestTrials()
		require.Equal(t, n, s.Run(make([]bool, n)).Acceptable)
	})
}

// So many successes reach the boundary exactly, whatever rounding says.
func TestSequential_CountsTheFewestTrialsThatEndOnTheBoundary(t *testing.T) {
	t.Parallel()
	for n := 1; n <= 30; n++ {
		odds := math.Pow(0.8/0.6, float64(n)) // of the acceptable rate after n successes
		beta := 0.5 / odds
		s, err := rates(t, 0.2, 0.4).Sequential(1-odds*beta, beta)
		require.NoError(t, err)
		require.Equal(t, n, s.FewestTrials())
		require.Equal(t, n, s.Run(make([]bool, n)).Acceptable)
		require.Zero(t, s.Run(make([]bool, n-1)).Acceptable)
	}
}
