package stats

import "math"

// TChart is a control chart of the time between rare events (Nelson 1994, J
// Qual Technol 26:239-41): exponential times raised to 1/3.6 are nearly normal,
// are charted one by one, and centre and limits are raised back.
type TChart struct {
	Center, Lower, Upper float64   // in the unit of the times
	Z                    []float64 // each point's distance from the centre in sigmas, as transformed
}

// nelson is the power that makes exponential times nearly normal.
const nelson = 3.6

// NewTChart charts times between events, all above 0: where two events fall on
// one instant the transformation is not meant to be used, and that point is left
// out (NaN). Sigma is the mean moving range over 1.128. Fewer than two times
// give NaN limits.
func NewTChart(times []float64) TChart {
	y := make([]float64, len(times))
	sum, n := 0.0, 0
	for k, t := range times {
		if !(t > 0) {
			y[k] = math.NaN()
			continue
		}
		y[k] = math.Pow(t, 1/nelson)
		sum += y[k]
		n++
	}
	mean, sigma := sum/float64(n), movingRange(y)/d2
	back := func(y float64) float64 { return math.Pow(max(0, y), nelson) }
	c := TChart{Center: back(mean), Lower: back(mean - sigmas*sigma), Upper: back(mean + sigmas*sigma), Z: y}
	for k := range y {
		y[k] = inSigmas(y[k]-mean, sigma)
	}
	return c
}
