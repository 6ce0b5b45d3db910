package audit

import (
	"time"

	"dwellbook/internal/line"
)

// dwell-check: an adult's line that has been in for 96 h, and every 24 h from
// then, has a review that records whether it is still needed. There is no
// routine change.

type dwellValues struct{ first, every time.Duration }

var dwellCheckRule = rule{
	settings: []setting{
		span("first", func(v *values) *time.Duration { return &v.dwell.first }, 12*time.Hour, 30*24*time.Hour),
		span("then_every", func(v *values) *time.Duration { return &v.dwell.every }, time.Hour, 7*24*time.Hour),
	},
	duties:  dwellDuties,
	explain: explainDwell,
}

func dwellDuties(s *scene, l *line.Line) {
	if l.Placement.Precision == line.ToDay {
		return // only the day is known
	}
	first := len(s.duties)
	d := dweller{scene: s, line: l, looks: looksOf(l, saysNeed)}
	for i := range s.book.policies {
		span := &s.book.policies[i]
		if span.rules[dwellCheck].on && span.From < span.Until && span.From < l.Out && d.run(span) {
			break
		}
	}
	s.resolve(l, first, d.looks)
	s.endWithAdulthood(first)
}

type dweller struct {
	*scene
	line  *line.Line
	looks looks
	had   bool // a policy so far had a check due
}

// run adds the checks that fall due under one policy. It reports whether it
// came to one that is still to be met.
func (d *dweller) run(span *policySpan) (pending bool) {
	due := d.line.Placed.Add(span.dwell.first)
	if due < span.From {
		if !d.had && d.check(span.From, span.Policy) {
			return true // what this policy would have had due before falls due with it
		}
		every := line.Minute(span.dwell.every / time.Minute)
		due += (span.From - due + every - 1) / every * every
	}
	for ; due < span.Until && due <= d.line.Out; due = due.Add(span.dwell.every) {
		d.had = true
		if d.check(due, span.Policy) {
			return true
		}
	}
	return false
}

// check adds one check, for an adult whom some ward has; a review in the
// interval before it meets it. It reports whether no later one is of interest.
func (d *dweller) check(due line.Minute, p *Policy) (pending bool) {
	_, held := d.stay(due)
	if !held || d.h.GroupAt(due) != line.Adult {
		return due > d.at // as things stand, nor does any later one fall due
	}
	o := newDuty(dwellCheck, p, d.line, due)
	o.Opens, o.Allowance = due.Add(-p.dwell.every), p.dwell.every
	if k := d.looks.from(o.Opens); k < len(d.looks) && d.looks[k].at < due && d.looks[k].by == ByReview {
		o.met(MetInTime, d.looks[k].at, ByReview)
	}
	d.duties = append(d.duties, o)
	return o.How == Open && due > d.at
}

// endWithAdulthood ends checks still overdue when the patient counts as a child.
func (s *scene) endWithAdulthood(first int) {
	for i := first; i < len(s.duties); i++ {
		d := &s.duties[i]
		for _, adult := range s.adult {
			if adult.Holds(d.Due) && adult.Until <= s.at && adult.Until < d.Ended && d.How != MetInTime {
				d.How, d.Ended, d.MetBy = Missed, adult.Until, ByNothing
			}
		}
	}
}

func explainDwell(s *scene, l *line.Line, d *Duty) (why, do line.Message) {
	why = line.Say("audit.dwell-check.why", "dwell", d.Due.Sub(l.Placed), "placed", l.Placed)
	if l.Placement.Precision == line.NotKnown {
		why.Key = "audit.dwell-check.why-at-least"
	}
	return why, line.Say("audit.dwell-check.do", "first", d.policy.dwell.first, "every", d.policy.dwell.every, "due", d.Due)
}
