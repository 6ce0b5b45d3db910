package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// RateRatio sets one rate against another.
type RateRatio struct {
	Ratio float64  // +Inf where only the second had no events, NaN where neither had
	Exact Interval // Clopper-Pearson's limits carried over
	MidP  Interval // the same with half the chance of what was seen; a little narrower
	P     RateRatioP
}

// RateRatioP is the chance of a difference as large if the rates were equal,
// two-sided, by the three usual definitions.
type RateRatioP struct {
	Central float64 // twice the smaller tail; goes with the exact interval
	Minimum float64 // all outcomes no likelier than the one seen
	Mid     float64 // twice the smaller tail with half the chance of what was seen
}

// tied is how much likelier an outcome may look and still count as equally
// likely: rounding must not part two equal chances. The usual value in
// statistics packages.
const tied = 1 + 1e-7

// CompareRates is the ratio of rate a to rate b with its exact interval: given
// the events of both, those of a are binomial with a's share of the exposure
// weighted by the ratio (Przyborowski & Wilenski 1940, Biometrika 31:313-23;
// Rothman, Greenland & Lash, Modern Epidemiology; both from memory). confidence
// lies between 0 and 1, both excluded.
//
// Conventions: no events in a gives a lower end of 0; none in b an infinite
// upper end; none in either says nothing, ratio NaN, interval [0, +Inf], every
// p 1. Arguments out of range give NaN throughout.
func CompareRates(a, b Rate, confidence float64) RateRatio {
	nan := math.NaN()
	if !a.known() || !b.known() || !(confidence > 0 && confidence < 1) {
		return RateRatio{nan, Interval{nan, nan}, Interval{nan, nan}, RateRatioP{nan, nan, nan}}
	}
	n := a.Events + b.Events
	if n == 0 {
		whole := Interval{0, math.Inf(1)}
		return RateRatio{nan, whole, whole, RateRatioP{1, 1, 1}}
	}
	odds := func(share float64) float64 {
		if share >= 1 {
			return math.Inf(1)
		}
		return share / (1 - share) * b.Exposure / a.Exposure
	}
	exact, mid := ClopperPearson(a.Events, n, confidence), midP(a.Events, n, confidence)
	return RateRatio{
		Ratio: odds(float64(a.Events) / float64(n)),
		Exact: Interval{odds(exact.Lower), odds(exact.Upper)},
		MidP:  Interval{odds(mid.Lower), odds(mid.Upper)},
		P:     shareP(a.Events, n, a.Exposure/(a.Exposure+b.Exposure)),
	}
}

// shareP tests that x of n events fall in a share of the exposure.
func shareP(x, n int, share float64) RateRatioP {
	b := distuv.Binomial{N: float64(n), P: share}
	seen := b.Prob(float64(x))
	below, above := b.CDF(float64(x-1)), 1.0
	if x > 0 {
		above = b.Survival(float64(x - 1))
	} else {
		below = 0
	}
	minimum := 0.0
	for k := range n + 1 {
		if chance := b.Prob(float64(k)); chance <= seen*tied {
			minimum += chance
		}
	}
	return RateRatioP{
		Central: min(1, 2*min(below+seen, above)),
		Minimum: min(1, minimum),
		Mid:     min(1, 2*min(below+seen/2, b.Survival(float64(x))+seen/2)),
	}
}

// midP is the interval of a proportion whose tails count half of what was seen.
func midP(x, n int, confidence float64) Interval {
	tail := (1 - confidence) / 2
	upper := func(x int) float64 { // the share at which x or fewer, half counted, is that rare
		low, high := 0.0, 1.0
		for high-low > 1e-16*high {
			p := (low + high) / 2
			if p == low || p == high {
				break
			}
			b := distuv.Binomial{N: float64(n), P: p}
			if b.CDF(float64(x))-b.Prob(float64(x))/2 > tail {
				low = p
			} else {
				high = p
			}
		}
		return high
	}
	i := Interval{0, 1}
	if x > 0 {
		i.Lower = 1 - upper(n-x)
	}
	if x < n {
		i.Upper = upper(x)
	}
	return i
}
