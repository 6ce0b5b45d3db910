package audit

import (
	"time"

	"dwellbook/internal/line"
)

// review-overdue: each line is looked at once a shift; on clock wards, and
// while the patient is watched more closely, an interval after the last look.

type reviewValues struct {
	every           time.Duration    // 0: each shift
	grace           time.Duration    // after a shift's end, in which a look still counts for it
	leastInSitu     time.Duration    // a shift with less of the line in it makes no duty
	placementWithin time.Duration    // of the shift's end: a placement counts as its look
	afterReturn     time.Duration    // after the time given for return: the look at a line not seen
	watch           [4]time.Duration // by line.Watch; 0: as other patients
}

var reviewOverdueRule = rule{
	settings: []setting{
		optionalSpan("every", func(v *values) *time.Duration { return &v.review.every }, 15*time.Minute, 24*time.Hour),
		span("grace", func(v *values) *time.Duration { return &v.review.grace }, 0, 4*time.Hour),
		span("least_in_situ", func(v *values) *time.Duration { return &v.review.leastInSitu }, 0, 8*time.Hour),
		span("placement_within", func(v *values) *time.Duration { return &v.review.placementWithin }, 0, 24*time.Hour),
		span("after_return", func(v *values) *time.Duration { return &v.review.afterReturn }, 0, 24*time.Hour),
		closerWatch(line.WatchChild), closerWatch(line.WatchSedated), closerWatch(line.WatchIrritant),
	},
	duties:  reviewDuties,
	explain: explainReview,
}

func closerWatch(w line.Watch) setting {
	return optionalSpan("closer_watch."+w.String(), func(v *values) *time.Duration { return &v.review.watch[w] }, 15*time.Minute, 24*time.Hour)
}

func anyReview(*line.Mark) bool { return true }

func reviewDuties(s *scene, l *line.Line) {
	first := len(s.duties)
	ls := looksOf(l, anyReview)
	c := chain{scene: s, no: reviewOverdue, line: l, starts: l.Placed, ends: l.Out, last: line.Far, looks: ls}
	for at := l.Placed; at < l.Out; {
		p, ok := s.paceFrom(at)
		if !ok || p.From >= l.Out {
			break
		}
		goOn := false
		if p.every == 0 {
			goOn = c.run(p.Stretch)
		} else {
			goOn = s.clockRun(l, p, ls)
		}
		if !goOn {
			break
		}
		at = p.Until
	}
	s.returnDuties(l, ls)
	s.resolve(l, first, ls)
}

// pace is a stretch in which looks fall due in one manner: each shift, or by the clock.
type pace struct {
	line.Stretch
	every time.Duration // 0: each shift
}

// paceFrom is the pace at the moment, or the first after it; ok is false where
// no ward has the patient from then on.
func (s *scene) paceFrom(at line.Minute) (p pace, ok bool) {
	for i := range s.h.Stays {
		stay := &s.h.Stays[i]
		for at = max(at, stay.From); at < stay.Until; {
			every, until := s.every(stay.Ward, at)
			until = min(until, stay.Until)
			switch {
			case !ok:
				p, ok = pace{line.Stretch{From: at, Until: until}, every}, true
			case p.every == every && p.Until == at:
				p.Until = until
			default:
				return p, true
			}
			at = until
		}
	}
	return p, ok
}

// every is the interval between looks in a ward at a moment (0: each shift),
// and until when it holds.
func (s *scene) every(ward line.Key, at line.Minute) (every time.Duration, until line.Minute) {
	span := s.calendar(ward).span(at)
	every, until = span.every, span.Until
	policy := s.book.PolicyAt(at)
	for i := range s.h.Watches {
		w := &s.h.Watches[i]
		switch {
		case w.Holds(at):
			until = min(until, w.Until)
			if closer := policy.review.watch[w.Why]; closer > 0 && (every == 0 || closer < every) {
				every = closer
			}
		case w.From > at && w.From < w.Until:
			until = min(until, w.From)
		}
	}
	return every, until
}

