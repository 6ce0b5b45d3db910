package stats_test

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// expectedFunnel is a funnel as the reference files give it.
type expectedFunnel struct {
	Target     *float64
	TargetRate *float64 `json:"target_rate"`
	Per        float64
	Units      []struct {
		Unit         string
		X, N, Events int
		Y, Z         *float64
		Rate         *float64
		Persontime   *float64
		Expected     *float64
		L001         *float64 `json:"limit_0.001"`
		L025         *float64 `json:"limit_0.025"`
		L975         *float64 `json:"limit_0.975"`
		L999         *float64 `json:"limit_0.999"`
	}
	Outside95  []string `json:"outside_95"`
	Outside998 []string `json:"outside_99.8"`
}

type expectedDispersion struct {
	Target          *float64
	Units           int
	Lower           *float64   `json:"winsor_z_lower"`
	Upper           *float64   `json:"winsor_z_upper"`
	PhiPlain        *float64   `json:"phi_unwinsorised"`
	Inflation       *float64   `json:"multiplicative_inflation"`
	Naive           []*float64 `json:"z_naive"`
	Multiplicative  []*float64 `json:"z_multiplicative"`
	Additive        []*float64 `json:"z_additive"`
	Phi, Tau2, Tau  *float64
	Test            struct{ Chisq, DF, P *float64 } `json:"chisq_test"`
	OutsideNaive    []int                           `json:"outside_3sd_naive"`
	OutsideAdditive []int                           `json:"outside_3sd_additive"`
}

func (r *reference[E]) points(want expectedFunnel, got []stats.FunnelPoint, what string) {
	r.t.Helper()
	require.Len(r.t, got, len(want.Units), what)
	warned, acted := []string{}, []string{}
	for k, u := range want.Units {
		p := got[k]
		value := u.Y
		if value == nil {
			value = u.Rate
		}
		r.agree(value, p.Value, "%s %s", what, u.Unit)
		r.agree(u.L001, p.Action.Lower, "%s %s", what, u.Unit)
		r.agree(u.L025, p.Warning.Lower, "%s %s", what, u.Unit)
		r.agree(u.L975, p.Warning.Upper, "%s %s", what, u.Unit)
		r.agree(u.L999, p.Action.Upper, "%s %s", what, u.Unit)
		if p.BeyondWarning() {
			warned = append(warned, u.Unit)
		}
		if p.BeyondAction() {
			acted = append(acted, u.Unit)
		}
	}
	same(r, want.Outside95, warned, what)
	same(r, want.Outside998, acted, what)
}

// proportionFunnel checks a funnel of proportions whose counts were found here.
func (r *reference[E]) proportionFunnel(want expectedFunnel, units []stats.Proportion, what string) {
	r.t.Helper()
	target := stats.PooledProportion(units)
	r.agree(want.Target, target, what)
	check := stats.CheckProportions(units, target)
	for k, u := range want.Units {
		same(r, stats.Proportion{u.X, u.N}, units[k], what)
		r.agree(u.Z, check.Naive[k], "%s %s", what, u.Unit)
	}
	r.points(want, stats.FunnelProportions(units, target), what)
}

func (r *reference[E]) rateFunnel(want expectedFunnel, units []stats.Rate, what string) {
	r.t.Helper()
	target := stats.PooledRate(units)
	r.agree(want.TargetRate, target, what)
	for k, u := range want.Units {
		same(r, u.Events, units[k].Events, what)
		r.agree(u.Persontime, units[k].Exposure*want.Per, "%s %s", what, u.Unit)
		r.agree(u.Expected, units[k].Exposure*target, "%s %s", what, u.Unit)
	}
	r.points(want, stats.FunnelRates(units, target), what)
}

func (r *reference[E]) dispersion(want expectedDispersion, units []stats.Proportion, what string) {
	r.t.Helper()
	target := stats.PooledProportion(units)
	o := stats.CheckProportions(units, target)
	df := float64(o.DF)
	require.Len(r.t, units, want.Units)
	for _, v := range []struct {
		want *float64
		got  float64
	}{
		{want.Target, target}, {want.Lower, o.Drawn.Lower}, {want.Upper, o.Drawn.Upper}, {want.PhiPlain, o.PhiPlain},
		{want.Phi, o.Phi}, {want.Inflation, o.Inflation()}, {want.Tau2, o.Tau2}, {want.Tau, math.Sqrt(o.Tau2)},
		{want.Test.Chisq, o.ChiSquared}, {want.Test.DF, df}, {want.Test.P, o.P},
	} {
		r.agree(v.want, v.got, what)
	}
	naive, additive := []int{}, []int{}
	for k := range units {
		r.agree(want.Naive[k], o.Naive[k], "%s, naive %d", what, k)
		r.agree(want.Multiplicative[k], o.Multiplicative[k], "%s, multiplicative %d", what, k)
		r.agree(want.Additive[k], o.Additive[k], "%s, additive %d", what, k)
		if math.Abs(o.Naive[k]) > 3 {
			naive = append(naive, k+1)
		}
		if math.Abs(o.Additive[k]) > 3 {
			additive = append(additive, k+1)
		}
	}
	same(r, want.OutsideNaive, naive, what)
	same(r, want.OutsideAdditive, additive, what)
}

