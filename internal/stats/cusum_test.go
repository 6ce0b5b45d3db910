package stats_test

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

func rates(t require.TestingT, acceptable, unacceptable float64) stats.FailureRates {
	r, err := stats.NewFailureRates(acceptable, unacceptable)
	require.NoError(t, err)
	return r
}

// sequences reads the invented series of trials, a failure being true.
func sequences(t *testing.T) map[string][]bool {
	t.Helper()
	c := table(t, "cusum_sequences.csv")
	out := map[string][]bool{}
	for k, name := range c["sequence"] {
		out[name] = append(out[name], c["failure"][k] == "1")
	}
	return out
}

// first is the trial of the first signal as the reference files write it.
func first(trial int) *int {
	if trial == 0 {
		return nil
	}
	return &trial
}

func firstOf(signals []int) *int {
	if len(signals) == 0 {
		return nil
	}
	return first(signals[0])
}

// sums checks a path, each of its sums.
func (r *reference[E]) sums(want []*float64, got []float64, what string) {
	r.t.Helper()
	require.Len(r.t, got, len(want), what)
	for k := range want {
		r.agree(want[k], got[k], "%s after trial %d", what, k+1)
	}
}

func TestCusum_AgreesWithPathsOfBernoulliScores(t *testing.T) {
	t.Parallel()
	type setting struct {
		P0, P1, H float64
		Sequences map[string]struct {
			Failure    *float64 `json:"w_failure"`
			Success    *float64 `json:"w_success"`
			First      *int     `json:"first_signal"`
			Max, Final *float64
			Path       []*float64 `json:"path_no_reset"`
			Restarted  []int      `json:"signals_with_reset"`
		}
	}
	r := readReference[struct {
		Deterioration []setting
		Improvement   setting
	}](t, "cusum_bernoulli_llr")
	require.NotEmpty(t, r.Expected.Deterioration)
	failures := sequences(t)
	check := func(s setting, scores stats.Scores) {
		require.Len(t, s.Sequences, len(failures))
		for name, want := range s.Sequences {
			r.agree(want.Failure, scores.Failure, name)
			r.agree(want.Success, scores.Success, name)
			p := stats.Cusum{Limit: s.H}.Run(scores.Of(failures[name]))
			r.sums(want.Path, p.Sums, name)
			r.agree(want.Max, slices.Max(p.Sums), name)
			r.agree(want.Final, p.Sums[len(p.Sums)-1], name)
			same(r, want.First, firstOf(p.Signals), name)
			again := stats.Cusum{Limit: s.H, Restarts: true}.Run(scores.Of(failures[name]))
			same(r, want.Restarted, append([]int{}, again.Signals...), name)
		}
	}
	for _, s := range r.Expected.Deterioration {
		check(s, rates(t, s.P0, s.P1).Worsening())
	}
	check(r.Expected.Improvement, rates(t, r.Expected.Improvement.P1, r.Expected.Improvement.P0).Learning())
}

func TestCusum_AgreesWithLearningCurves(t *testing.T) {
	t.Parallel()
	r := readReference[[]struct {
		Acceptable   float64 `json:"p_ok"`
		Unacceptable float64 `json:"p_bad"`
		H            float64
		Sequences    map[string]struct {
			Failure   *float64 `json:"w_failure"`
			Success   *float64 `json:"w_success"`
			Competent *int     `json:"competent_at"`
			Max       *float64
			Path      []*float64
		}
	}](t, "lc_cusum")
	require.NotEmpty(t, r.Expected)
	failures := sequences(t)
	for _, s := range r.Expected {
		require.Len(t, s.Sequences, len(failures))
		scores := rates(t, s.Acceptable, s.Unacceptable).Learning()
		for name, want := range s.Sequences {
			r.agree(want.Failure, scores.Failure, name)
			r.agree(want.Success, scores.Success, name)
			p := stats.Cusum{Limit: s.H}.Run(scores.Of(failures[name]))
			r.sums(want.Path, p.Sums, name)
			r.agree(want.Max, slices.Max(p.Sums), name)
			same(r, want.Competent, firstOf(p.Signals), name)
		}
	}
}

// The weights of two designs of a learning curve, from the published formula.
func TestLearning_WeighsTrialsAsDerivedByHand(t *testing.T) {
	t.Parallel()
	s := rates(t, 0.10, 0.25).Learning()
	require.InDelta(t, 0.182322, s.Success, 5e-7)
	require.InDelta(t, -0.916291, s.Failure, 5e-7)
	s = rates(t, 0.25, 0.50).Learning()
	require.InDelta(t, 0.405465, s.Success, 5e-7)
	require.InDelta(t, -0.693147, s.Failure, 5e-7)
}