// clockRun adds the duties of a stretch by the clock, up to the first that is
// still to be met. It reports whether it went to the end of the stretch.
func (s *scene) clockRun(l *line.Line, in pace, ls looks) bool {
	last := l.LastLook(in.From + 1)
	for {
		due, p, ok := s.dueBy(reviewOverdue, func(*Policy) (line.Minute, bool) { return max(in.From, last.Add(in.every)), true })
		k := ls.from(last + 1)
		for k < len(ls) && ls[k].at == in.Until && ls[k].by != ByRemoval {
			k++ // in the minute in which the stretch ends only a removal still counts in it
		}
		var next *look
		if k < len(ls) && ls[k].at <= in.Until {
			next = &ls[k]
		}
		inTime := next != nil && ok && next.at < due
		if ok && due < in.Until || inTime {
			d := newDuty(reviewOverdue, p, l, due)
			d.Opens, d.kind, d.Allowance = max(last, in.From), ofClock, in.every
			if inTime {
				d.met(MetInTime, next.at, next.by)
			}
			s.duties = append(s.duties, d)
			if d.How == Open && due > s.at {
				return false
			}
		}
		if next == nil || next.at >= l.Out {
			return true
		}
		last = next.at
	}
}

// returnDuties adds the looks due after the return of a patient who was not
// seen. A later not-seen replaces one that is still pending.
func (s *scene) returnDuties(l *line.Line, ls looks) {
	for i := range l.NotSeen {
		m := &l.NotSeen[i]
		if m.Until == 0 {
			continue
		}
		due, p, ok := s.dueBy(reviewOverdue, func(p *Policy) (line.Minute, bool) { return max(m.At, m.Until).Add(p.review.afterReturn), true })
		if !ok || s.h.WardAt(due) == 0 {
			continue
		}
		d := newDuty(reviewOverdue, p, l, due)
		d.Opens, d.kind, d.Allowance, d.cause = m.At, ofReturn, due.Sub(m.At), m
		k := ls.from(m.At)
		for k < len(ls) && ls[k].at == m.At && ls[k].seq < m.Seq {
			k++
		}
		met := k < len(ls) && ls[k].at < due
		if i+1 < len(l.NotSeen) {
			if later := &l.NotSeen[i+1]; later.At < due && !(met && before(ls[k], later)) {
				continue
			}
		}
		if met {
			d.met(MetInTime, ls[k].at, ls[k].by)
		}
		s.duties = append(s.duties, d)
	}
}

func before(l look, m *line.Mark) bool { return l.at < m.At || l.at == m.At && l.seq < m.Seq }

func explainReview(s *scene, l *line.Line, d *Duty) (why, do line.Message) {
	last := l.LastLook(s.at + 1)
	switch d.kind {
	case ofClock:
		return line.Say("audit.review-overdue.why-clock", "last", last),
			line.Say("audit.review-overdue.do-clock", "every", d.Allowance, "due", d.Due)
	case ofReturn:
		return line.Say("audit.review-overdue.why-return", "why", d.cause.Absence, "returns", d.cause.Until),
			line.Say("audit.review-overdue.do-return", "after", d.policy.review.afterReturn, "due", d.Due)
	}
	do = line.Say("audit.review-overdue.do", "due", d.Due)
	n := 0
	for i := len(s.duties) - 1; i >= 0; i-- {
		o := &s.duties[i]
		if o.no != reviewOverdue || o.Line != l.Key {
			break
		}
		if o.kind == ofShift && o.Due <= s.at && o.Due > last && o.How != MetInTime {
			n++
		}
	}
	if n == 0 {
		return line.Say("audit.review-overdue.why-pending", "last", last), do
	}
	return line.Say("audit.review-overdue.why", "n", n, "last", last), do
}
