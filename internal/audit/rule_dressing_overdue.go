package audit

import (
	"time"

	"dwellbook/internal/line"
)

// dressing-overdue: each dressing has an age limit; one seen loose, damp or
// soiled is changed by the shift's end, one lifted so that the site is open
// within the hour.

type dressingValues struct{ film, gauze, other, lifted time.Duration }

var dressingOverdueRule = rule{
	settings: []setting{
		span("film", func(v *values) *time.Duration { return &v.dressing.film }, time.Hour, 30*24*time.Hour),
		span("gauze", func(v *values) *time.Duration { return &v.dressing.gauze }, time.Hour, 30*24*time.Hour),
		span("other", func(v *values) *time.Duration { return &v.dressing.other }, time.Hour, 30*24*time.Hour),
		span("lifted", func(v *values) *time.Duration { return &v.dressing.lifted }, time.Minute, 24*time.Hour),
	},
	duties:  dressingDuties,
	explain: explainDressing,
}

// ageLimit is how old a dressing of the material may grow; not known is as film.
func (v *dressingValues) ageLimit(m line.Material) time.Duration {
	switch m {
	case line.Gauze:
		return v.gauze
	case line.OtherDressing:
		return v.other
	}
	return v.film
}

func dressingDuties(s *scene, l *line.Line) {
	on := &l.Placement
	for i := range l.Dressings {
		s.dressing(l, on, &l.Dressings[i])
		on = &l.Dressings[i]
	}
	s.dressing(l, on, nil)
}

// dressing adds the duties of one dressing, on until the next, or until the
// line comes out: one for each stay in which it falls due.
func (s *scene) dressing(l *line.Line, on, next *line.Mark) {
	var causes []cause
	put := max(on.At, l.Placed)
	causes = append(causes, cause{on, put, fixed(func(p *Policy) time.Duration { return p.dressing.ageLimit(on.Material) })})
	for i := range l.Reviews {
		m := &l.Reviews[i]
		if marksBefore(m, on) || next != nil && marksBefore(next, m) {
			continue
		}
		if m.States.Has(line.Lifted) {
			causes = append(causes, cause{m, m.At, fixed(func(p *Policy) time.Duration { return p.dressing.lifted })})
		}
		if m.States.Any(line.Loose, line.Damp, line.Soiled) && s.h.WardAt(m.At) != 0 {
			byShift := s.calendar(s.h.WardAt(m.At)).after(m.At).Sub(m.At)
			causes = append(causes, cause{m, m.At, fixed(func(*Policy) time.Duration { return byShift })})
		}
	}
	ended, by := l.Out, ByRemoval
	if next != nil && next.At <= l.Out { // later, of one found gone: it may not have been in any more
		ended, by = next.At, ByDressing
	}
	for _, stay := range s.stays {
		if stay.Until < put || stay.From >= ended {
			continue
		}
		s.dressingIn(l, stay, causes, line.Stretch{From: put, Until: ended}, by)
	}
}

// dressingIn adds the duty of a dressing in one stay. A stay that starts with
// the dressing already too old has it due at once.
func (s *scene) dressingIn(l *line.Line, stay line.Stretch, causes []cause, on line.Stretch, by MetBy) {
	var open *oneOff
	for _, c := range causes {
		if c.at > stay.Until {
			break
		}
		next, ok := s.take(dressingOverdue, l, c)
		switch {
		case !ok:
		case open == nil:
			open = &next
		default:
			open.forward(next)
		}
	}
	if open == nil {
		return
	}
	open.Due, open.missed = max(open.Due, stay.From), max(open.missed, stay.From)
	switch {
	case by == ByRemoval && on.Until < open.Due:
		return // not yet due when the line came out
	case open.Due > stay.Until && on.Until > stay.Until:
		return // the ward's part ended first
	case on.Until <= stay.Until && !(by == ByRemoval && l.Gone()):
		open.end(s.at, on.Until, by)
	case min(on.Until, stay.Until) <= s.at:
		open.How, open.Ended = Missed, min(on.Until, stay.Until)
	default:
		open.end(s.at, line.Far, ByNothing)
	}
	s.duties = append(s.duties, open.Duty)
}

// marksBefore reports whether a was recorded of an earlier moment than b, or
// earlier of the same.
func marksBefore(a, b *line.Mark) bool { return a.At < b.At || a.At == b.At && a.Seq < b.Seq }

func explainDressing(s *scene, l *line.Line, d *Duty) (why, do line.Message) {
	m := d.cause
	switch {
	case m.Kind != line.KindReview:
		limit := d.policy.dressing.ageLimit(m.Material)
		return line.Say("audit.dressing-overdue.why-age", "material", m.Material, "since", max(m.At, l.Placed)),
			line.Say("audit.dressing-overdue.do-age", "material", m.Material, "limit", limit, "due", d.Due)
	case m.States.Has(line.Lifted):
		return line.Say("audit.dressing-overdue.why-lifted", "seen", m.At),
			line.Say("audit.dressing-overdue.do-lifted", "limit", d.policy.dressing.lifted, "due", d.Due)
	}
	var state line.State
	for state = range m.States.Codes() {
		if state != line.Intact {
			break
		}
	}
	return line.Say("audit.dressing-overdue.why-state", "state", state, "seen", m.At),
		line.Say("audit.dressing-overdue.do-state", "due", d.Due)
}
