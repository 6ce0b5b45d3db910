package stats_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// expectedCox is a fit of one covariate as the reference files give it.
type expectedCox struct {
	Breslow, Efron struct {
		Coef, SE, HR, Loglik *float64
		Lower                *float64 `json:"hr_lower"`
		Upper                *float64 `json:"hr_upper"`
		Null                 *float64 `json:"loglik_null"`
		LR                   *float64 `json:"lr_chisq"`
		Wald                 *float64 `json:"wald_chisq"`
		Score                *float64 `json:"score_chisq"`
		DF                   int
	}
}

// cox checks both treatments of ties and returns them, Breslow's first.
func (r *reference[E]) cox(want expectedCox, rows []stats.CoxRow, what string) [2]*stats.CoxFit {
	r.t.Helper()
	var fits [2]*stats.CoxFit
	for k, ties := range []stats.Ties{stats.Breslow, stats.Efron} {
		w := want.Breslow
		if ties == stats.Efron {
			w = want.Efron
		}
		f, err := stats.FitCox(rows, ties)
		require.NoError(r.t, err, what)
		c := f.Coefficients[0]
		for _, v := range []struct {
			what string
			want *float64
			got  float64
		}{
			{"coefficient", w.Coef, c.Value},
			{"se", w.SE, c.SE},
			{"hazard ratio", w.HR, c.Ratio()},
			{"lower", w.Lower, c.Interval(0.95).Lower},
			{"upper", w.Upper, c.Interval(0.95).Upper},
			{"log-likelihood at 0", w.Null, f.LogLikelihoodNull},
			{"log-likelihood", w.Loglik, f.LogLikelihood},
			{"likelihood ratio", w.LR, f.LikelihoodRatio.ChiSquared},
			{"Wald", w.Wald, f.Wald.ChiSquared},
			{"score", w.Score, f.Score.ChiSquared},
		} {
			r.agree(v.want, v.got, "%s, ties %d: %s", what, ties, v.what)
		}
		same(r, w.DF, f.Score.DF, what)
		require.InDelta(r.t, f.Wald.ChiSquared, c.Wald().ChiSquared, 1e-9)
		fits[k] = f
	}
	return fits
}

// lifetimes reads a file of time, status and group, a covariate made of each row.
func lifetimes(t *testing.T, name string, x func(columns map[string][]string, k int) float64) []stats.CoxRow {
	t.Helper()
	columns := table(t, name)
	times := numbers(t, columns["time"])
	rows := make([]stats.CoxRow, len(times))
	for k := range rows {
		rows[k] = stats.CoxRow{Exit: times[k], Failed: columns["status"][k] == "1", Covariates: []float64{x(columns, k)}}
	}
	return rows
}

func group(name string) func(map[string][]string, int) float64 {
	return func(columns map[string][]string, k int) float64 { return one(columns["group"][k] == name) }
}

