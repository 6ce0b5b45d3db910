package stats_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// alike is so many trials with the same covariates, of which some failed.
func alike(failed, trials int, covariates ...float64) []stats.LogisticRow {
	var rows []stats.LogisticRow
	for k := range trials {
		rows = append(rows, stats.LogisticRow{Failed: k < failed, Covariates: covariates})
	}
	return rows
}

// The coefficient of a two-by-two table is its log odds ratio, whose error is
// the root of the sum of reciprocals (Woolf 1955, Ann Hum Genet 19:251-3).
func TestFitLogistic_IsWoolfsOddsRatioOfATwoByTwoTable(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.IntRange(5, 90)
		a, b := cell.Draw(t, "failed with"), cell.Draw(t, "succeeded with")
		c, d := cell.Draw(t, "failed without"), cell.Draw(t, "succeeded without")
		f, err := stats.FitLogistic(append(alike(a, a+b, 1), alike(c, c+d, 0)...))
		require.NoError(t, err)
		A, B, C, D := float64(a), float64(b), float64(c), float64(d)
		require.InDelta(t, math.Log(A*D/(B*C)), f.Coefficients[0].Value, 1e-7)
		require.InEpsilon(t, math.Sqrt(1/A+1/B+1/C+1/D), f.Coefficients[0].SE, 1e-7)
		require.InEpsilon(t, A*D/(B*C), f.Coefficients[0].Ratio(), 1e-7)
		require.True(t, math.IsNaN(f.Coefficients[0].Interval(1).Lower))
		require.InDelta(t, math.Log(C/D), f.Intercept.Value, 1e-7)
		require.InEpsilon(t, math.Sqrt(1/C+1/D), f.Intercept.SE, 1e-7)
		require.InDelta(t, -1/C-1/D, f.Covariance.At(0, 1), 1e-7)
		// The likelihood ratio is the G of the table (Sokal & Rohlf, Biometry).
		g, n := 0.0, A+B+C+D
		for _, v := range [][3]float64{{A, A + B, A + C}, {B, A + B, B + D}, {C, C + D, A + C}, {D, C + D, B + D}} {
			g += 2 * v[0] * math.Log(v[0]*n/(v[1]*v[2]))
		}
		require.InDelta(t, g, f.LikelihoodRatio.ChiSquared, 1e-7)
		require.Equal(t, 1, f.LikelihoodRatio.DF)
		require.Equal(t, [2]int{a + b + c + d, a + c}, [2]int{f.Rows, f.Failures})
	})
}

// Heart disease by how often people snore, scored 0, 2, 4 and 5: log odds of
// -3.87 and 0.40 a point, the expected counts of the four groups, and 2.8 on two
// degrees of freedom for what the line leaves over (Norton & Dunlop 1985, BMJ
// 291:630-2, as fitted in Agresti, An Introduction to Categorical Data Analysis;
// all from memory).
func TestFitLogistic_AgreesWithAPrintedExample(t *testing.T) {
	t.Parallel()
	groups := []struct {
		failed, trials int
		snoring        float64
	}{{24, 1379, 0}, {35, 638, 2}, {21, 213, 4}, {30, 254, 5}}
	var rows []stats.LogisticRow
	saturated := 0.0
	for _, g := range groups {
		rows = append(rows, alike(g.failed, g.trials, g.snoring)...)
		y, n := float64(g.failed), float64(g.trials)
		saturated += y*math.Log(y/n) + (n-y)*math.Log(1-y/n)
	}
	f, err := stats.FitLogistic(rows)
	require.NoError(t, err)
	require.InDelta(t, -3.87, f.Intercept.Value, 0.005)
	require.InDelta(t, 0.40, f.Coefficients[0].Value, 0.005)
	require.InDelta(t, 0.05, f.Coefficients[0].SE, 0.0005)
	require.InDelta(t, 2.8, 2*(saturated-f.LogLikelihood), 0.05)
	for k, share := range []float64{0.021, 0.044, 0.093, 0.132} {
		require.InDelta(t, share, f.Probability([]float64{groups[k].snoring}), 0.0005)
	}
}

