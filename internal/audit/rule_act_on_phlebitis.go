package audit

import (
	"time"

	"dwellbook/internal/line"
)

// act-on-phlebitis: after a score of 2 or more the line comes out within the
// hour. A lower score later, whoever gives it, ends nothing.

type phlebitisValues struct {
	score  int // from this score on
	within time.Duration
}

var actOnPhlebitisRule = rule{
	settings: []setting{
		number("score", func(v *values) *int { return &v.phlebitis.score }, 1, 5),
		span("within", func(v *values) *time.Duration { return &v.phlebitis.within }, 0, 24*time.Hour),
	},
	duties:  phlebitisDuties,
	explain: explainPhlebitis,
}

// phlebitic reports whether a look's score asks for removal by the policy.
func (p *Policy) phlebitic(m *line.Mark) bool { return int(m.Score) >= p.phlebitis.score }

func phlebitisDuties(s *scene, l *line.Line) {
	var causes []cause
	for i := range l.Reviews {
		m := &l.Reviews[i]
		if m.Score < 1 {
			continue
		}
		causes = append(causes, cause{m, m.At, func(p *Policy) (time.Duration, bool) { return p.phlebitis.within, p.phlebitic(m) }})
	}
	s.removalDuty(actOnPhlebitis, l, causes)
}

func explainPhlebitis(_ *scene, _ *line.Line, d *Duty) (why, do line.Message) {
	why = line.Say("audit.act-on-phlebitis.why", "score", int(d.cause.Score), "seen", d.cause.At)
	if d.cause.ScoreByRule() {
		why.Key = "audit.act-on-phlebitis.why-by-rule"
	}
	return why, line.Say("audit.act-on-phlebitis.do", "score", d.policy.phlebitis.score, "due", d.Due)
}
