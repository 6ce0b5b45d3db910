package audit

import (
	"time"

	"dwellbook/internal/line"
)

// idle-line: a line that reviews say is not used, from 24 h after the last
// that said it was (else the placement). "Kept on purpose until" hides it till
// then; not asked is not idle.

var idleLineRule = rule{
	settings: []setting{
		span("after", func(v *values) *time.Duration { return &v.idle.within }, time.Hour, 30*24*time.Hour),
	},
	concerns: idleConcerns,
}

func idleConcerns(s *scene, p *Policy) {
	for _, l := range s.h.Lines {
		used, from := l.Placed, line.Far // from: Far while no later review says not used
		kept := line.Minute(0)
		for i := range l.Reviews {
			m := &l.Reviews[i]
			s.idle(p, l, used, line.Stretch{From: max(from, kept), Until: m.At})
			kept = max(kept, m.Until)
			switch m.Used {
			case line.Yes:
				used, from = m.At, line.Far
			case line.No:
				from = min(from, max(m.At, used.Add(p.idle.within)))
			}
			if from < m.At {
				from = m.At // what came before is settled
			}
		}
		s.idle(p, l, used, line.Stretch{From: max(from, kept), Until: l.Out})
	}
}

func (s *scene) idle(p *Policy, l *line.Line, used line.Minute, holds line.Stretch) {
	if c := s.concern(idleLine, p, l.Key, holds); c != nil {
		c.Why = line.Say("audit.idle-line.why", "used", used)
		if used == l.Placed {
			c.Why = line.Say("audit.idle-line.why-never")
		}
		c.Do = line.Say("audit.idle-line.do", "after", p.idle.within)
	}
}