func one(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

func age(t *testing.T) func(map[string][]string, int) float64 {
	return func(columns map[string][]string, k int) float64 { return numbers(t, columns["age"][k:k+1])[0] }
}

func TestFitCox_AgreesWithFitsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	gehan := readReference[expectedCox](t, "cox_gehan")
	fits := gehan.cox(gehan.Expected, lifetimes(t, "gehan.csv", group("control")), "remission")
	gehan.books(map[string]float64{
		"coef, Breslow": fits[0].Coefficients[0].Value, "se, Breslow": fits[0].Coefficients[0].SE,
		"coef, Efron": fits[1].Coefficients[0].Value, "se, Efron": fits[1].Coefficients[0].SE,
	})

	kidney := readReference[expectedCox](t, "cox_kidney_catheter")
	fits = kidney.cox(kidney.Expected, lifetimes(t, "km_kidney.csv", group("percutaneous")), "placement")
	kidney.books(map[string]float64{
		"coef, Breslow": fits[0].Coefficients[0].Value, "coef, Efron": fits[1].Coefficients[0].Value,
		"se, Breslow/Efron": fits[1].Coefficients[0].SE,
	})

	infection := readReference[struct{ Sex, Age expectedCox }](t, "cox_mcgilchrist")
	infection.cox(infection.Expected.Sex, lifetimes(t, "mcgilchrist_kidney.csv", group("female")), "infection by sex")
	infection.cox(infection.Expected.Age, lifetimes(t, "mcgilchrist_kidney.csv", age(t)), "infection by age")

	aml := readReference[struct{ Cox expectedCox }](t, "km_aml")
	var names []string
	for _, g := range table(t, "aml.csv")["group"] {
		if !strings.HasPrefix(g, "M") {
			names = append(names, g)
		}
	}
	aml.cox(aml.Expected.Cox, lifetimes(t, "aml.csv", group(names[0])), "maintenance")

	lung := readReference[struct {
		Sex expectedCox `json:"cox_sex"`
		Age expectedCox `json:"cox_age"`
	}](t, "km_lung_sex")
	lung.cox(lung.Expected.Sex, lifetimes(t, "lung_sex.csv", group("female")), "lung by sex")
	lung.cox(lung.Expected.Age, lifetimes(t, "lung_sex.csv", age(t)), "lung by age")
}

func TestFitCox_AgreesOnEpisodes(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Gauge expectedCox `json:"gauge_ge_22"`
		Hand  expectedCox
	}](t, "episodes_small_cox")
	var gauge, hand []stats.CoxRow
	for _, e := range episodes(t) {
		row := stats.CoxRow{Exit: e.hours(), Failed: e.failed(), Covariates: []float64{one(e.gauge >= 22)}}
		gauge = append(gauge, row)
		row.Covariates = []float64{one(e.site == "hand")}
		hand = append(hand, row)
	}
	r.cox(r.Expected.Gauge, gauge, "gauge")
	r.cox(r.Expected.Hand, hand, "hand")
}

// ovarian is the Edmonson et al. 1979 trial as distributed with the survival
// package of R: time, status, age, ECOG performance status (from memory; times
// and status agree with ovarian.csv of the same source).
var ovarian = [][4]float64{
	{59, 1, 72.3315, 1}, {115, 1, 74.4932, 1}, {156, 1, 66.4658, 2}, {421, 0, 53.3644, 1}, {431, 1, 50.3397, 1},
	{448, 0, 56.4301, 2}, {464, 1, 56.9370, 2}, {475, 1, 59.8548, 2}, {477, 0, 64.1753, 1}, {563, 1, 55.1781, 2},
	{638, 1, 56.7562, 2}, {744, 0, 50.1096, 1}, {769, 0, 59.6301, 2}, {770, 0, 57.0521, 1}, {803, 0, 39.2712, 1},
	{855, 0, 43.1233, 2}, {1040, 0, 38.8932, 2}, {1106, 0, 44.6000, 1}, {1129, 0, 53.9068, 1}, {1206, 0, 44.2055, 1},
	{1227, 0, 59.5890, 2}, {268, 1, 74.5041, 2}, {329, 1, 43.1370, 1}, {353, 1, 63.2192, 2}, {365, 1, 64.4247, 1},
	{377, 0, 58.3096, 1},
}

