package audit

import (
	"slices"

	"dwellbook/internal/line"
)

// scene is one patient at one moment, while the rules look at them.
type scene struct {
	book       *Rulebook
	at         line.Minute
	h          line.Subject
	admissions []line.Minute  // in order
	stays      []line.Stretch // in some ward, without a gap
	adult      []line.Stretch // while the patient counts as adult
	calendars  []calendar     // of the wards met so far
	valid      line.Minute    // nothing has changed by time alone before then
	span       line.Stretch   // of the policy whose concerns are looked for
	duties     []Duty
	concerns   []Concern
}

// settle works out what several rules need.
func (s *scene) settle(marks []line.Mark) {
	for _, m := range marks {
		if m.Kind == line.KindAdmission && m.At <= s.at {
			s.admissions = append(s.admissions, m.At)
		}
	}
	slices.Sort(s.admissions)
	for _, stay := range s.h.Stays {
		if n := len(s.stays); n > 0 && s.stays[n-1].Until == stay.From {
			s.stays[n-1].Until = stay.Until
			continue
		}
		s.stays = append(s.stays, stay.Stretch)
	}
	from := -line.Far
	for _, m := range append(slices.Clone(s.h.Groups), line.Mark{At: line.Far}) {
		if s.h.GroupAt(m.At-1) == line.Adult && from < m.At {
			s.adult = joined(append(s.adult, line.Stretch{From: from, Until: m.At}))
		}
		from = m.At
	}
}

// joined puts the last stretch together with the one before where they touch.
func joined(list []line.Stretch) []line.Stretch {
	n := len(list)
	if n > 1 && list[n-2].Until >= list[n-1].From {
		list[n-2].Until = max(list[n-2].Until, list[n-1].Until)
		return list[:n-1]
	}
	return list
}

// calendar is the ward's, kept for the whole assessment.
func (s *scene) calendar(ward line.Key) *calendar {
	for i := range s.calendars {
		if s.calendars[i].ward == ward {
			return &s.calendars[i]
		}
	}
	s.calendars = append(s.calendars, newCalendar(s.book, ward))
	return &s.calendars[len(s.calendars)-1]
}

// until notes a moment at which something changes by time alone.
func (s *scene) until(at line.Minute) {
	if at > s.at {
		s.valid = min(s.valid, at)
	}
}

// validUntil adds what every rule has in common.
func (s *scene) validUntil() line.Minute {
	for i := range s.duties {
		if d := &s.duties[i]; d.How == Pending {
			s.until(d.Due)
		}
	}
	for i := range s.concerns {
		s.until(s.concerns[i].From)
		s.until(s.concerns[i].Until)
	}
	for _, l := range s.h.Lines {
		if l.Gone() {
			s.until(l.Out)
		}
	}
	for i := range s.h.Justified {
		s.until(s.h.Justified[i].Until)
		s.until(dutyCover(&s.h.Justified[i]).Until)
	}
	return s.valid
}

// stay is the stretch without a gap in which some ward has the patient; a
// stay's very end is still its own.
func (s *scene) stay(at line.Minute) (line.Stretch, bool) {
	for _, stay := range s.stays {
		if stay.From <= at && at <= stay.Until {
			return stay, true
		}
	}
	return line.Stretch{}, false
}

// dueBy finds the moment a duty falls due: want says it by each policy. A
// policy decides over what falls due while it is in force; what it would have
// had due earlier falls due when it comes into force. ok is false where no
// policy has it due.
func (s *scene) dueBy(no ruleNo, want func(*Policy) (line.Minute, bool)) (due line.Minute, p *Policy, ok bool) {
	for i := range s.book.policies {
		span := &s.book.policies[i]
		if span.From >= span.Until || !span.rules[no].on {
			continue
		}
		wanted, has := want(span.Policy)
		if !has || wanted >= span.Until {
			continue
		}
		return max(wanted, span.From), span.Policy, true
	}
	return 0, nil, false
}

// stillIn lists the lines in situ that no entry has been about for so long
// that it is asked whether they are still in.
func (s *scene) stillIn() []line.Key {
	var lines []line.Key
	limit := s.book.PolicyAt(s.at).stillInAfter
	for _, l := range s.h.Lines {
		if !l.InSitu(s.at) {
			continue
		}
		last := l.Placed
		for _, t := range l.Touched {
			if t <= s.at {
				last = max(last, t)
			}
		}
		for i := range l.LeftIn {
			last = max(last, l.LeftIn[i].At)
		}
		asked := last.Add(limit)
		s.until(asked)
		if asked <= s.at {
			lines = append(lines, l.Key)
		}
	}
	return lines
}
