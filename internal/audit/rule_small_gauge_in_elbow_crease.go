package audit

import "dwellbook/internal/line"

// small-gauge-in-elbow-crease: an adult's line of 20G or smaller in the elbow
// crease, unless it is for contrast or for an emergency.

type gaugeValues struct{ gauge line.Gauge }

var smallGaugeInElbowCreaseRule = rule{
	settings: []setting{
		gauge("this_or_thinner", func(v *values) *line.Gauge { return &v.small.gauge }),
	},
	concerns: smallGaugeConcerns,
}

func smallGaugeConcerns(s *scene, p *Policy) {
	for _, l := range s.h.Lines {
		m := &l.Placement
		if m.Site != line.ElbowCrease || m.Gauge == 0 || m.Gauge.WiderThan(p.small.gauge) ||
			m.Purposes.Any(line.ForContrast, line.ForEmergency) {
			continue
		}
		s.whileAdult(smallGaugeInElbowCrease, p, l, func(c *Concern) {
			c.Why = line.Say("audit.small-gauge-in-elbow-crease.why", "gauge", m.Gauge)
			c.Do = line.Say("audit.small-gauge-in-elbow-crease.do", "gauge", p.small.gauge)
		})
	}
}
