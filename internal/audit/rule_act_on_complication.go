package audit

import (
	"time"

	"dwellbook/internal/line"
)

// act-on-complication: after swelling, a leak, a cool or blanched site, pus,
// or a flush that does not go, the line comes out within the hour; where
// extravasation is suspected, at once. A swelling that is part of a score that
// act-on-phlebitis answers is not asked for twice. Resistance alone is no
// complication.

type complicationValues struct{ within, extravasation time.Duration }

var actOnComplicationRule = rule{
	settings: []setting{
		span("within", func(v *values) *time.Duration { return &v.complication.within }, 0, 24*time.Hour),
		span("extravasation_within", func(v *values) *time.Duration { return &v.complication.extravasation }, 0, 24*time.Hour),
	},
	duties:  complicationDuties,
	explain: explainComplication,
}

// complicationIn is what a look saw that asks for removal by the policy.
func (p *Policy) complicationIn(m *line.Mark) (sign line.Sign, flush line.Flush) {
	switch {
	case m.Signs.Has(line.ExtravasationSuspected):
		return line.ExtravasationSuspected, 0
	case m.Signs.Has(line.SiteLeak):
		return line.SiteLeak, 0
	case m.Signs.Has(line.CoolOrBlanched):
		return line.CoolOrBlanched, 0
	case m.Signs.Has(line.Pus):
		return line.Pus, 0
	case m.Signs.Has(line.Swelling) && !p.phlebitic(m):
		return line.Swelling, 0
	case m.Flush == line.FlushNone:
		return 0, line.FlushNone
	}
	return 0, 0
}

func complicationDuties(s *scene, l *line.Line) {
	const signs = 1<<(line.ExtravasationSuspected-1) | 1<<(line.SiteLeak-1) | 1<<(line.CoolOrBlanched-1) | 1<<(line.Pus-1) | 1<<(line.Swelling-1)
	var causes []cause
	add := func(m *line.Mark, at line.Minute) {
		if m.Signs&signs == 0 && m.Flush != line.FlushNone {
			return
		}
		causes = append(causes, cause{m, at, func(p *Policy) (time.Duration, bool) {
			sign, flush := p.complicationIn(m)
			if sign == line.ExtravasationSuspected {
				return p.values.complication.extravasation, true
			}
			return p.values.complication.within, sign != 0 || flush != 0
		}})
	}
	add(&l.Placement, l.Placed)
	for i := range l.Reviews {
		add(&l.Reviews[i], l.Reviews[i].At)
	}
	s.removalDuty(actOnComplication, l, causes)
}

func explainComplication(_ *scene, _ *line.Line, d *Duty) (why, do line.Message) {
	sign, _ := d.policy.complicationIn(d.cause)
	if sign == 0 {
		return line.Say("audit.act-on-complication.why-flush", "seen", d.cause.At), line.Say("audit.act-on-complication.do", "due", d.Due)
	}
	why = line.Say("audit.act-on-complication.why", "sign", sign, "seen", d.cause.At)
	if d.Allowance == 0 {
		return why, line.Say("audit.act-on-complication.do-at-once")
	}
	return why, line.Say("audit.act-on-complication.do", "due", d.Due)
}
