package audit

import (
	"time"

	"dwellbook/internal/line"
)

// left-after-discharge: at discharge each open line is answered: out, or left
// in on purpose.

var leftAfterDischargeRule = rule{
	settings: []setting{
		span("within", func(v *values) *time.Duration { return &v.leftIn.within }, 0, 24*time.Hour),
	},
	duties:  leftInDuties,
	explain: explainLeftIn,
}

func leftInDuties(s *scene, l *line.Line) {
	var causes []cause
	for i := range s.h.Discharges {
		d := &s.h.Discharges[i]
		if marksBefore(d, &l.Placement) || l.Removal != nil && marksBefore(l.Removal, d) || leftIn(l, d) || l.Gone() && l.Out < d.At {
			continue
		}
		causes = append(causes, cause{d, d.At, fixed(func(p *Policy) time.Duration { return p.leftIn.within })})
	}
	s.removalDuty(leftAfterDischarge, l, causes)
}

// leftIn reports whether the discharge names the line as left in on purpose.
func leftIn(l *line.Line, discharge *line.Mark) bool {
	for i := range l.LeftIn {
		if l.LeftIn[i].Seq == discharge.Seq {
			return true
		}
	}
	return false
}

func explainLeftIn(_ *scene, _ *line.Line, d *Duty) (why, do line.Message) {
	return line.Say("audit.left-after-discharge.why", "left", d.cause.At), line.Say("audit.left-after-discharge.do")
}
