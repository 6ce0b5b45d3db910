package audit

import (
	"dwellbook/internal/flow"
	"dwellbook/internal/line"
)

// therapies are what a flow is needed for, by the purpose recorded with it.
var therapies = map[line.Purpose]flow.Therapy{
	line.ForDrugs: flow.Drug, line.ForBlood: flow.Transfusion, line.ForContrast: flow.Contrast, line.ForEmergency: flow.Resuscitation,
}

// TherapyFor is the therapy of a purpose: fluids by the hour where it has none
// of its own, or is not said.
func TherapyFor(p line.Purpose) flow.Therapy {
	if therapy, known := therapies[p]; known {
		return therapy
	}
	return flow.Maintenance
}

// NeedOf is a need as recorded, to be judged.
func NeedOf(n line.Need) flow.Need {
	return flow.Need{Therapy: TherapyFor(n.For), Flow: flow.PerHour(float64(n.MillilitresPerHour))}
}

// Judge holds each of the hospital's cannulas against a need, under the
// conditions usual for what it is for; none where nothing is needed. What it
// says of a need it keeps: the same is asked of line after line.
func (p *Policy) Judge(n line.Need) []flow.Judgement {
	if n.MillilitresPerHour <= 0 {
		return nil
	}
	if known, ok := p.judged.Load(n); ok {
		return known.([]flow.Judgement)
	}
	need := NeedOf(n)
	judged, err := need.Judge(p.cannulas, need.Therapy.Usual())
	if err != nil {
		return nil
	}
	p.judged.Store(n, judged)
	return judged
}

// judgementOf is that of one gauge; of a gauge that is not known it is not judged.
func judgementOf(all []flow.Judgement, g line.Gauge) flow.Judgement {
	for _, j := range all {
		if j.Cannula.Gauge() == flow.Gauge(g) {
			return j
		}
	}
	return flow.Judgement{}
}

// needed is a flow that the patient needs for a stretch of time.
type needed struct {
	line.Stretch
	line.Need
}

// needs are the flows recorded as needed: each until the next, or until the
// stay ends in which it was recorded.
func (s *scene) needs() []needed {
	var list []needed
	for i := range s.h.Needs {
		m := &s.h.Needs[i]
		holds := line.Stretch{From: m.At, Until: line.Far}
		if i+1 < len(s.h.Needs) {
			holds.Until = s.h.Needs[i+1].At
		}
		if stay, ok := s.stay(m.At); ok {
			holds.Until = min(holds.Until, stay.Until)
		}
		if m.NeedML == 0 || holds.From >= holds.Until {
			continue
		}
		n := needed{holds, line.Need{MillilitresPerHour: int(m.NeedML)}}
		for purpose := range m.Purposes.Codes() {
			n.For = purpose
		}
		list = append(list, n)
	}
	return list
}

// purpose is what the need is for, in a sentence.
func (n needed) purpose() line.Purpose {
	if n.For == 0 {
		return line.ForFluids
	}
	return n.For
}
