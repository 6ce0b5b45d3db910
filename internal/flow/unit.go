package flow

import (
	"math"
	"strconv"
	"time"
)

// Units of what goes in and comes out.
type (
	Pascal                 float64
	MillimetreOfMercury    float64
	Centimetre             float64
	Millimetre             float64
	Celsius                float64
	Millilitre             float64
	MillilitresPerMinute   float64
	PascalSecond           float64
	KilogramsPerCubicMetre float64
)

// gravity is the standard acceleration of free fall, m/s2 (CGPM 1901).
const gravity = 9.80665

// Pascal converts by the conventional millimetre of mercury, 133.322 Pa.
func (p MillimetreOfMercury) Pascal() Pascal { return Pascal(133.322 * p) }

// under is the pressure at the foot of a column of the liquid.
func (h Centimetre) under(l liquid) Pascal {
	return Pascal(float64(l.density) * gravity * float64(h) / 100)
}

func (l Millimetre) metres() float64 { return float64(l) / 1000 }

// cubicMetresPerSecond and its opposite, perMinute, are the one way between
// what people read and what the equations take.
func (q MillilitresPerMinute) cubicMetresPerSecond() float64 { return float64(q) * 1e-6 / 60 }

func perMinute(cubicMetresPerSecond float64) MillilitresPerMinute {
	return MillilitresPerMinute(cubicMetresPerSecond * 60 / 1e-6)
}

// String is the number of a flow to two significant digits: a third would claim
// more than is known.
func (q MillilitresPerMinute) String() string {
	q = q.two(math.Round)
	decimals := 0
	if q > 0 && q < 10 {
		decimals = 1 - int(math.Floor(math.Log10(float64(q))))
	}
	return strconv.FormatFloat(float64(q), 'f', decimals, 64)
}

// PerSecond is a flow given in mL/s, as contrast is.
func PerSecond(ml float64) MillilitresPerMinute { return MillilitresPerMinute(ml * 60) }

// PerHour is a flow given in mL/h, as fluids are prescribed.
func PerHour(ml float64) MillilitresPerMinute { return MillilitresPerMinute(ml / 60) }

// Over is the flow that gives a volume in a time, such as a drug over half an hour.
func Over(v Millilitre, d time.Duration) MillilitresPerMinute {
	return MillilitresPerMinute(float64(v) / d.Minutes())
}

// time is how long a volume takes; a flow that would need centuries is cut there.
func (q MillilitresPerMinute) time(v Millilitre) time.Duration {
	d := float64(v) / float64(q) * float64(time.Minute)
	if !(d < math.MaxInt64) {
		return math.MaxInt64
	}
	return time.Duration(d)
}

// two is a flow to two significant digits, by the given way of rounding.
func (q MillilitresPerMinute) two(round func(float64) float64) MillilitresPerMinute {
	if q <= 0 {
		return q
	}
	digit := math.Pow10(int(math.Floor(math.Log10(float64(q)))) - 1)
	// A flow already of two digits, divided by a digit below 1, may miss the whole number by an ulp.
	whole := float64(q) / digit
	if near := math.Round(whole); math.Abs(whole-near) < 1e-9 {
		whole = near
	}
	return MillilitresPerMinute(round(whole) * digit)
}