// With a covariate for each group but the first, every group is expected to fail
// as it did.
func TestFitLogistic_GivesBackTheProportionsIfItCanFollowThemAll(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 5).Draw(t, "groups")
		var rows []stats.LogisticRow
		var proportions []float64
		of := func(group int) []float64 {
			x := make([]float64, n-1)
			if group > 0 {
				x[group-1] = 1
			}
			return x
		}
		for k := range n {
			failed, succeeded := rapid.IntRange(10, 40).Draw(t, "failed"), rapid.IntRange(10, 40).Draw(t, "succeeded")
			rows = append(rows, alike(failed, failed+succeeded, of(k)...)...)
			proportions = append(proportions, float64(failed)/float64(failed+succeeded))
		}
		f, err := stats.FitLogistic(rows)
		require.NoError(t, err)
		for k, p := range proportions {
			require.InDelta(t, p, f.Probability(of(k)), 1e-8)
		}
	})
}

// drawTrials draws trials with one 0/1 covariate and one of a wide range.
func drawTrials(t *rapid.T) []stats.LogisticRow {
	var rows []stats.LogisticRow
	for range rapid.IntRange(60, 150).Draw(t, "rows") {
		rows = append(rows, stats.LogisticRow{
			Failed:     rapid.IntRange(0, 2).Draw(t, "failed") == 0,
			Covariates: []float64{one(rapid.Bool().Draw(t, "x")), rapid.Float64Range(20, 90).Draw(t, "age")},
		})
	}
	return rows
}

// At the maximum, as many failures are expected as were seen, and as many in
// each group; anywhere else the likelihood is lower.
func TestFitLogistic_ExpectsWhatWasObservedWhereLikelihoodIsHighest(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		rows := drawTrials(t)
		f, err := stats.FitLogisticOfAnyEvents(rows)
		if err != nil {
			t.Skip("nothing to fit")
		}
		var over [3]float64
		for _, r := range rows {
			residual := one(r.Failed) - f.Probability(r.Covariates)
			over[0] += residual
			over[1] += residual * r.Covariates[0]
			over[2] += residual * r.Covariates[1]
		}
		require.InDelta(t, 0, over[0], 1e-6)
		require.InDelta(t, 0, over[1], 1e-6)
		require.InDelta(t, 0, over[2], 1e-4)
		likelihood := func(g stats.LogisticFit) (sum float64) {
			for _, r := range rows {
				p := g.Probability(r.Covariates)
				sum += math.Log(one(r.Failed)*p + (1-one(r.Failed))*(1-p))
			}
			return sum
		}
		require.InDelta(t, f.LogLikelihood, likelihood(*f), 1e-8)
		elsewhere := *f
		elsewhere.Intercept.Value += rapid.SampledFrom([]float64{-0.1, 0.1}).Draw(t, "elsewhere")
		require.Less(t, likelihood(elsewhere), f.LogLikelihood)
		require.GreaterOrEqual(t, f.LogLikelihood, f.LogLikelihoodNull-1e-9)
	})
}

// Turning round, shifting or stretching a covariate changes only the units, and
// asking for successes in place of failures only the signs.
func TestFitLogistic_IsTheSameHoweverItIsMeasured(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		rows := drawTrials(t)
		f, err := stats.FitLogisticOfAnyEvents(rows)
		if err != nil {
			t.Skip("nothing to fit")
		}
		var measured, turned []stats.LogisticRow
		for _, r := range rows {
			x := []float64{1 - r.Covariates[0], r.Covariates[1]*12 - 300}
			measured = append(measured, stats.LogisticRow{r.Failed, x})
			turned = append(turned, stats.LogisticRow{!r.Failed, r.Covariates})
		}
		g, err := stats.FitLogisticOfAnyEvents(measured)
		require.NoError(t, err)
		h, err := stats.FitLogisticOfAnyEvents(turned)
		require.NoError(t, err)
		for j, unit := range []float64{-1, 12} {
			require.InDelta(t, f.Coefficients[j].Value, g.Coefficients[j].Value*unit, 1e-7)
			require.InDelta(t, f.Coefficients[j].SE, g.Coefficients[j].SE*math.Abs(unit), 1e-7)
			require.InDelta(t, f.Coefficients[j].Value, -h.Coefficients[j].Value, 1e-7)
			require.InDelta(t, f.Coefficients[j].SE, h.Coefficients[j].SE, 1e-7)
		}
		require.InDelta(t, f.LogLikelihood, g.LogLikelihood, 1e-7)
		require.InDelta(t, f.Intercept.Value, -h.Intercept.Value, 1e-6)
		for k, r := range rows {
			require.InDelta(t, f.Probability(r.Covariates), g.Probability(measured[k].Covariates), 1e-8)
		}
	})
}

