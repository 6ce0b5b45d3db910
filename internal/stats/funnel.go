package stats

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// ProportionLimit is the funnel limit at tail chance p of a proportion of n
// trials whose target is theta: the exact binomial quantile, interpolated so
// that the limit is smooth in n (Spiegelhalter 2005, Stat Med 24:1185-202,
// appendix A.1.1).
//
// Conventions: it is not clipped, so a lower limit may lie a little under 0
// where no events at all are likelier than p (draw at 0); a unit is out only if
// strictly beyond. A target of 0 or 1 leaves no room, and is its own limit.
// Arguments out of range give NaN.
func ProportionLimit(n int, theta, p float64) float64 {
	switch {
	case n <= 0 || !(theta >= 0 && theta <= 1) || !(p > 0 && p < 1):
		return math.NaN()
	case theta == 0 || theta == 1:
		return theta
	}
	b := distuv.Binomial{N: float64(n), P: theta}
	return interpolated(n, b, p) / float64(n)
}

// CountLimit is the funnel limit at tail chance p of a Poisson count of which so
// many are expected at the target, over what is expected: multiply by the target
// for a limit of the rate. Source and conventions as ProportionLimit.
func CountLimit(expected, p float64) float64 {
	if !(expected > 0) || math.IsInf(expected, 1) || !(p > 0 && p < 1) {
		return math.NaN()
	}
	most := int(expected + 40*math.Sqrt(expected) + 40) // beyond any chance a float can tell from 1
	return interpolated(most, distuv.Poisson{Lambda: expected}, p) / expected
}

// interpolated is the smallest count whose cumulative chance reaches p, less the
// part of its own chance that goes past p.
func interpolated(most int, d interface {
	CDF(float64) float64
	Prob(float64) float64
}, p float64,
) float64 {
	r := float64(sort.Search(most, func(k int) bool { return d.CDF(float64(k)) >= p }))
	return r - (d.CDF(r)-p)/d.Prob(r)
}

// The tail chances of the usual funnels: 95 % and 99.8 % of units lie within
// (Spiegelhalter 2005, Qual Saf Health Care 14:347-51), about two and three
// sigmas.
const (
	FunnelWarning = 0.025
	FunnelAction  = 0.001
)

// FunnelPoint is a unit of a funnel: how it stands to both pairs of limits.
type FunnelPoint struct {
	Value           float64
	Warning, Action Interval // 95 % and 99.8 %, not clipped
}

// BeyondWarning says whether the unit lies strictly outside the 95 % limits.
func (p FunnelPoint) BeyondWarning() bool { return p.Warning.excludes(p.Value) }

// BeyondAction says whether the unit lies strictly outside the 99.8 % limits.
func (p FunnelPoint) BeyondAction() bool { return p.Action.excludes(p.Value) }

func (i Interval) excludes(v float64) bool { return v < i.Lower || v > i.Upper }

// FunnelProportions sets units against the target, their pooled proportion
// unless another is agreed. A unit without trials has a value of NaN and is never
// out.
func FunnelProportions(units []Proportion, target float64) []FunnelPoint {
	out := make([]FunnelPoint, len(units))
	for k, u := range units {
		limit := func(p float64) float64 { return ProportionLimit(u.Trials, target, p) }
		out[k] = FunnelPoint{u.Estimate(), around(limit, FunnelWarning), around(limit, FunnelAction)}
	}
	return out
}

// FunnelRates sets units against the target rate, per unit of exposure.
func FunnelRates(units []Rate, target float64) []FunnelPoint {
	out := make([]FunnelPoint, len(units))
	for k, u := range units {
		limit := func(p float64) float64 { return target * CountLimit(target*u.Exposure, p) }
		out[k] = FunnelPoint{u.Estimate(), around(limit, FunnelWarning), around(limit, FunnelAction)}
	}
	return out
}

func around(limit func(float64) float64, tail float64) Interval {
	return Interval{limit(tail), limit(1 - tail)}
}

// PooledProportion is all successes over all trials.
func PooledProportion(units []Proportion) float64 {
	var all Proportion
	for _, u := range units {
		all.Successes += u.Successes
		all.Trials += u.Trials
	}
	return all.Estimate()
}

// PooledRate is all events over all exposure.
func PooledRate(units []Rate) float64 {
	var all Rate
	for _, u := range units {
		all.Events += u.Events
		all.Exposure += u.Exposure
	}
	return all.Estimate()
}
