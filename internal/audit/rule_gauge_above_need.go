package audit

import (
	"dwellbook/internal/flow"
	"dwellbook/internal/line"
)

// gauge-above-need: a line is some sizes wider than what the patient needs
// asks for. A line that is recorded as for something else is not held against
// the need.

type aboveValues struct{ sizes int }

var gaugeAboveNeedRule = rule{
	settings: []setting{
		number("sizes_wider", func(v *values) *int { return &v.above.sizes }, 1, len(line.Gauges)-1),
	},
	concerns: aboveNeedConcerns,
}

func aboveNeedConcerns(s *scene, p *Policy) {
	for _, n := range needsOf(&s.h) {
		judged := p.Judge(n.Need)
		for _, l := range s.h.Lines {
			j, m := judgementOf(judged, l.Placement.Gauge), &l.Placement
			if j.Verdict != flow.Wider || j.Spare < p.above.sizes || m.Purposes&^line.SetOf(PurposeOf(n.Need)) != 0 {
				continue
			}
			if c := s.concern(gaugeAboveNeed, p, l.Key, clip(n.Stretch, inSitu(l))); c != nil {
				c.Why = line.Say("audit.gauge-above-need.why",
					"gauge", m.Gauge, "need", line.Number(NeedOf(n.Need).Flow), "for", PurposeOf(n.Need), "fits", line.Gauge(flow.Thinnest(judged)))
				c.Do = line.Say("audit.gauge-above-need.do", "n", p.above.sizes)
			}
		}
	}
}
