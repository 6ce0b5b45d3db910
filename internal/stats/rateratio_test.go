package stats_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

func TestCompareRates_AgreesWithRatiosWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	type row struct {
		X1, X2              int
		T1, T2, Conf        float64
		Ratio, Lower, Upper *float64
		PMinlike            *float64 `json:"p_minlike"`
		PCentral            *float64 `json:"p_central"`
		PMid                *float64 `json:"p_midp"`
		MidLower            *float64 `json:"midp_lower"`
		MidUpper            *float64 `json:"midp_upper"`
	}
	r := readReference[struct{ Rows []row }](t, "rate_ratio_exact")
	require.Len(t, r.Expected.Rows, 8)
	for _, c := range r.Expected.Rows {
		got := stats.CompareRates(stats.Rate{Events: c.X1, Exposure: c.T1}, stats.Rate{Events: c.X2, Exposure: c.T2}, c.Conf)
		for _, v := range []struct {
			what string
			want *float64
			got  float64
		}{
			{"ratio", c.Ratio, got.Ratio},
			{"lower", c.Lower, got.Exact.Lower},
			{"upper", c.Upper, got.Exact.Upper},
			{"mid-P lower", c.MidLower, got.MidP.Lower},
			{"mid-P upper", c.MidUpper, got.MidP.Upper},
			{"p, no likelier", c.PMinlike, got.P.Minimum},
			{"p, central", c.PCentral, got.P.Central},
			{"p, mid", c.PMid, got.P.Mid},
		} {
			r.agree(v.want, v.got, "%d/%v v %d/%v: %s", c.X1, c.T1, c.X2, c.T2, v.what)
		}
	}
	first := stats.CompareRates(stats.Rate{11, 800}, stats.Rate{21, 3011}, 0.95)
	breast := stats.CompareRates(stats.Rate{41, 28010}, stats.Rate{15, 19017}, 0.95)
	r.books(map[string]float64{
		"11/800 v 21/3011: ratio":        first.Ratio,
		"p (two-sided, minlike)":         first.P.Minimum,
		"lower":                          first.Exact.Lower,
		"41/28010 v 15/19017 rate ratio": breast.Ratio,
		"mid-P lower":                    breast.MidP.Lower,
	})
}

// Marsh et al., Trials 2018;19:564: 27 failures against 33, 228 and 217 per
// 1000 days, rate ratio 1.05 (0.61 to 1.80). The days follow from the rates.
func TestCompareRates_AgreesWithAPublishedTrial(t *testing.T) {
	t.Parallel()
	got := stats.CompareRates(stats.Rate{27, 27 / 0.228}, stats.Rate{33, 33 / 0.217}, 0.95)
	require.InDelta(t, 1.05, got.Ratio, 0.005)
	require.InDelta(t, 0.61, got.Exact.Lower, 0.005)
	require.InDelta(t, 1.80, got.Exact.Upper, 0.005)
}

func TestCompareRates_IsNoNumberForWhatIsNoRate(t *testing.T) {
	t.Parallel()
	for _, r := range []stats.Rate{{-1, 2}, {1, 0}} {
		got := stats.CompareRates(r, stats.Rate{1, 1}, 0.95)
		require.True(t, math.IsNaN(got.Ratio) && math.IsNaN(got.Exact.Lower) && math.IsNaN(got.P.Central))
	}
}

func TestCompareRates_TurnsRoundAndKeepsItsTestAndIntervalTogether(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := stats.Rate{rapid.IntRange(1, 300).Draw(t, "a"), rapid.Float64Range(1, 1e4).Draw(t, "days a")}
		b := stats.Rate{rapid.IntRange(1, 300).Draw(t, "b"), rapid.Float64Range(1, 1e4).Draw(t, "days b")}
		one, other := stats.CompareRates(a, b, 0.95), stats.CompareRates(b, a, 0.95)
		require.InEpsilon(t, 1/one.Exact.Upper, other.Exact.Lower, 1e-6)
		require.InEpsilon(t, 1/one.MidP.Upper, other.MidP.Lower, 1e-6)
		require.InDelta(t, one.P.Central, other.P.Central, 1e-9)
		require.True(t, one.Exact.Lower < one.MidP.Lower && one.MidP.Upper < one.Exact.Upper)
		if math.Abs(one.P.Central-0.05) > 1e-6 {
			holds := one.Exact.Lower <= 1 && 1 <= one.Exact.Upper
			require.Equal(t, holds, one.P.Central > 0.05, "%+v", one)
		}
	})
}
