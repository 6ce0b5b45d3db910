package audit

import "dwellbook/internal/line"

// limb-restricted: the line lies in a limb that is to be spared.

type limbValues struct{ fistula Severity }

var limbRestrictedRule = rule{
	settings: []setting{
		severity("fistula_severity", func(v *values) *Severity { return &v.limb.fistula }),
	},
	concerns: limbConcerns,
}

func limbConcerns(s *scene, p *Policy) {
	for _, l := range s.h.Lines {
		limb := line.LimbOf(l.Placement.Site, l.Placement.Side)
		if limb == 0 {
			continue
		}
		for i := range s.h.Limits {
			r := &s.h.Limits[i]
			if r.Limb != limb {
				continue
			}
			as := p.rules[limbRestricted].severity
			if r.Why == line.Fistula {
				as = p.limb.fistula
			}
			if c := s.severe(as, limbRestricted, p, l.Key, clip(r.Stretch, inSitu(l))); c != nil {
				c.Why = line.Say("audit.limb-restricted.why", "limb", limb, "restriction", r.Why)
				c.Do = line.Say("audit.limb-restricted.do")
			}
		}
	}
}
