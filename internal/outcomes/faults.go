package outcomes

import (
	"cmp"
	"maps"
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// FaultCourse is how often attempts failed for one reason, over time.
type FaultCourse struct {
	Fault line.Fault
	N     int
	// Quarters are the attempts with the fault among all attempts, in four parts
	// of as many attempts each, oldest first.
	Quarters [4]stats.Proportion
	// Change is the interval of the rate in the later half of the attempts less
	// that in the earlier (Newcombe 1998, method 10), at the confidence that two
	// faults looked at together leave each (Bonferroni).
	Change stats.Interval
}

// Trend is whether the rate of a fault has changed.
type Trend int

// The trends.
const (
	TooFewForTrend Trend = iota
	NoTrend              // no more than chance explains; which shows no sameness
	Rarer
	Commoner
)

// Faults are the faults of a record's attempts, commonest first.
func (r *Record) Faults() []FaultCourse {
	var none FaultCourse
	courses := map[line.Fault]*FaultCourse{}
	for quarter := range none.Quarters {
		none.Quarters[quarter].Trials = len(quarterOf(r.Tried, quarter))
	}
	for quarter := range none.Quarters {
		for _, t := range quarterOf(r.Tried, quarter) {
			if !t.Failed {
				continue
			}
			if courses[t.Fault] == nil {
				first := none
				first.Fault = t.Fault
				courses[t.Fault] = &first
			}
			courses[t.Fault].N++
			courses[t.Fault].Quarters[quarter].Successes++
		}
	}
	list := make([]FaultCourse, 0, len(courses))
	for _, fault := range slices.Sorted(maps.Keys(courses)) {
		c := *courses[fault]
		earlier, later := c.Halves()
		c.Change = stats.NewcombeDifference(later, earlier, 1-(1-Confidence)/2)
		list = append(list, c)
	}
	slices.SortStableFunc(list, func(a, b FaultCourse) int { return cmp.Compare(b.N, a.N) })
	return list
}

func quarterOf(tried []line.Tried, quarter int) []line.Tried {
	return tried[quarter*len(tried)/4 : (quarter+1)*len(tried)/4]
}

// Halves are the attempts with the fault in the earlier and the later half.
func (c FaultCourse) Halves() (earlier, later stats.Proportion) {
	q := c.Quarters
	return stats.Proportion{Successes: q[0].Successes + q[1].Successes, Trials: q[0].Trials + q[1].Trials},
		stats.Proportion{Successes: q[2].Successes + q[3].Successes, Trials: q[2].Trials + q[3].Trials}
}

// Trend compares the two halves; each needs 10 attempts (house rule).
func (c FaultCourse) Trend() Trend {
	earlier, later := c.Halves()
	switch {
	case min(earlier.Trials, later.Trials) < few:
		return TooFewForTrend
	case c.Change.Upper < 0:
		return Rarer
	case c.Change.Lower > 0:
		return Commoner
	}
	return NoTrend
}

// Reading says whether the rate of the fault has changed.
func (c FaultCourse) Reading() line.Message {
	earlier, later := c.Halves()
	key := [...]string{"learning.fault.few", "learning.fault.alike", "learning.fault.rarer", "learning.fault.commoner"}[c.Trend()]
	return line.Say(key, "fault", c.Fault, "x", earlier.Successes, "m", earlier.Trials, "y", later.Successes, "n", later.Trials)
}
