package stats

import "math"

// Sample is one point of a control chart before it is drawn: Count of Size
// units, such as first-attempt successes of insertions, or phlebitis in
// thousands of cannula-days.
type Sample struct{ Count, Size float64 }

// ChartPoint is one point of a control chart. Value, Lower, Upper and Z are NaN
// where the sample has no size: nothing was seen, and the point is left out.
type ChartPoint struct {
	Value        float64
	Lower, Upper float64 // three-sigma limits, drawn no further than a value can go
	Z            float64 // distance from the centre in sigmas, for the run rules
}

// Chart is a control chart with three-sigma limits.
type Chart struct {
	Center float64
	// Spread is what the sampling sigmas were multiplied by: 1, or Laney's sigma Z.
	Spread float64
	Points []ChartPoint
}

// sigmas is how far from the centre the limits stand (Shewhart 1931).
const sigmas = 3

// attribute is a kind of chart: how far a value of so many units varies about
// a centre, and the largest a value can be.
type attribute struct {
	sigma func(center, size float64) float64
	most  float64
}

var (
	proportions = attribute{func(p, n float64) float64 { return math.Sqrt(p * (1 - p) / n) }, 1}
	counts      = attribute{func(u, n float64) float64 { return math.Sqrt(u / n) }, math.Inf(1)}
)

// PChart charts proportions of samples that may differ in size: the centre is
// the pooled proportion, and the limits of each point follow from its own size
// (Montgomery, Introduction to Statistical Quality Control; NIST/SEMATECH
// e-Handbook 6.3.3.2).
//
// Conventions: limits are drawn no lower than 0 and no higher than 1; a sample
// without size is left out; without any, the centre is NaN. At no events, or
// events only, the limits fall together with the centre and nothing signals.
func PChart(samples []Sample) Chart { return proportions.chart(samples, center(samples), 1) }

// PChartAbout is PChart about a centre found earlier, of a period taken as usual.
func PChartAbout(center float64, samples []Sample) Chart {
	return proportions.chart(samples, center, 1)
}

// UChart charts counts per unit, such as events per 1000 cannula-days, of
// samples that may differ in exposure (sources as PChart). Lower limits are
// drawn no lower than 0. A c chart is one whose samples all have size 1.
func UChart(samples []Sample) Chart { return counts.chart(samples, center(samples), 1) }

// UChartAbout is UChart about a centre found earlier.
func UChartAbout(center float64, samples []Sample) Chart { return counts.chart(samples, center, 1) }

// center is the pooled value.
func center(samples []Sample) float64 {
	var all Sample
	for _, s := range samples {
		if s.Size > 0 {
			all.Count += s.Count
			all.Size += s.Size
		}
	}
	return all.Count / all.Size // none: 0/0 is NaN
}

func (a attribute) chart(samples []Sample, center, spread float64) Chart {
	c := Chart{Center: center, Spread: spread, Points: make([]ChartPoint, len(samples))}
	for k, s := range samples {
		if !(s.Size > 0) {
			nan := math.NaN()
			c.Points[k] = ChartPoint{nan, nan, nan, nan}
			continue
		}
		sigma := a.sigma(center, s.Size) * spread
		c.Points[k] = ChartPoint{
			Value: s.Count / s.Size,
			Lower: max(0, center-sigmas*sigma),
			Upper: min(a.most, center+sigmas*sigma),
			Z:     inSigmas(s.Count/s.Size-center, sigma),
		}
	}
	return c
}

// inSigmas is a deviation in sigmas; where nothing can vary, a value on the
// centre is 0 away.
func inSigmas(deviation, sigma float64) float64 {
	if deviation == 0 {
		return 0
	}
	return deviation / sigma
}

// Z is every point's distance from the centre in sigmas, for the run rules.
func (c Chart) Z() []float64 {
	z := make([]float64, len(c.Points))
	for k, p := range c.Points {
		z[k] = p.Z
	}
	return z
}
