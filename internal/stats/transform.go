package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Transform is the scale on which the estimate of a share, such as survival or
// cumulative incidence, is taken to be normal for its interval.
type Transform int

const (
	// LogLog keeps the interval within 0 to 1 and holds well with few episodes
	// (Kalbfleisch & Prentice 1980, The Statistical Analysis of Failure Time Data;
	// from memory).
	LogLog Transform = iota
	// Log keeps it above 0; the upper end is cut at 1.
	Log
	// Plain leaves the estimate as it is; both ends are cut to 0 to 1.
	Plain
)

// Interval is the interval of a share with its standard error. Confidence lies
// between 0 and 1, both excluded. Where the transform has no value (LogLog at 0
// and 1, Log at 0), the standard error is none or an argument is out of range,
// both ends are NaN.
func (t Transform) Interval(share, se, confidence float64) Interval {
	none := Interval{math.NaN(), math.NaN()}
	if !(share >= 0 && share <= 1 && se >= 0 && confidence > 0 && confidence < 1) {
		return none
	}
	half := distuv.UnitNormal.Quantile((1+confidence)/2) * se
	switch {
	case t == LogLog && share > 0 && share < 1:
		power := math.Exp(-half / (share * math.Log(share)))
		return Interval{math.Pow(share, power), math.Pow(share, 1/power)}
	case t == Log && share > 0:
		factor := math.Exp(half / share)
		return Interval{share / factor, min(1, share*factor)}
	case t == Plain:
		return Interval{max(0, share-half), min(1, share+half)}
	}
	return none
}

var transformWords = map[string]Transform{"loglog": LogLog, "log": Log, "plain": Plain}

// ParseTransform reads loglog, log or plain.
func ParseTransform(text string) (Transform, error) {
	t, ok := transformWords[text]
	if !ok {
		return t, fmt.Errorf("%q is no scale of an interval", text)
	}
	return t, nil
}
