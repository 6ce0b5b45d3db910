// Package stats holds the statistics that the chosen library lacks. It is pure;
// each function names its source and its conventions.
package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is an estimate's interval, both ends included.
type Interval struct{ Lower, Upper float64 }

// Wilson is the score interval of a proportion without continuity correction
// (Wilson 1927, J Am Stat Assoc 22:209-12; method 3 of Newcombe 1998, Stat Med
// 17:857-72). successes lies in 0 to n, confidence between 0 and 1, both
// excluded. The lower end is exactly 0 at no successes and the upper exactly 1
// at n. Without trials the proportion can be anything: [0, 1]. Arguments out of
// range are not a proportion and give NaN at both ends.
func Wilson(successes, n int, confidence float64) Interval {
	switch {
	case n < 0 || successes < 0 || successes > n || !(confidence > 0 && confidence < 1):
		return Interval{math.NaN(), math.NaN()}
	case n == 0:
		return Interval{0, 1}
	}
	i := score(float64(successes)/float64(n), float64(n), distuv.UnitNormal.Quantile((1+confidence)/2))
	if successes == 0 {
		i.Lower = 0
	}
	if successes == n {
		i.Upper = 1
	}
	return i
}

// score is the interval of a proportion p of n trials, which need not be a
// whole number, with the quantile z.
func score(p, n, z float64) Interval {
	middle := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	return Interval{Lower: middle - half, Upper: middle + half}
}
