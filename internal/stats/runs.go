package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// RunRule is one usual rule for a special cause on a control chart, on points
// given as distances from the centre in sigmas.
type RunRule struct {
	Name   string // stable, for a catalogue key and an export
	Source string
	found  func(z []float64) bool // whether the last point of a window ends the pattern
	window int
}

const (
	westernElectric = "Western Electric, Statistical Quality Control Handbook, 1956 (from memory)"
	nelson1984      = "Nelson 1984, J Qual Technol 16:237-9 (from memory)"
)

// The rules. Each holds at the point that completes the pattern. A point on the
// centre belongs to neither side and ends a run; a point on a line is not beyond
// it.
var (
	BeyondLimits = RunRule{"beyond-limits", westernElectric, share(1, 1, 3), 1}
	TwoOfThree   = RunRule{"two-of-three-beyond-two-sigma", westernElectric, share(2, 3, 2), 3}
	FourOfFive   = RunRule{"four-of-five-beyond-one-sigma", westernElectric, share(4, 5, 1), 5}
	EightInARow  = RunRule{"eight-on-one-side", westernElectric, share(8, 8, 0), 8}
	NineInARow   = RunRule{"nine-on-one-side", nelson1984, share(9, 9, 0), 9}
	SixSteady    = RunRule{"six-rising-or-falling", nelson1984, steady, 6}
	Alternating  = RunRule{"fourteen-alternating", nelson1984, alternating, 14}
	Hugging      = RunRule{"fifteen-within-one-sigma", nelson1984, all(func(z float64) bool { return math.Abs(z) < 1 }), 15}
	Avoiding     = RunRule{"eight-beyond-one-sigma-on-both-sides", nelson1984, avoiding, 8}
)

// WesternElectricRules are the four of the 1956 handbook.
func WesternElectricRules() []RunRule {
	return []RunRule{BeyondLimits, TwoOfThree, FourOfFive, EightInARow}
}

// NelsonRules are the eight of 1984; the more rules are read together, the more
// often chance alone signals.
func NelsonRules() []RunRule {
	return []RunRule{BeyondLimits, NineInARow, SixSteady, Alternating, TwoOfThree, FourOfFive, Hugging, Avoiding}
}

// Signal is a rule that holds at a point; the pattern begins at From.
type Signal struct {
	Rule     RunRule
	From, At int // indices into the points, both ends included
}

// Signals is every place at which a rule holds, by point and then in the order
// of the rules. Points that are no number (samples without size) are passed
// over, as if they had not been there.
func Signals(z []float64, rules []RunRule) []Signal {
	var at []int
	var kept []float64
	for k, v := range z {
		if !math.IsNaN(v) {
			at, kept = append(at, k), append(kept, v)
		}
	}
	var out []Signal
	for end := range kept {
		for _, r := range rules {
			from := end + 1 - r.window
			if from >= 0 && r.found(kept[from:end+1]) {
				out = append(out, Signal{r, at[from], at[end]})
			}
		}
	}
	return out
}

// share holds where at least k of n points, the last among them, lie on one side
// beyond so many sigmas.
func share(k, n int, beyond float64) func([]float64) bool {
	return func(z []float64) bool {
		last := z[n-1]
		if math.Abs(last) <= beyond {
			return false
		}
		met := 0
		for _, v := range z {
			if math.Abs(v) > beyond && (v > 0) == (last > 0) {
				met++
			}
		}
		return met >= k
	}
}

func all(holds func(float64) bool) func([]float64) bool {
	return func(z []float64) bool {
		for _, v := range z {
			if !holds(v) {
				return false
			}
		}
		return true
	}
}

// steady holds where each point lies above the one before, or each below; ties end it.
func steady(z []float64) bool {
	rising := z[1] > z[0]
	for k := 1; k < len(z); k++ {
		if z[k] == z[k-1] || (z[k] > z[k-1]) != rising {
			return false
		}
	}
	return true
}

// alternating holds where up follows down and down follows up all along.
func alternating(z []float64) bool {
	for k := 2; k < len(z); k++ {
		if (z[k]-z[k-1])*(z[k-1]-z[k-2]) >= 0 {
			return false
		}
	}
	return true
}

// avoiding holds where all points lie beyond one sigma, some on each side.
func avoiding(z []float64) bool {
	above, below := 0, 0
	for _, v := range z {
		switch {
		case v > 1:
			above++
		case v < -1:
			below++
		}
	}
	return above+below == len(z) && above > 0 && below > 0
}

// RunChart is how a series of points lies about its centre line, whatever their
// distribution: the longest run on one side, and how often the line is crossed
// (Anhoej & Olesen 2014, PLoS ONE 9:e113825; from memory).
type RunChart struct {
	Useful    int // points not on the line
	Longest   int // points of the longest run on one side
	Crossings int
	// The limits for so many useful points: a run longer, or crossings fewer, is unusual.
	LongestUsual, CrossingsUsual int
}

// NewRunChart reads values about a centre line, usually their median. A value on
// the line neither breaks nor lengthens a run. The limits are log2(n)+3, rounded,
// and the 5th percentile of the crossings that a fair coin would make; with
// fewer than ten useful points hardly anything could signal.
func NewRunChart(values []float64, line float64) RunChart {
	var r RunChart
	run, above := 0, false
	for _, v := range values {
		if math.IsNaN(v) || v == line {
			continue
		}
		switch {
		case r.Useful > 0 && (v > line) == above:
			run++
		case r.Useful > 0:
			r.Crossings++
			run = 1
		default:
			run = 1
		}
		above = v > line
		r.Useful++
		r.Longest = max(r.Longest, run)
	}
	if r.Useful > 1 {
		r.LongestUsual = int(math.Round(math.Log2(float64(r.Useful)) + 3))
		coin := distuv.Binomial{N: float64(r.Useful - 1), P: 0.5}
		for coin.CDF(float64(r.CrossingsUsual)) < 0.05 {
			r.CrossingsUsual++
		}
	}
	return r
}

// Unusual says whether the points lie about the line as chance alone would
// seldom put them.
func (r RunChart) Unusual() bool {
	return r.Useful > 1 && (r.Longest > r.LongestUsual || r.Crossings < r.CrossingsUsual)
}
