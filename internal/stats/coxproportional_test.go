package stats_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// naive is the partial log-likelihood straight from its definition, without
// ties, the second half of beta being for covariates times a scale of time.
func naive(rows []stats.CoxRow, beta []float64, scale func(t float64) float64) float64 {
	sum, half := 0.0, len(beta)/2
	for _, d := range rows {
		if !d.Failed {
			continue
		}
		hazard := func(r stats.CoxRow) float64 {
			eta := 0.0
			for j, x := range r.Covariates {
				eta += x * (beta[j] + beta[half+j]*scale(d.Exit))
			}
			return eta
		}
		total := 0.0
		for _, r := range rows {
			if r.Entry < d.Exit && d.Exit <= r.Exit {
				total += math.Exp(hazard(r))
			}
		}
		sum += hazard(d) - math.Log(total)
	}
	return sum
}

// Against the definition: the likelihood, that no nearby coefficients are
// likelier, and the test of change over time from differences of the likelihood.
func TestFitCox_AgreesWithTheDefinition(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		rows := drawRows(t, false, true)
		for k := range rows {
			rows[k].Covariates = rows[k].Covariates[:1]
		}
		f, err := stats.FitCoxOfAnyEvents(rows, stats.Efron)
		if err != nil {
			t.Skip("nothing to fit")
		}
		g, err := stats.FitCoxOfAnyEvents(rows, stats.Breslow)
		require.NoError(t, err)
		require.InDelta(t, f.LogLikelihood, g.LogLikelihood, 1e-9)
		centre := 30.0
		scale := func(t float64) float64 { return (t - centre) / 10 }
		b := f.Coefficients[0].Value
		at := func(db, dg float64) float64 { return naive(rows, []float64{b + db, dg}, scale) }
		require.InDelta(t, at(0, 0), f.LogLikelihood, 1e-8)
		require.InDelta(t, naive(rows, []float64{0, 0}, scale), f.LogLikelihoodNull, 1e-8)
		const h = 1e-3
		second := func(x, y func(float64) (float64, float64)) float64 {
			move := func(i, j float64) float64 {
				a, c := x(i * h)
				d, e := y(j * h)
				return at(a+d, c+e)
			}
			return -(move(1, 1) - move(1, -1) - move(-1, 1) + move(-1, -1)) / (4 * h * h)
		}
		db := func(v float64) (float64, float64) { return v, 0 }
		dg := func(v float64) (float64, float64) { return 0, v }
		slope := (at(h, 0) - at(-h, 0)) / (2 * h)
		require.InDelta(t, 0, slope, 1e-4)
		ibb, ibg, igg := second(db, db), second(db, dg), second(dg, dg)
		require.InEpsilon(t, 1/math.Sqrt(ibb), f.Coefficients[0].SE, 1e-3)
		u := (at(0, h) - at(0, -h)) / (2 * h)
		z := f.Proportionality(stats.ByTime)
		require.InDelta(t, u*u/(igg-ibg*ibg/ibb), z.Each[0].ChiSquared, 1e-2+1e-2*z.Each[0].ChiSquared)
		require.InDelta(t, z.Global.ChiSquared, z.Each[0].ChiSquared, 1e-9)
		// The residuals come in order of time and average to the coefficient.
		mean := 0.0
		for k, r := range z.Residuals {
			mean += r.Coefficients[0] / float64(len(z.Residuals))
			require.True(t, k == 0 || z.Residuals[k-1].Time <= r.Time)
		}
		require.Len(t, z.Residuals, f.Events)
		require.InDelta(t, b, mean, 1e-6)
	})
}

// A hazard ratio that turns round with time is found out, one that does not is not.
func TestProportionality_FindsAChange(t *testing.T) {
	t.Parallel()
	var changing, steady []stats.CoxRow
	for k := range 200 {
		u := (float64(k) + 0.5) / 200
		steady = append(steady,
			stats.CoxRow{Exit: -math.Log(u), Failed: true, Covariates: []float64{0}},
			stats.CoxRow{Exit: -math.Log(u) / 2, Failed: true, Covariates: []float64{1}})
		changing = append(changing, // the same mean, but one wears out and the other does not
			stats.CoxRow{Exit: -math.Log(u), Failed: true, Covariates: []float64{0}},
			stats.CoxRow{Exit: math.Pow(-math.Log(u), 1.0/3), Failed: true, Covariates: []float64{1}})
	}
	for _, scale := range []stats.TimeScale{stats.ByKaplanMeier, stats.ByTime} {
		f, err := stats.FitCox(steady, stats.Efron)
		require.NoError(t, err)
		require.InDelta(t, math.Log(2), f.Coefficients[0].Value, 0.05)
		require.Greater(t, f.Proportionality(scale).Global.P, 0.5)
		f, err = stats.FitCox(changing, stats.Efron)
		require.NoError(t, err)
		require.Less(t, f.Proportionality(scale).Global.P, 1e-6)
	}
	var instant []stats.CoxRow
	for k := range 40 {
		instant = append(instant, stats.CoxRow{Exit: 1 + one(k%2 == 0), Failed: k%2 == 1, Covariates: []float64{float64(k % 5)}})
	}
	f, err := stats.FitCox(instant, stats.Efron)
	require.NoError(t, err)
	require.True(t, math.IsNaN(f.Proportionality(stats.ByTime).Global.P))
}
