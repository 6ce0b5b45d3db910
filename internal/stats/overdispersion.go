package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Overdispersion is whether units differ by more than chance and the target
// allow, as they do where case mix differs: then ordinary funnel limits name too
// many (Spiegelhalter 2005, Stat Med 24:1185-202).
type Overdispersion struct {
	Phi      float64  // mean squared Z, the outer tenths drawn in (Winsorised); about 1 if only chance
	PhiPlain float64  // the same of the Z as they are
	Drawn    Interval // the Z at which the outer ones are drawn in
	Tau2     float64  // variance between units, on the scale of the values
	// Test that all units share the target.
	ChiSquared float64
	DF         int
	P          float64

	Naive          []float64 // Z of each unit by chance alone
	Multiplicative []float64 // with every sigma inflated by sqrt(Phi), never deflated
	Additive       []float64 // with Tau2 added to every variance
}

// winsorised is the share drawn in at each end.
const winsorised = 0.1

// Inflation is what multiplicative limits are widened by, at least 1.
func (o Overdispersion) Inflation() float64 { return math.Sqrt(max(1, o.Phi)) }

// CheckProportions looks for over-dispersion of proportions about a target.
// Conventions: quantiles as type 7 of Hyndman & Fan 1996 (Am Stat 50:361-5);
// units without trials are left out with a Z of NaN; with fewer than two units,
// or a target of 0 or 1, nothing can be told and all is NaN.
func CheckProportions(units []Proportion, target float64) Overdispersion {
	y, s := make([]float64, len(units)), make([]float64, len(units))
	for k, u := range units {
		y[k] = u.Estimate()
		s[k] = math.Sqrt(target * (1 - target) / float64(u.Trials))
	}
	return dispersion(y, s, target)
}

// CheckRates looks for over-dispersion of rates about a target rate, by the
// normal approximation to each count. Conventions as CheckProportions.
func CheckRates(units []Rate, target float64) Overdispersion {
	y, s := make([]float64, len(units)), make([]float64, len(units))
	for k, u := range units {
		y[k] = u.Estimate()
		s[k] = math.Sqrt(target / u.Exposure)
	}
	return dispersion(y, s, target)
}

// dispersion takes the values and their sigmas under the target.
func dispersion(y, s []float64, target float64) Overdispersion {
	o := Overdispersion{Naive: make([]float64, len(y))}
	var z []float64
	for k := range y {
		o.Naive[k] = (y[k] - target) / s[k]
		if !math.IsNaN(y[k]) && s[k] > 0 {
			z = append(z, o.Naive[k])
		} else {
			o.Naive[k] = math.NaN()
		}
	}
	n := float64(len(z))
	if n < 2 {
		nan := math.NaN()
		o.Phi, o.PhiPlain, o.Drawn, o.Tau2, o.ChiSquared, o.P = nan, nan, Interval{nan, nan}, nan, nan, nan
		o.Multiplicative, o.Additive = o.Naive, o.Naive
		return o
	}
	slices.Sort(z)
	o.Drawn = Interval{quantile7(z, winsorised), quantile7(z, 1-winsorised)}
	for _, v := range z {
		o.ChiSquared += v * v
		v = min(max(v, o.Drawn.Lower), o.Drawn.Upper)
		o.Phi += v * v / n
	}
	o.PhiPlain, o.DF = o.ChiSquared/n, len(z)-1
	o.P = distuv.ChiSquared{K: n - 1}.Survival(o.ChiSquared)
	o.spread(y, s, target)
	return o
}

// spread finds the variance between units and the Z that allow for it.
func (o *Overdispersion) spread(y, s []float64, target float64) {
	n, sum, squares := float64(o.DF+1), 0.0, 0.0
	for k := range y {
		if !math.IsNaN(o.Naive[k]) {
			w := 1 / (s[k] * s[k])
			sum += w
			squares += w * w
		}
	}
	o.Tau2 = max(0, (n*o.Phi-(n-1))/(sum-squares/sum))
	o.Multiplicative, o.Additive = make([]float64, len(y)), make([]float64, len(y))
	for k, z := range o.Naive {
		o.Multiplicative[k] = z / o.Inflation()
		o.Additive[k] = z // NaN stays so
		if !math.IsNaN(z) {
			o.Additive[k] = (y[k] - target) / math.Sqrt(s[k]*s[k]+o.Tau2)
		}
	}
}

// quantile7 is the quantile of sorted values by linear interpolation between
// order statistics, the first being 0 and the last 1.
func quantile7(sorted []float64, q float64) float64 {
	h := q * float64(len(sorted)-1)
	k := int(h)
	if k+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[k] + (h-float64(k))*(sorted[k+1]-sorted[k])
}
