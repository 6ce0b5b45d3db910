package audit

import (
	"time"

	"dwellbook/internal/line"
)

// below-failed-site: for 24 h after a site failed, a line on the same limb
// that lies below it, further from the trunk. A site failed where an occasion
// ended without a line after an attempt, or where a line came out by failure.

var belowFailedSiteRule = rule{
	settings: []setting{
		span("within", func(v *values) *time.Duration { return &v.belowFailed.within }, time.Hour, 7*24*time.Hour),
	},
	concerns: belowFailedConcerns,
}

func belowFailedConcerns(s *scene, p *Policy) {
	if len(s.h.Occasions) < 2 {
		return
	}
	for _, l := range s.h.Lines {
		limb, height := line.LimbOf(l.Placement.Site, l.Placement.Side), line.Above(l.Placement.Site)
		if limb == 0 {
			continue
		}
		for i := range s.h.Occasions {
			o := &s.h.Occasions[i]
			failed, at := s.failed(o)
			if !failed || line.LimbOf(o.Site, o.Side) != limb || line.Above(o.Site) <= height {
				continue
			}
			holds := line.Stretch{From: at, Until: at.Add(p.belowFailed.within)}
			if c := s.concern(belowFailedSite, p, l.Key, clip(holds, inSitu(l))); c != nil {
				c.Why = line.Say("audit.below-failed-site.why", "failed", o.Site, "at", at)
				c.Do = line.Say("audit.below-failed-site.do", "within", p.belowFailed.within)
			}
		}
	}
}

// failed reports whether the site of an occasion failed, and when.
func (s *scene) failed(o *line.Mark) (failed bool, at line.Minute) {
	switch o.Outcome {
	case line.WithoutLine:
		return true, o.At
	case line.WithLine:
		if l := s.h.LineOf(o.Line); l != nil && l.Removal != nil && line.Fails(l.Removal.Reason) {
			return true, l.Out
		}
	}
	return false, 0
}
