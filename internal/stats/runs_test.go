package stats_test

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

func TestSignals_FindEachRuleWhereItIsComplete(t *testing.T) {
	t.Parallel()
	repeat := func(n int, values ...float64) []float64 {
		var out []float64
		for range n {
			out = append(out, values...)
		}
		return out
	}
	nan := math.NaN()
	for _, c := range []struct {
		name string
		rule stats.RunRule
		z    []float64
		at   []int
	}{
		{"beyond, above and below", stats.BeyondLimits, []float64{0, 3.1, 3, -3, -3.1}, []int{1, 4}},
		{"two of three", stats.TwoOfThree, []float64{2.1, 0, 2.1}, []int{2}},
		{"two of three on both sides are none", stats.TwoOfThree, []float64{2.1, 0, -2.1}, nil},
		{"two of three does not signal at the one between", stats.TwoOfThree, []float64{2.1, 2.1, 0}, nil},
		{"four of five", stats.FourOfFive, []float64{1.1, 1.1, -0.2, 1.1, 1.1}, []int{4}},
		{"four of five on the line are none", stats.FourOfFive, []float64{1, 1.1, -0.2, 1.1, 1.1}, nil},
		{"eight", stats.EightInARow, repeat(9, 0.1), []int{7, 8}},
		{"eight broken by one on the centre", stats.EightInARow, append(append(repeat(4, 0.1), 0), repeat(4, 0.1)...), nil},
		{"eight over one without a size", stats.EightInARow, append(append(repeat(4, 0.1), nan), repeat(4, 0.1)...), []int{8}},
		{"nine", stats.NineInARow, repeat(9, -0.1), []int{8}},
		{"six rising", stats.SixSteady, []float64{-0.5, -0.4, -0.3, 0.1, 0.2, 0.3}, []int{5}},
		{"six falling", stats.SixSteady, []float64{0.5, 0.4, 0.3, 0.1, 0, -0.3}, []int{5}},
		{"six with two alike", stats.SixSteady, []float64{-0.5, -0.4, -0.4, 0.1, 0.2, 0.3}, nil},
		{"fourteen alternating", stats.Alternating, repeat(7, 0.5, -0.5), []int{13}},
		{"thirteen alternating", stats.Alternating, repeat(7, 0.5, -0.5)[1:], nil},
		{"fifteen close", stats.Hugging, repeat(15, 0.9), []int{14}},
		{"eight far on both sides", stats.Avoiding, repeat(4, 1.1, -1.1), []int{7}},
		{"eight far on one side", stats.Avoiding, repeat(8, 1.1), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			require.NotEmpty(t, c.rule.Source)
			var at []int
			for _, s := range stats.Signals(c.z, []stats.RunRule{c.rule}) {
				require.Equal(t, c.rule.Name, s.Rule.Name)
				require.Less(t, s.From, s.At+1)
				at = append(at, s.At)
			}
			require.Equal(t, c.at, at)
		})
	}
}

// How long a chart runs on average until chance alone signals: Champ & Woodall
// 1987, Technometrics 29:393-9, by exact Markov chains (from memory): the
// limits alone 370.40, with two of three 225.44, with eight in a row 152.73,
// with all four 91.75. Here from 4,000 drawn charts, so within four errors.
func TestSignals_RunAsLongUnderChanceAsPublished(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		rules []stats.RunRule
		mean  float64
	}{
		{"limits", []stats.RunRule{stats.BeyondLimits}, 370.40},
		{"limits and two of three", []stats.RunRule{stats.BeyondLimits, stats.TwoOfThree}, 225.44},
		{"limits and eight", []stats.RunRule{stats.BeyondLimits, stats.EightInARow}, 152.73},
		{"all four", stats.WesternElectricRules(), 91.75},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(3, 4))
			const charts = 4000
			sum := 0.0
			for range charts {
				var last []float64
				for n := 1; ; n++ {
					last = append(last, r.NormFloat64())
					last = last[max(0, len(last)-8):]
					found := stats.Signals(last, c.rules)
					if len(found) > 0 && found[len(found)-1].At == len(last)-1 {
						sum += float64(n)
						break
					}
				}
			}
			require.InEpsilon(t, c.mean, sum/charts, 4/math.Sqrt(charts))
		})
	}
}

func TestSignals_MirrorAndNeverLookAhead(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.SliceOfN(rapid.Float64Range(-4, 4), 0, 40).Draw(t, "z")
		mirrored := make([]float64, len(z))
		for k, v := range z {
			mirrored[k] = -v
		}
		all := stats.Signals(z, stats.NelsonRules())
		other := stats.Signals(mirrored, stats.NelsonRules())
		require.Len(t, other, len(all))
		cut := rapid.IntRange(0, len(z)).Draw(t, "cut")
		before := stats.Signals(z[:cut], stats.NelsonRules())
		for k, s := range all {
			require.Equal(t, s.Rule.Name, other[k].Rule.Name)
			require.Equal(t, s.At, other[k].At)
			if s.At < cut {
				require.Equal(t, s.At, before[k].At)
			}
		}
	})
}

// The longest run usual in so many useful points, as Anhoej & Olesen 2014 table
// it (from memory); the crossings against whole-number sums of Pascal's triangle.
func TestRunChart_HasTheLimitsOfItsSource(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ useful, longest int }{{10, 6}, {12, 7}, {16, 7}, {20, 7}, {24, 8}, {30, 8}, {60, 9}} {
		values := make([]float64, c.useful)
		for k := range values {
			values[k] = float64(1 - 2*(k%2))
		}
		r := stats.NewRunChart(values, 0)
		require.Equal(t, c.useful-1, r.Crossings)
		require.Equal(t, c.longest, r.LongestUsual, "%d", c.useful)
		below := int64(0) // ways of fewer crossings than the limit
		for j := range int64(r.CrossingsUsual) {
			below += new(big.Int).Binomial(int64(c.useful-1), j).Int64()
		}
		at := below + new(big.Int).Binomial(int64(c.useful-1), int64(r.CrossingsUsual)).Int64()
		twentieth := math.Pow(2, float64(c.useful-1)) / 20
		require.Less(t, float64(below), twentieth, "%d", c.useful)
		require.GreaterOrEqual(t, float64(at), twentieth, "%d", c.useful)
		require.False(t, r.Unusual())
	}
	shifted := stats.NewRunChart([]float64{1, 2, 1, 0, 2, 1, 3, 1, -1, -2, -1}, 0)
	require.Equal(t, stats.RunChart{Useful: 10, Longest: 7, Crossings: 1, LongestUsual: 6, CrossingsUsual: 2}, shifted)
	require.True(t, shifted.Unusual())
	require.False(t, stats.NewRunChart(nil, 0).Unusual())
}
