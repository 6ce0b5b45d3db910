package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Rate is events seen over an exposure, such as cannula-days or thousands of
// them: the rate is events per unit of the exposure.
type Rate struct {
	Events   int
	Exposure float64
}

// known says whether r can be a rate at all.
func (r Rate) known() bool {
	return r.Events >= 0 && r.Exposure > 0 && !math.IsInf(r.Exposure, 1)
}

// Estimate is events per unit of exposure; NaN where there is no exposure.
func (r Rate) Estimate() float64 {
	if !r.known() {
		return math.NaN()
	}
	return float64(r.Events) / r.Exposure
}

// Interval is the exact (central) interval of a Poisson rate (Garwood 1936,
// Biometrika 28:437-42): half a chi-squared quantile with 2x and 2x+2 degrees
// of freedom, over the exposure. confidence lies between 0 and 1, both
// excluded.
//
// Conventions: at no events the lower end is exactly 0 and the upper end takes
// half the error, as elsewhere; without exposure, or with arguments out of
// range, NaN at both ends.
func (r Rate) Interval(confidence float64) Interval {
	if !r.known() || !(confidence > 0 && confidence < 1) {
		return Interval{math.NaN(), math.NaN()}
	}
	tail, x := (1-confidence)/2, float64(r.Events)
	i := Interval{Upper: distuv.Gamma{Alpha: x + 1, Beta: 1}.Quantile(1-tail) / r.Exposure}
	if r.Events > 0 {
		i.Lower = distuv.Gamma{Alpha: x, Beta: 1}.Quantile(tail) / r.Exposure
	}
	return i
}