func TestCusum_AgreesOnEpisodesByOperator(t *testing.T) {
	t.Parallel()
	type sequential struct{ P0, P1, Alpha, Beta float64 }
	r := readReference[struct {
		Settings struct {
			LLR struct{ P0, P1, H float64 }
			LC  struct {
				Acceptable   float64 `json:"p_ok"`
				Unacceptable float64 `json:"p_bad"`
				H            float64
			}
			Kestin struct {
				sequential
				constants
			}
		}
		Operators []struct {
			Operator     string
			First        *int     `json:"llr_first_signal"`
			Restarted    int      `json:"llr_signals_with_reset"`
			Max          *float64 `json:"llr_max"`
			Final        *float64 `json:"llr_final"`
			Competent    *int     `json:"lc_competent_at"`
			LearningMax  *float64 `json:"lc_max"`
			Acceptable   *int     `json:"kestin_first_below_minus_h0"`
			Unacceptable *int     `json:"kestin_first_above_h1"`
			Sum          *float64 `json:"kestin_final"`
		}
	}](t, "episodes_small_operators")
	all := episodes(t)
	slices.SortFunc(all, func(a, b episode) int { return cmp.Or(a.in.Compare(b.in), cmp.Compare(a.id, b.id)) })
	llr, lc, k := r.Expected.Settings.LLR, r.Expected.Settings.LC, r.Expected.Settings.Kestin
	worsening, learning := rates(t, llr.P0, llr.P1).Worsening(), rates(t, lc.Acceptable, lc.Unacceptable).Learning()
	test, err := rates(t, k.P0, k.P1).Sequential(k.Alpha, k.Beta)
	require.NoError(t, err)
	r.constants(k.constants, test, "episodes")
	require.NotEmpty(t, r.Expected.Operators)
	for _, want := range r.Expected.Operators {
		var failures []bool
		for _, e := range all {
			if e.operator == want.Operator {
				failures = append(failures, !e.first)
			}
		}
		p := stats.Cusum{Limit: llr.H}.Run(worsening.Of(failures))
		same(r, want.First, firstOf(p.Signals), want.Operator)
		r.agree(want.Max, slices.Max(p.Sums), want.Operator)
		r.agree(want.Final, p.Sums[len(p.Sums)-1], want.Operator)
		again := stats.Cusum{Limit: llr.H, Restarts: true}.Run(worsening.Of(failures))
		same(r, want.Restarted, len(again.Signals), want.Operator)
		p = stats.Cusum{Limit: lc.H}.Run(learning.Of(failures))
		same(r, want.Competent, firstOf(p.Signals), want.Operator)
		r.agree(want.LearningMax, slices.Max(p.Sums), want.Operator)
		s := test.Run(failures)
		same(r, want.Acceptable, first(s.Acceptable), want.Operator)
		same(r, want.Unacceptable, first(s.Unacceptable), want.Operator)
		r.agree(want.Sum, s.Sums[len(s.Sums)-1], want.Operator)
	}
}

func TestNewFailureRates_RefusesRatesThatCannotBeToldApart(t *testing.T) {
	t.Parallel()
	for _, c := range [][2]float64{{0, 0.2}, {0.2, 0.2}, {0.4, 0.2}, {0.2, 1}, {-0.1, 0.2}, {math.NaN(), 0.2}, {0.2, math.NaN()}} {
		_, err := stats.NewFailureRates(c[0], c[1])
		require.ErrorIs(t, err, stats.ErrFailureRates, "%v", c)
	}
	r := rates(t, 0.2, 0.4)
	require.Equal(t, [2]float64{0.2, 0.4}, [2]float64{r.Acceptable(), r.Unacceptable()})
	for _, c := range [][2]float64{{0, 0.1}, {0.1, 0}, {0.5, 0.5}, {math.NaN(), 0.1}} {
		_, err := r.Sequential(c[0], c[1])
		require.ErrorIs(t, err, stats.ErrFailureRates, "%v", c)
	}
}

func TestCusum_NeverFallsBelowZeroAndSignalsWhereItReachesItsLimit(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		scores := rapid.SliceOf(rapid.Float64Range(-1, 1)).Draw(t, "scores")
		limit := rapid.Float64Range(0.1, 5).Draw(t, "limit")
		p := stats.Cusum{Limit: limit}.Run(scores)
		require.Len(t, p.Sums, len(scores))
		reached := slices.IndexFunc(p.Sums, func(s float64) bool { return s >= limit-1e-12 })
		for _, s := range p.Sums {
			require.GreaterOrEqual(t, s, 0.0)
		}
		if reached < 0 {
			require.Empty(t, p.Signals)
		} else {
			require.Equal(t, []int{reached + 1}, p.Signals)
		}

		// One that restarts is as another sum begun after its first signal.
		again := stats.Cusum{Limit: limit, Restarts: true}.Run(scores)
		if reached < 0 {
			require.Equal(t, p, again)
			return
		}
		rest := stats.Cusum{Limit: limit, Restarts: true}.Run(scores[reached+1:])
		require.Equal(t, slices.Concat(p.Sums[:reached+1], rest.Sums), again.Sums)
		require.Len(t, again.Signals, 1+len(rest.Signals))
		for k, s := range rest.Signals {
			require.Equal(t, s+reached+1, again.Signals[1+k])
		}
	})
}

// Eight times a tenth falls short of eight tenths by a rounding.
func TestCusum_SignalsOnItsLimitWhateverRoundingDid(t *testing.T) {
	t.Parallel()
	p := stats.Cusum{Limit: 0.8}.Run(slices.Repeat([]float64{0.1}, 8))
	require.Less(t, p.Sums[7], 0.8)
	require.Equal(t, []int{8}, p.Signals)
	p = stats.Cusum{Limit: 0.8}.Run([]float64{0.8 - 2e-12})
	require.Empty(t, p.Signals)
}
