package audit

import "dwellbook/internal/line"

// lower-limb-in-adult: an adult's line in the foot or the ankle.

var lowerLimbInAdultRule = rule{concerns: lowerLimbConcerns}

func lowerLimbConcerns(s *scene, p *Policy) {
	for _, l := range s.h.Lines {
		if site := l.Placement.Site; site == line.FootDorsum || site == line.Ankle {
			s.whileAdult(lowerLimbInAdult, p, l, func(c *Concern) {
				c.Why = line.Say("audit.lower-limb-in-adult.why", "site", site)
				c.Do = line.Say("audit.lower-limb-in-adult.do")
			})
		}
	}
}
