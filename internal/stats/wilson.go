// Package stats holds the statistics that the chosen library lacks. It is pure;
// each function names its source and its conventions.
package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is an estimate's interval.
type Interval struct{ Lower, Upper float64 }

// Wilson is the score interval of a proportion without continuity correction
// (Wilson 1927; method 3 of Newcombe, Statistics in Medicine 1998;17:857-72).
// It is exactly 0 at no successes and exactly 1 at all. Without trials the
// proportion can be anything: [0, 1]. confidence lies between 0 and 1.
func Wilson(successes, n int, confidence float64) Interval {
	if n <= 0 {
		return Interval{0, 1}
	}
	z := distuv.UnitNormal.Quantile((1 + confidence) / 2)
	trials, p := float64(n), float64(successes)/float64(n)
	middle := (p + z*z/(2*trials)) / (1 + z*z/trials)
	half := z / (1 + z*z/trials) * math.Sqrt(p*(1-p)/trials+z*z/(4*trials*trials))
	i := Interval{Lower: middle - half, Upper: middle + half}
	if successes == 0 {
		i.Lower = 0
	}
	if successes == n {
		i.Upper = 1
	}
	return i
}
