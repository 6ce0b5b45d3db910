package audit

import (
	"time"

	"dwellbook/internal/line"
)

// remove-not-needed: a line of which a review says that it is not needed comes
// out within 2 h, unless a later review says that it is needed after all.

var removeNotNeededRule = rule{
	settings: []setting{
		span("within", func(v *values) *time.Duration { return &v.notNeeded.within }, time.Minute, 7*24*time.Hour),
	},
	duties:  notNeededDuties,
	explain: explainNotNeeded,
}

func notNeededDuties(s *scene, l *line.Line) {
	var open *oneOff
	for i := range l.Reviews {
		m := &l.Reviews[i]
		switch {
		case m.Needed == line.No:
			next, ok := s.take(removeNotNeeded, l, cause{m, m.At, fixed(func(p *Policy) time.Duration { return p.notNeeded.within })})
			if ok && open == nil {
				open = &next
			} else if ok {
				open.forward(next)
			}
		case m.Needed == line.Yes && open != nil:
			if open.end(s.at, m.At, ByNothing) {
				open.MetBy = ByReview
				s.duties = append(s.duties, open.Duty)
			}
			open = nil
		}
	}
	if open != nil {
		s.out(l, open)
	}
}

func explainNotNeeded(_ *scene, _ *line.Line, d *Duty) (why, do line.Message) {
	return line.Say("audit.remove-not-needed.why", "seen", d.cause.At), line.Say("audit.remove-not-needed.do", "due", d.Due)
}