// The example of R's own page on the check of proportional hazards: coxph(Surv(
// futime, fustat) ~ age + ecog.ps) and cox.zph of it, survival 3.x (printed
// values from memory).
func TestFitCox_AgreesWithAPrintedExampleOfTwoCovariates(t *testing.T) {
	t.Parallel()
	var rows []stats.CoxRow
	for _, v := range ovarian {
		rows = append(rows, stats.CoxRow{Exit: v[0], Failed: v[1] == 1, Covariates: v[2:]})
	}
	_, err := stats.FitCox(rows, stats.Efron)
	var few *stats.TooFewEventsError
	require.ErrorAs(t, err, &few)
	require.Equal(t, stats.TooFewEventsError{Events: 12, Covariates: 2}, *few)

	f, err := stats.FitCoxOfAnyEvents(rows, stats.Efron)
	require.NoError(t, err)
	require.InDelta(t, 0.16150, f.Coefficients[0].Value, 0.000005)
	require.InDelta(t, 0.04992, f.Coefficients[0].SE, 0.000005)
	require.InDelta(t, 0.01866, f.Coefficients[1].Value, 0.000005)
	require.InDelta(t, 0.59908, f.Coefficients[1].SE, 0.000005)
	require.InDelta(t, 14.29, f.LikelihoodRatio.ChiSquared, 0.005)
	z := f.Proportionality(stats.ByKaplanMeier)
	require.InDelta(t, 0.698, z.Each[0].ChiSquared, 0.0005)
	require.InDelta(t, 2.371, z.Each[1].ChiSquared, 0.0005)
	require.InDelta(t, 3.633, z.Global.ChiSquared, 0.0005)
	require.InDelta(t, 0.40, z.Each[0].P, 0.005)
	require.InDelta(t, 0.12, z.Each[1].P, 0.005)
	require.InDelta(t, 0.16, z.Global.P, 0.005)
}

func TestFitCox_RefusesWhatCannotBeFitted(t *testing.T) {
	t.Parallel()
	make := func(n int, x func(k int) []float64, failed func(k int) bool) []stats.CoxRow {
		var rows []stats.CoxRow
		for k := range n {
			rows = append(rows, stats.CoxRow{Exit: float64(k + 1), Failed: failed(k), Covariates: x(k)})
		}
		return rows
	}
	always := func(int) bool { return true }
	for _, c := range []struct {
		name string
		rows []stats.CoxRow
		want error
	}{
		{"no rows", nil, stats.ErrRows},
		{"no covariates", make(20, func(int) []float64 { return nil }, always), stats.ErrRows},
		{"not as many in each", make(20, func(k int) []float64 { return []float64{1, 2}[:1+k%2] }, always), stats.ErrRows},
		{"no number", make(20, func(int) []float64 { return []float64{math.NaN()} }, always), stats.ErrRows},
		{"out before in", []stats.CoxRow{{Entry: 2, Exit: 2, Covariates: []float64{1}}}, stats.ErrRows},
		{"does not vary", make(20, func(int) []float64 { return []float64{0.1} }, always), stats.ErrCollinear},
		{"twice the same", make(40, func(k int) []float64 { return []float64{float64(k % 3), 7 - 2*float64(k%3)} }, always), stats.ErrCollinear},
		{"only one side fails", make(60, func(k int) []float64 { return []float64{float64(k % 2)} }, func(k int) bool { return k%2 == 0 }), stats.ErrSeparated},
		{"the lower the sooner", make(60, func(k int) []float64 { return []float64{float64(k)} }, always), stats.ErrSeparated},
		{"one of two parts them", make(90, func(k int) []float64 {
			return []float64{float64(k % 7), one(k%3 == 0)}
		}, func(k int) bool { return k%3 != 0 }), stats.ErrSeparated},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			for _, ties := range []stats.Ties{stats.Efron, stats.Breslow} {
				f, err := stats.FitCox(c.rows, ties)
				require.ErrorIs(t, err, c.want)
				require.Nil(t, f)
			}
		})
	}
	nine := make(30, func(k int) []float64 { return []float64{float64(k % 2)} }, func(k int) bool { return k%3 == 0 && k > 0 })
	_, err := stats.FitCox(nine, stats.Efron)
	var few *stats.TooFewEventsError
	require.ErrorAs(t, err, &few)
	require.Equal(t, 9, few.Events)
	nine[0].Failed = true
	_, err = stats.FitCox(nine, stats.Efron)
	require.NoError(t, err, "ten are enough")
}

