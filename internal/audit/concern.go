package audit

import "dwellbook/internal/line"

// Concern is a condition that holds for a stretch of time.
type Concern struct {
	Rule         line.Rule
	Severity     Severity     // by the policy in force in the stretch
	Line         line.Key     // the line or occasion; 0: of the patient
	line.Stretch              // From may lie ahead, Until too; Far: no end in sight
	Justified    bool         // covered by a justification at the moment assessed
	Why, Do      line.Message // set only while it holds
	policy       *Policy
	no           ruleNo
}

// concern adds a stretch of a condition, as far as the policy looked at is in
// force. It gives the concern to be explained where it holds at the moment
// assessed, else nil.
func (s *scene) concern(no ruleNo, p *Policy, of line.Key, holds line.Stretch) *Concern {
	return s.severe(p.rules[no].severity, no, p, of, holds)
}

// severe is concern with a severity of its own.
func (s *scene) severe(as Severity, no ruleNo, p *Policy, of line.Key, holds line.Stretch) *Concern {
	holds = clip(holds, s.span)
	if holds.From >= holds.Until {
		return nil
	}
	s.concerns = append(s.concerns, Concern{Rule: ruleIDs[no], Severity: as, Line: of, Stretch: holds, policy: p, no: no})
	if !holds.Holds(s.at) {
		return nil
	}
	c := &s.concerns[len(s.concerns)-1]
	c.Justified = coveredAt(&s.h, s.at, ruleTags[no], of, concernCover)
	return c
}

// inSitu is the stretch in which the line is in.
func inSitu(l *line.Line) line.Stretch { return line.Stretch{From: l.Placed, Until: l.Out} }

// whileAdult adds a condition of a line for the time the patient counts as adult.
func (s *scene) whileAdult(no ruleNo, p *Policy, l *line.Line, say func(*Concern)) {
	for _, adult := range s.adult {
		if c := s.concern(no, p, l.Key, clip(adult, inSitu(l))); c != nil {
			say(c)
		}
	}
}