func TestFitLogistic_RefusesWhatCannotBeFitted(t *testing.T) {
	t.Parallel()
	trials := func(n int, x func(k int) []float64, failed func(k int) bool) []stats.LogisticRow {
		var rows []stats.LogisticRow
		for k := range n {
			rows = append(rows, stats.LogisticRow{failed(k), x(k)})
		}
		return rows
	}
	third := func(k int) bool { return k%3 == 0 }
	for _, c := range []struct {
		name string
		rows []stats.LogisticRow
		want error
	}{
		{"no rows", nil, stats.ErrRows},
		{"no covariates", trials(60, func(int) []float64 { return nil }, third), stats.ErrRows},
		{"not as many in each", trials(60, func(k int) []float64 { return []float64{1, 2}[:1+k%2] }, third), stats.ErrRows},
		{"no number", trials(60, func(int) []float64 { return []float64{math.NaN()} }, third), stats.ErrRows},
		{"does not vary", trials(60, func(int) []float64 { return []float64{0.1} }, third), stats.ErrCollinear},
		{"a constant beside another", trials(90, func(k int) []float64 { return []float64{float64(k % 7), 1} }, third), stats.ErrCollinear},
		{"twice the same", trials(90, func(k int) []float64 { return []float64{float64(k % 4), 7 - 2*float64(k%4)} }, third), stats.ErrCollinear},
		{"a level for each group", trials(120, func(k int) []float64 { return []float64{one(k%2 == 0), one(k%2 == 1)} }, third), stats.ErrCollinear},
		{"the higher fail", trials(60, func(k int) []float64 { return []float64{float64(k)} }, func(k int) bool { return k > 29 }), stats.ErrSeparated},
		{"only one side fails", trials(90, func(k int) []float64 { return []float64{one(k%2 == 0)} }, func(k int) bool { return k%4 == 0 }), stats.ErrSeparated},
		{"one of two parts them", trials(90, func(k int) []float64 { return []float64{float64(k % 7), one(k%3 == 0)} }, third), stats.ErrSeparated},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f, err := stats.FitLogistic(c.rows)
			require.ErrorIs(t, err, c.want)
			require.Nil(t, f)
		})
	}
}

// Failures or successes, whichever are fewer, are to be ten for each covariate.
func TestFitLogistic_RefusesTooFewEvents(t *testing.T) {
	t.Parallel()
	for _, turned := range []bool{false, true} {
		make := func(rarer int) []stats.LogisticRow {
			var rows []stats.LogisticRow
			for k := range 60 {
				rows = append(rows, stats.LogisticRow{(k < rarer) != turned, []float64{float64(k % 2)}})
			}
			return rows
		}
		_, err := stats.FitLogistic(make(9))
		var few *stats.TooFewEventsError
		require.ErrorAs(t, err, &few)
		require.Equal(t, stats.TooFewEventsError{Events: 9, Covariates: 1}, *few)
		require.EqualError(t, err, "regression: 9 events are too few for 1 covariates, 10 each are needed")
		_, err = stats.FitLogistic(make(10))
		require.NoError(t, err)
		_, err = stats.FitLogisticOfAnyEvents(make(0))
		require.ErrorAs(t, err, &few, "none at all are always too few")
	}
}

func TestLogisticFit_ExpectsNothingOfOtherCovariates(t *testing.T) {
	t.Parallel()
	f, err := stats.FitLogistic(append(alike(20, 50, 1), alike(10, 50, 0)...))
	require.NoError(t, err)
	require.True(t, math.IsNaN(f.Probability(nil)))
	require.True(t, math.IsNaN(f.Probability([]float64{1, 2})))
	require.InDelta(t, 0.4, f.Probability([]float64{1}), 1e-9)
}

func BenchmarkFitLogistic(b *testing.B) {
	var rows []stats.LogisticRow
	for k := range 100_000 {
		x := []float64{one(k%3 == 0), one(k%5 == 0), float64(k % 7), one(k%11 < 4), one(k%13 < 6)}
		u := math.Mod(float64(k)*0.6180339887, 1)
		rows = append(rows, stats.LogisticRow{u < 0.15+0.1*x[0], x})
	}
	for b.Loop() {
		_, err := stats.FitLogistic(rows)
		require.NoError(b, err)
	}
}
