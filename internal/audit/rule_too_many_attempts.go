package audit

import (
	"time"

	"dwellbook/internal/line"
)

// too-many-attempts: an occasion with more than 2 attempts by one operator, or
// more than 4 in all; it stands for 24 h.

type attemptValues struct {
	byOne, inAll int
	stands       time.Duration
}

var tooManyAttemptsRule = rule{
	settings: []setting{
		number("most_by_one", func(v *values) *int { return &v.attempts.byOne }, 1, 20),
		number("most_in_all", func(v *values) *int { return &v.attempts.inAll }, 1, 20),
		span("for", func(v *values) *time.Duration { return &v.attempts.stands }, time.Hour, 7*24*time.Hour),
	},
	concerns: attemptConcerns,
}

func attemptConcerns(s *scene, p *Policy) {
	for i := range s.h.Occasions {
		o := &s.h.Occasions[i]
		byOne, inAll := int(o.MostByOne), int(o.Attempts)
		if byOne <= p.attempts.byOne && inAll <= p.attempts.inAll {
			continue
		}
		c := s.concern(tooManyAttempts, p, o.Line, line.Stretch{From: o.At, Until: o.At.Add(p.attempts.stands)})
		if c == nil {
			continue
		}
		c.Do = line.Say("audit.too-many-attempts.do", "one", p.attempts.byOne, "all", p.attempts.inAll)
		if byOne > p.attempts.byOne {
			c.Why = line.Say("audit.too-many-attempts.why-one", "n", byOne)
			continue
		}
		c.Why = line.Say("audit.too-many-attempts.why-all", "n", inAll)
	}
}
