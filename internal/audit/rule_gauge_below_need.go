package audit

import (
	"dwellbook/internal/flow"
	"dwellbook/internal/line"
)

// gauge-below-need: the patient needs more flow than the line can give, and
// than any other line that is in can give.

var gaugeBelowNeedRule = rule{concerns: belowNeedConcerns}

func belowNeedConcerns(s *scene, p *Policy) {
	for _, n := range needsOf(&s.h) {
		judged := p.Judge(n.Need)
		alone := []line.Stretch{n.Stretch} // while no line in may meet it
		for _, l := range s.h.Lines {
			if judgementOf(judged, l.Placement.Gauge).Verdict != flow.BelowNeed {
				alone = without(alone, inSitu(l))
			}
		}
		for _, l := range s.h.Lines {
			j := judgementOf(judged, l.Placement.Gauge)
			if j.Verdict != flow.BelowNeed {
				continue
			}
			for _, stretch := range alone {
				if c := s.concern(gaugeBelowNeed, p, l.Key, clip(stretch, inSitu(l))); c != nil {
					c.Why = line.Say("audit.gauge-below-need.why",
						"gauge", l.Placement.Gauge, "lower", j.Lower, "upper", j.Upper, "need", line.Number(NeedOf(n.Need).Flow), "for", PurposeOf(n.Need))
					c.Do = line.Say("audit.gauge-below-need.do-none")
					if fits := flow.Thinnest(judged); fits != 0 {
						c.Do = line.Say("audit.gauge-below-need.do", "gauge", line.Gauge(fits))
					}
				}
			}
		}
	}
}

// without cuts a stretch out of others.
func without(all []line.Stretch, out line.Stretch) []line.Stretch {
	var left []line.Stretch
	for _, s := range all {
		for _, part := range []line.Stretch{{From: s.From, Until: min(s.Until, out.From)}, {From: max(s.From, out.Until), Until: s.Until}} {
			if part.From < part.Until {
				left = append(left, part)
			}
		}
	}
	return left
}