// drawRows draws lines that enter late or not, with ties or without.
func drawRows(t *rapid.T, ties, late bool) []stats.CoxRow {
	var rows []stats.CoxRow
	n := rapid.IntRange(60, 120).Draw(t, "rows")
	for k := range n {
		r := stats.CoxRow{
			Exit:       float64(rapid.IntRange(4, 60).Draw(t, "exit")),
			Failed:     rapid.IntRange(0, 3).Draw(t, "failed") > 0,
			Covariates: []float64{one(rapid.Bool().Draw(t, "x")), rapid.Float64Range(20, 90).Draw(t, "age")},
		}
		if !ties {
			r.Exit += float64(k) / 1000
		}
		if late && rapid.Bool().Draw(t, "late") {
			r.Entry = float64(rapid.IntRange(0, 3).Draw(t, "entry"))
		}
		rows = append(rows, r)
	}
	return rows
}

// A line cut in two at any moment, the second part entering where the first
// leaves, is the same line; shifting or stretching a covariate or time changes
// only the units.
func TestFitCox_IsTheSameHoweverALineIsCutOrMeasured(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		rows := drawRows(t, true, true)
		for _, ties := range []stats.Ties{stats.Efron, stats.Breslow} {
			f, err := stats.FitCoxOfAnyEvents(rows, ties)
			if err != nil {
				t.Skip("nothing to fit")
			}
			at := rapid.Float64Range(0, 60).Draw(t, "cut")
			var cut, measured []stats.CoxRow
			for _, r := range rows {
				measured = append(measured, stats.CoxRow{
					Entry: math.Pow(r.Entry, 3), Exit: math.Pow(r.Exit, 3), Failed: r.Failed,
					Covariates: []float64{1 - r.Covariates[0], r.Covariates[1]*12 - 300},
				})
				if r.Entry < at && at < r.Exit {
					before := r
					before.Exit, before.Failed = at, false
					cut = append(cut, before)
					r.Entry = at
				}
				cut = append(cut, r)
			}
			g, err := stats.FitCoxOfAnyEvents(cut, ties)
			require.NoError(t, err)
			h, err := stats.FitCoxOfAnyEvents(measured, ties)
			require.NoError(t, err)
			for j, unit := range []float64{-1, 12} {
				require.InDelta(t, f.Coefficients[j].Value, g.Coefficients[j].Value, 1e-7)
				require.InDelta(t, f.Coefficients[j].SE, g.Coefficients[j].SE, 1e-7)
				require.InDelta(t, f.Coefficients[j].Value, h.Coefficients[j].Value*unit, 1e-7)
			}
			require.InDelta(t, f.LogLikelihood, g.LogLikelihood, 1e-7)
			require.InDelta(t, f.LogLikelihood, h.LogLikelihood, 1e-7)
			a, b := f.Proportionality(stats.ByKaplanMeier), g.Proportionality(stats.ByKaplanMeier)
			require.InDelta(t, a.Global.ChiSquared, b.Global.ChiSquared, 1e-6)
			b = h.Proportionality(stats.ByKaplanMeier)
			require.InDelta(t, a.Global.ChiSquared, b.Global.ChiSquared, 1e-6)
		}
	})
}

func BenchmarkFitCox(b *testing.B) {
	var rows []stats.CoxRow
	for k := range 100_000 {
		u := math.Mod(float64(k)*0.6180339887, 1)
		x := []float64{one(k%3 == 0), one(k%5 == 0), float64(k % 7), one(k%11 < 4), one(k%13 < 6)}
		rows = append(rows, stats.CoxRow{
			Exit: math.Ceil(-math.Log(1-u)*4000*math.Exp(-0.3*x[0])) + 1, Failed: k%4 == 0, Covariates: x,
		})
	}
	for b.Loop() {
		_, err := stats.FitCox(rows, stats.Efron)
		require.NoError(b, err)
	}
}
