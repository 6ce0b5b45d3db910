package chart

import (
	"cmp"
	"math"
	"strconv"
	"strings"
)

// scale takes values to places on the sheet.
type scale struct {
	from, to float64 // values
	lo, hi   float64 // places
}

func (s scale) at(v float64) float64 {
	if s.to <= s.from {
		return s.lo
	}
	v = min(max(v, s.from), s.to)
	return s.lo + (v-s.from)/(s.to-s.from)*(s.hi-s.lo)
}

// span is the least and the greatest of what can be drawn, and always holds zero.
type span struct{ least, most float64 }

func (s *span) take(values ...float64) {
	for _, v := range values {
		if drawable(v) {
			s.least, s.most = min(s.least, v), max(s.most, v)
		}
	}
}

// ticks are round values from at or below the span's least to at or above its
// greatest, at most so many and at least two: steps of 1, 2 or 5 times a power
// of ten (Heckbert 1990, "Nice numbers for graph labels").
func (s span) ticks(limit int) []float64 {
	if s.most <= s.least {
		s.most = s.least + 1
	}
	limit = max(limit, 3)
	for step := math.Pow(10, math.Floor(math.Log10((s.most-s.least)/float64(limit)))); ; step *= 10 {
		for _, times := range []float64{1, 2, 5} {
			from := math.Floor(s.least/(step*times) + 1e-9)
			to := math.Ceil(s.most/(step*times) - 1e-9)
			if to-from+1 > float64(limit) {
				continue
			}
			var at []float64
			for i := from; i <= to; i++ {
				at = append(at, i*step*times)
			}
			return at
		}
	}
}

// fitting are as many round ticks of an axis as their figures leave room for.
func fitting(a Axis, values span, s sheet, room float64) []float64 {
	for limit := 8; ; limit-- {
		ticks := values.ticks(limit)
		if limit <= 3 || (widest(a.written(ticks), s.kind, false)+10)*float64(len(ticks)-1) <= room {
			return ticks
		}
	}
}

// shareTicks are those of an axis of shares that ends at the whole.
func shareTicks() []float64 { return []float64{0, 0.25, 0.5, 0.75, 1} }

// hourTicks are whole days from zero that do not pass until.
func hourTicks(until float64, limit int) []float64 {
	const day = 24
	days := 1.0
	for _, round := range []float64{1, 2, 3, 4, 7, 14, 28, 56, 112, 364} {
		if days = round; math.Floor(until/(days*day))+1 <= float64(limit) {
			break
		}
	}
	for math.Floor(until/(days*day))+1 > float64(limit) {
		days *= 2
	}
	var at []float64
	for h := 0.0; h <= until; h += days * day {
		at = append(at, h)
	}
	return at
}

// fittingHours are as many of them as their figures leave room for, each as
// wide as the least given.
func fittingHours(until float64, s sheet, room, least float64) []float64 {
	for limit := int(room / (s.kind * 2)); ; limit-- {
		ticks := hourTicks(until, limit)
		apart := max(least, widest(Axis{}.written(ticks), s.kind, false)) + 12
		if limit <= 2 || ticks[1]/until*room >= apart {
			return ticks
		}
	}
}

// written are the words of ticks, all with as many decimals as their step needs.
func (a Axis) written(ticks []float64) []string {
	factor, suffix := 1.0, ""
	if a.Share {
		factor, suffix = 100, " %"
	}
	decimals := 0
	if len(ticks) > 1 {
		step := (ticks[1] - ticks[0]) * factor
		decimals = max(0, -int(math.Floor(math.Log10(step)+1e-9)))
		if whole := step * math.Pow(10, float64(decimals)); math.Abs(whole-math.Round(whole)) > 1e-6 {
			decimals++
		}
	}
	words := make([]string, len(ticks))
	for i, v := range ticks {
		if v == 0 {
			words[i] = "0" + suffix
		} else {
			words[i] = strings.Replace(number(v*factor, decimals), ".", cmp.Or(a.Decimal, "."), 1) + suffix
		}
	}
	return words
}

// number writes a value for a reader: a true minus, and powers of ten where
// the figures would be long.
func number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if len(s) > 7 {
		s = strconv.FormatFloat(v, 'g', 3, 64)
	}
	if s[0] == '-' {
		return "−" + s[1:]
	}
	return s
}
