package audit

import "dwellbook/internal/line"

// large-gauge-in-small-vein: an adult's line of 16G or larger in the back of
// the hand or the wrist.

var largeGaugeInSmallVeinRule = rule{
	settings: []setting{
		gauge("this_or_wider", func(v *values) *line.Gauge { return &v.large.gauge }),
	},
	concerns: largeGaugeConcerns,
}

func largeGaugeConcerns(s *scene, p *Policy) {
	for _, l := range s.h.Lines {
		m := &l.Placement
		if m.Site != line.HandDorsum && m.Site != line.Wrist || m.Gauge == 0 || p.large.gauge.WiderThan(m.Gauge) {
			continue
		}
		s.whileAdult(largeGaugeInSmallVein, p, l, func(c *Concern) {
			c.Why = line.Say("audit.large-gauge-in-small-vein.why", "gauge", m.Gauge, "site", m.Site)
			c.Do = line.Say("audit.large-gauge-in-small-vein.do", "gauge", p.large.gauge)
		})
	}
}
