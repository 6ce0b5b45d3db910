package audit

import "dwellbook/internal/line"

// across-joint: the site lies over a joint.

var acrossJointRule = rule{concerns: jointConcerns}

func jointConcerns(s *scene, p *Policy) {
	for _, l := range s.h.Lines {
		if !line.OverJoint(l.Placement.Site) {
			continue
		}
		if c := s.concern(acrossJoint, p, l.Key, inSitu(l)); c != nil {
			c.Why = line.Say("audit.across-joint.why", "site", l.Placement.Site)
			c.Do = line.Say("audit.across-joint.do")
		}
	}
}
