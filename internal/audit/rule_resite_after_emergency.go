package audit

import (
	"time"

	"dwellbook/internal/line"
)

// resite-after-emergency: a line placed without full asepsis, or by ambulance
// with asepsis not known, comes out within 48 h.

var resiteAfterEmergencyRule = rule{
	settings: []setting{
		span("within", func(v *values) *time.Duration { return &v.resite.within }, time.Hour, 7*24*time.Hour),
	},
	duties:  resiteDuties,
	explain: explainResite,
}

// doubtful reports whether the placement may have been unclean.
func doubtful(m *line.Mark) bool {
	unknown := m.Asepsis == line.AsepsisNotKnown || m.Asepsis == 0
	return m.Asepsis == line.AsepsisNotFull || unknown && m.PlacedBy == line.Ambulance
}

func resiteDuties(s *scene, l *line.Line) {
	if doubtful(&l.Placement) {
		s.removalDuty(resiteAfterEmergency, l, []cause{{&l.Placement, l.Placed, fixed(func(p *Policy) time.Duration { return p.resite.within })}})
	}
}

func explainResite(_ *scene, l *line.Line, d *Duty) (why, do line.Message) {
	why = line.Say("audit.resite-after-emergency.why-not-full")
	if l.Placement.Asepsis != line.AsepsisNotFull {
		why = line.Say("audit.resite-after-emergency.why-ambulance")
	}
	return why, line.Say("audit.resite-after-emergency.do", "within", d.policy.resite.within, "due", d.Due)
}
