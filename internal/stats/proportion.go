package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Proportion is successes of trials.
type Proportion struct{ Successes, Trials int }

// known says whether p is a proportion of at least one trial.
func (p Proportion) known() bool {
	return p.Trials > 0 && p.Successes >= 0 && p.Successes <= p.Trials
}

// Estimate is successes over trials; NaN without trials.
func (p Proportion) Estimate() float64 {
	if !p.known() {
		return math.NaN()
	}
	return float64(p.Successes) / float64(p.Trials)
}

// ClopperPearson is the exact interval of a proportion by beta quantiles
// (Clopper & Pearson 1934, Biometrika 26:404-13). Conventions as in Wilson: the
// lower end is exactly 0 at no successes and the upper exactly 1 at n; without
// trials [0, 1]; arguments out of range give NaN at both ends.
func ClopperPearson(successes, n int, confidence float64) Interval {
	switch {
	case n < 0 || successes < 0 || successes > n || !(confidence > 0 && confidence < 1):
		return Interval{math.NaN(), math.NaN()}
	case n == 0:
		return Interval{0, 1}
	}
	tail, x, m := (1-confidence)/2, float64(successes), float64(n)
	i := Interval{0, 1}
	if successes > 0 {
		i.Lower = distuv.Beta{Alpha: x, Beta: m - x + 1}.Quantile(tail)
	}
	if successes < n {
		i.Upper = distuv.Beta{Alpha: x + 1, Beta: m - x}.Quantile(1 - tail)
	}
	return i
}

// NewcombeDifference is the hybrid score interval of the difference a - b of
// two independent proportions (method 10 of Newcombe 1998, Stat Med 17:873-90),
// made of the two Wilson intervals. It never leaves [-1, 1] and needs no
// correction at zero events. A proportion without trials gives NaN at both
// ends.
func NewcombeDifference(a, b Proportion, confidence float64) Interval {
	if !a.known() || !b.known() {
		return Interval{math.NaN(), math.NaN()}
	}
	p, q := a.Estimate(), b.Estimate()
	i, j := Wilson(a.Successes, a.Trials, confidence), Wilson(b.Successes, b.Trials, confidence)
	return Interval{
		Lower: p - q - math.Hypot(p-i.Lower, j.Upper-q),
		Upper: p - q + math.Hypot(i.Upper-p, q-j.Lower),
	}
}

// WaldDifference is the plain interval of the difference a - b by the normal
// approximation: what most published trials print, kept to compare with them.
// It has no width where both proportions are 0 or 1; prefer
// NewcombeDifference. A proportion without trials gives NaN at both ends.
func WaldDifference(a, b Proportion, confidence float64) Interval {
	if !a.known() || !b.known() || !(confidence > 0 && confidence < 1) {
		return Interval{math.NaN(), math.NaN()}
	}
	p, q := a.Estimate(), b.Estimate()
	half := distuv.UnitNormal.Quantile((1+confidence)/2) *
		math.Sqrt(p*(1-p)/float64(a.Trials)+q*(1-q)/float64(b.Trials))
	return Interval{p - q - half, p - q + half}
}

// RiskRatio is the ratio of proportion a to b with the interval of its
// logarithm (Katz, Baptista, Azen & Pike 1978, Biometrics 34:469-74; from
// memory).
//
// Conventions: no half is added at zero events. With none in a the ratio is 0
// and with none in b it is infinite, the interval then [0, +Inf] for the
// method tells nothing; none in either, or no trials, gives a ratio of NaN.
func RiskRatio(a, b Proportion, confidence float64) (ratio float64, i Interval) {
	if !a.known() || !b.known() || !(confidence > 0 && confidence < 1) {
		return math.NaN(), Interval{math.NaN(), math.NaN()}
	}
	ratio = a.Estimate() / b.Estimate()
	if a.Successes == 0 || b.Successes == 0 {
		return ratio, Interval{0, math.Inf(1)}
	}
	variance := 1/float64(a.Successes) - 1/float64(a.Trials) + 1/float64(b.Successes) - 1/float64(b.Trials)
	factor := math.Exp(distuv.UnitNormal.Quantile((1+confidence)/2) * math.Sqrt(variance))
	return ratio, Interval{ratio / factor, ratio * factor}
}
