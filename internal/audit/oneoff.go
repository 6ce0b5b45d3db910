package audit

import (
	"time"

	"dwellbook/internal/line"
)

// cause is an entry that opens a one-off duty, or brings an open one forward.
// allowance is what a policy gives from the entry on; ok is false where the
// policy makes no duty of it.
type cause struct {
	mark      *line.Mark
	at        line.Minute
	allowance func(*Policy) (d time.Duration, ok bool)
}

// oneOff is a one-off duty in the making.
type oneOff struct {
	Duty
	missed line.Minute // from then on it is missed
}

// take makes a duty of a cause; ok is false where no policy has it due.
func (s *scene) take(no ruleNo, l *line.Line, c cause) (o oneOff, ok bool) {
	var allowance time.Duration
	due, p, ok := s.dueBy(no, func(p *Policy) (line.Minute, bool) {
		d, ok := c.allowance(p)
		return c.at.Add(d), ok
	})
	if !ok {
		return oneOff{}, false
	}
	allowance, _ = c.allowance(p)
	o = oneOff{Duty: newDuty(no, p, l, due), missed: max(due, c.at.Add(2*allowance))}
	if allowance == 0 {
		shift := s.calendar(s.h.LastWardAt(due)).shift(due)
		o.missed = due + shift.Until - shift.From
	}
	o.Opens, o.Allowance, o.cause = c.at, allowance, c.mark
	return o, true
}

// forward brings an open duty forward to where a further cause has it due.
func (o *oneOff) forward(further oneOff) {
	if further.Due < o.Due {
		opens := o.Opens
		*o = further
		o.Opens = opens
	}
}

// end settles a one-off duty that something ended, or nothing has (Far). It
// reports false for one that never counts: withdrawn before it fell due.
func (o *oneOff) end(at, ended line.Minute, by MetBy) bool {
	inTime := ended < o.Due || o.Allowance == 0 && ended == o.Due
	switch {
	case inTime && by == ByNothing:
		return false
	case inTime:
		o.met(MetInTime, ended, by)
	case ended <= at && ended < o.missed:
		o.met(MetLate, ended, by)
	case ended <= at:
		o.met(Missed, ended, by)
	case o.missed <= at:
		o.How = Missed
	}
	return true
}

// removalDuty adds the one duty that the causes, in order, make until the line is out.
func (s *scene) removalDuty(no ruleNo, l *line.Line, causes []cause) {
	var open *oneOff
	for _, c := range causes {
		next, ok := s.take(no, l, c)
		switch {
		case !ok:
		case open == nil:
			open = &next
		default:
			open.forward(next)
		}
	}
	if open != nil {
		s.out(l, open)
	}
}

// out adds a duty that only the line's coming out ends.
func (s *scene) out(l *line.Line, o *oneOff) {
	switch {
	case l.Gone() && l.Out <= s.at:
		if o.Due > l.Out {
			return
		}
		o.How, o.Ended = Missed, l.Out
	case l.Removal != nil && !l.Gone():
		o.end(s.at, l.Out, ByRemoval)
	default:
		o.end(s.at, line.Far, ByNothing)
	}
	s.duties = append(s.duties, o.Duty)
}

// fixed is an allowance that does not depend on the cause.
func fixed(field func(*Policy) time.Duration) func(*Policy) (time.Duration, bool) {
	return func(p *Policy) (time.Duration, bool) { return field(p), true }
}
