package outcomes

import (
	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// Curve is an operator's trials summed up in three ways. It marks signals and
// grades nobody.
type Curve struct {
	Standard   Standard
	Unit       Unit
	Trials     []line.Tried         // oldest first
	Learning   stats.CusumPath      // signals that performance has become adequate
	Sequential stats.SequentialPath // the two-sided sum, without a floor
	// Watch signals that performance no longer is adequate. It begins after the
	// first signal of Learning, its trial 1 being the one after LearnedAt; before
	// that it is empty.
	Watch     stats.CusumPath
	LearnedAt int // the trial, from 1; 0: not yet
}

// Curve sums up the trials of a record.
func (s Standard) Curve(r *Record, u Unit) Curve {
	c := Curve{Standard: s, Unit: u, Trials: r.Trials(u)}
	failures := Failures(c.Trials)
	c.Learning, c.Sequential = s.Learning(failures), s.sequential.Run(failures)
	if len(c.Learning.Signals) > 0 {
		c.LearnedAt = c.Learning.Signals[0]
		c.Watch = s.Watch(failures[c.LearnedAt:])
	}
	return c
}

// Boundaries are those of the two-sided sum: at lower or below it shows the
// acceptable rate, at upper or above the unacceptable.
func (s Standard) Boundaries() (lower, upper float64) { return -s.sequential.Lower, s.sequential.Upper }

// Learning is the sum that signals when performance has become adequate.
func (s Standard) Learning(failures []bool) stats.CusumPath {
	return stats.Cusum{Limit: s.LearningLimit, Restarts: s.Restarts}.Run(s.rates.Learning().Of(failures))
}

// Watch is the sum that signals when performance has become unacceptable.
func (s Standard) Watch(failures []bool) stats.CusumPath {
	return stats.Cusum{Limit: s.WatchLimit, Restarts: s.Restarts}.Run(s.rates.Worsening().Of(failures))
}

// Failures tells of each trial whether it failed.
func Failures(trials []line.Tried) []bool {
	failures := make([]bool, len(trials))
	for i, t := range trials {
		failures[i] = t.Failed
	}
	return failures
}

// Tells reports whether there are enough trials, 10 (house rule), for the curve
// to say anything.
func (c Curve) Tells() bool { return len(c.Trials) >= few }

// Reading says which sums signalled, and what a signal is worth.
func (c Curve) Reading() []line.Message {
	if !c.Tells() {
		return []line.Message{line.Say("learning.read.few", "n", few, "units", c.Unit.Plural())}
	}
	b := c.Standard.Behaviour()
	if c.LearnedAt == 0 {
		return []line.Message{line.Say("learning.read.not-yet", "units", c.Unit.Plural(), "usual", line.Number(b.AdequateIn), "rate", line.Share(c.Standard.Acceptable))}
	}
	says := []line.Message{line.Say("learning.read.adequate", "unit", c.Unit, "units", c.Unit.Plural(), "at", c.LearnedAt,
		"chance", line.Share(b.FalselyAdequate), "within", FollowedFor, "rate", line.Share(c.Standard.Unacceptable))}
	if len(c.Watch.Signals) == 0 {
		says = append(says, line.Say("learning.read.calm", "unit", c.Unit))
	} else {
		says = append(says, line.Say("learning.read.watch", "unit", c.Unit, "at", c.LearnedAt+c.Watch.Signals[0]))
	}
	return append(says, c.Standard.FalseAlarms(c.Unit))
}

// FalseAlarms says how often the watching sum signals by chance.
func (s Standard) FalseAlarms(u Unit) line.Message {
	every := s.watching(s.Acceptable).AverageRunLength(s.WatchLimit)
	return line.Say("learning.read.false-alarm", "units", u.Plural(), "every", line.Number(every), "rate", line.Share(s.Acceptable))
}
