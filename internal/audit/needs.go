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

// PurposeOf is what a need is for: fluids where it is not said.
func PurposeOf(n line.Need) line.Purpose {
	if n.For == 0 {
		return line.ForFluids
	}
	return n.For
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

// needsOf are the flows recorded as needed: each until the next, or until the
// stay ends in which it was recorded.
func needsOf(h *line.Subject) []needed {
	var list []needed
	for i := range h.Needs {
		m := &h.Needs[i]
		holds := line.Stretch{From: m.At, Until: stayEnds(h, m.At)}
		if i+1 < len(h.Needs) {
			holds.Until = min(holds.Until, h.Needs[i+1].At)
		}
		n := needed{holds, line.Need{MillilitresPerHour: int(m.NeedML)}}
		for purpose := range m.Purposes.Codes() {
			n.For = purpose
		}
		list = append(list, n)
	}
	return list
}

// stayEnds is when the stay without a gap ends that holds the moment; Far
// where none does.
func stayEnds(h *line.Subject, at line.Minute) line.Minute {
	ends, stays := at, false
	for _, s := range h.Stays {
		if s.From <= ends && s.Until >= ends {
			ends, stays = s.Until, true
		}
	}
	if !stays {
		return line.Far
	}
	return ends
}

// NeedAt is the flow that the patient needs at a moment, as recorded; ok is
// false where there is none.
func NeedAt(h *line.Subject, at line.Minute) (n line.Need, ok bool) {
	for _, one := range needsOf(h) {
		if one.Holds(at) {
			return one.Need, true
		}
	}
	return n, false
}
