package stats

import "math"

// d2 is the mean range of two normal values in sigmas, as tabled to three
// decimals (Montgomery, appendix VI); exactly 2/sqrt(pi) = 1.128379.
const d2 = 1.128

// LaneyPChart is a p' chart: a p chart whose sigmas are multiplied by how much
// more, or less, the points vary from one to the next than chance alone would
// let them (Laney 2002, Quality Engineering 14:531-7). With large samples a
// plain p chart signals everywhere.
//
// Conventions: sigma Z is the mean moving range of the Z over 1.128; a sample
// without size is left out, its neighbours then follow each other. With fewer
// than two points, or points that do not vary, sigma Z is not known and taken
// as 1.
func LaneyPChart(samples []Sample) Chart { return proportions.laney(samples) }

// LaneyUChart is a u' chart, as LaneyPChart for counts per unit.
func LaneyUChart(samples []Sample) Chart { return counts.laney(samples) }

func (a attribute) laney(samples []Sample) Chart {
	plain := a.chart(samples, center(samples), 1)
	spread := movingRange(plain.Z()) / d2
	if !(spread > 0) || math.IsInf(spread, 1) {
		return plain
	}
	return a.chart(samples, plain.Center, spread)
}

// movingRange is the mean distance from each value to the one before it, those
// that are no number left out; NaN with fewer than two.
func movingRange(values []float64) float64 {
	sum, n, before := 0.0, 0, math.NaN()
	for _, v := range values {
		if math.IsNaN(v) {
			continue
		}
		if !math.IsNaN(before) {
			sum += math.Abs(v - before)
			n++
		}
		before = v
	}
	return sum / float64(n)
}