func TestFunnel_AgreesWithLimitsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Binomial []struct {
			N        int
			Theta, P float64
			Limit    *float64
		} `json:"binomial_limits"`
		Poisson []struct {
			E, P  float64
			Limit *float64
		} `json:"poisson_limits_ratio"`
		Proportion expectedFunnel     `json:"proportion_funnel"`
		Rate       expectedFunnel     `json:"rate_funnel"`
		Over       expectedDispersion `json:"overdispersion"`
		Cbpp       expectedDispersion `json:"cbpp_overdispersion"`
	}](t, "funnel")
	require.Len(t, r.Expected.Binomial, 108)
	for _, c := range r.Expected.Binomial {
		r.agree(c.Limit, stats.ProportionLimit(c.N, c.Theta, c.P), "%+v", c)
	}
	require.Len(t, r.Expected.Poisson, 28)
	for _, c := range r.Expected.Poisson {
		r.agree(c.Limit, stats.CountLimit(c.E, c.P), "%+v", c)
	}
	columns := table(t, "funnel_units.csv")
	x, n, days := numbers(t, columns["x"]), numbers(t, columns["n"]), numbers(t, columns["persontime"])
	var units []stats.Proportion
	var rates []stats.Rate
	for k := range x {
		units = append(units, stats.Proportion{int(x[k]), int(n[k])})
		rates = append(rates, stats.Rate{Events: int(x[k]), Exposure: days[k] / r.Expected.Rate.Per})
	}
	r.proportionFunnel(r.Expected.Proportion, units, "proportions")
	r.rateFunnel(r.Expected.Rate, rates, "rates")
	r.dispersion(r.Expected.Over, units, "units")
	var herds []stats.Proportion
	for _, s := range samples(t, "cbpp.csv") {
		herds = append(herds, stats.Proportion{int(s.Count), int(s.Size)})
	}
	r.dispersion(r.Expected.Cbpp, herds, "herds")
}

func TestFunnel_AgreesOnEpisodes(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Wards         expectedFunnel     `json:"ward_phlebitis_proportion"`
		Rates         expectedFunnel     `json:"ward_phlebitis_rate"`
		WardsOver     expectedDispersion `json:"ward_overdispersion"`
		Operators     expectedFunnel     `json:"operator_first_attempt"`
		OperatorsOver expectedDispersion `json:"operator_overdispersion"`
	}](t, "episodes_small_funnel")
	var wards, operators []stats.Proportion
	var rates []stats.Rate
	for _, u := range r.Expected.Wards.Units {
		var closed stats.Proportion
		var rate stats.Rate
		for _, e := range episodes(t) {
			if e.ward != u.Unit {
				continue
			}
			rate.Exposure += e.hours() / 24 / r.Expected.Rates.Per
			if !e.inSitu {
				closed.Trials++
			}
			if e.reason == "phlebitis" {
				closed.Successes++
				rate.Events++
			}
		}
		wards, rates = append(wards, closed), append(rates, rate)
	}
	for _, u := range r.Expected.Operators.Units {
		var first stats.Proportion
		for _, e := range episodes(t) {
			if e.operator == u.Unit {
				first.Trials++
				if e.first {
					first.Successes++
				}
			}
		}
		operators = append(operators, first)
	}
	r.proportionFunnel(r.Expected.Wards, wards, "wards")
	r.rateFunnel(r.Expected.Rates, rates, "wards")
	r.dispersion(r.Expected.WardsOver, wards, "wards")
	r.proportionFunnel(r.Expected.Operators, operators, "operators")
	r.dispersion(r.Expected.OperatorsOver, operators, "operators")
}

func TestFunnel_NarrowsAndOpensAsItMust(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		theta := rapid.Float64Range(0.01, 0.99).Draw(t, "theta")
		n := rapid.IntRange(1, 5000).Draw(t, "n")
		limits := []float64{}
		for _, p := range []float64{0.001, 0.025, 0.975, 0.999} {
			limits = append(limits, stats.ProportionLimit(n, theta, p))
		}
		require.True(t, slices.IsSorted(limits), "%v", limits)
		require.LessOrEqual(t, limits[3], 1.0)
		wider := stats.ProportionLimit(n, theta, 0.999) - stats.ProportionLimit(n, theta, 0.001)
		narrower := stats.ProportionLimit(16*n, theta, 0.999) - stats.ProportionLimit(16*n, theta, 0.001)
		require.Less(t, narrower, wider)
		e := rapid.Float64Range(0.01, 1e4).Draw(t, "expected")
		require.Less(t, stats.CountLimit(e, 0.001), stats.CountLimit(e, 0.999))
		require.Greater(t, stats.CountLimit(e, 0.999), 1.0)
	})
}

func TestFunnel_SaysNothingOfWhatCannotBeTold(t *testing.T) {
	t.Parallel()
	require.True(t, math.IsNaN(stats.ProportionLimit(0, 0.1, 0.001)))
	require.True(t, math.IsNaN(stats.CountLimit(0, 0.001)))
	require.Zero(t, stats.ProportionLimit(10, 0, 0.999))
	for _, p := range stats.FunnelProportions([]stats.Proportion{{}, {0, 5}}, 0) {
		require.False(t, p.BeyondWarning() || p.BeyondAction())
	}
	for _, units := range [][]stats.Proportion{nil, {{1, 2}}, {{0, 5}, {0, 6}}} {
		o := stats.CheckProportions(units, stats.PooledProportion(units))
		require.True(t, math.IsNaN(o.Phi) && math.IsNaN(o.P), strconv.Itoa(len(units)))
	}
	with := stats.CheckRates([]stats.Rate{{3, 10}, {0, 0}, {9, 12}}, 0.5)
	without := stats.CheckRates([]stats.Rate{{3, 10}, {9, 12}}, 0.5)
	require.Equal(t, without.Phi, with.Phi)
	require.True(t, math.IsNaN(with.Additive[1]))
	_, err := json.Marshal(without) // every number is finite
	require.NoError(t, err)
}
