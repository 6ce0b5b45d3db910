package audit

import "dwellbook/internal/line"

// record-conflict: entries that cannot all be true. They change nothing, and
// the concern stands until one of them is corrected.

var recordConflictRule = rule{concerns: conflictConcerns}

func conflictConcerns(s *scene, p *Policy) {
	for i := range s.h.Conflicts {
		c := &s.h.Conflicts[i]
		if found := s.concern(recordConflict, p, c.Mark.Line, line.Stretch{From: c.Mark.At, Until: line.Far}); found != nil {
			found.Why = line.Say("audit.record-conflict.why", "kind", c.Mark.Kind, "at", c.Mark.At, "conflict", c.Why)
			found.Do = line.Say("audit.record-conflict.do")
		}
	}
}
