package audit

import (
	"dwellbook/internal/line"
)

// dutyCover is the stretch in which a justification answers a duty: to its
// end, but no longer than a duty can be answered at once.
func dutyCover(j *line.Mark) line.Stretch {
	return line.Stretch{From: j.At, Until: min(j.Until, j.At.Add(line.LongestJustification))}
}

// concernCover is the stretch in which a justification answers a concern.
func concernCover(j *line.Mark) line.Stretch { return line.Stretch{From: j.At, Until: j.Until} }

// answers reports whether a justification is of the rule and the line; one
// without a line is of all the patient's.
func answers(j *line.Mark, tag uint32, l line.Key) bool {
	return j.RuleTag == tag && (j.Line == 0 || j.Line == l)
}

// covered reports whether a justification covers any overdue minute of a duty
// before the moment assessed.
func (s *scene) covered(overdue line.Stretch, tag uint32, l line.Key) bool {
	overdue.Until = min(overdue.Until, s.at)
	for i := range s.h.Justified {
		if j := &s.h.Justified[i]; answers(j, tag, l) {
			if both := clip(overdue, dutyCover(j)); both.From < both.Until {
				return true
			}
		}
	}
	return false
}

// uncovered counts the minutes of a duty's stretch that no justification covers.
func uncovered(h *line.Subject, overdue line.Stretch, tag uint32, l line.Key) (minutes line.Minute) {
	uncoveredParts(h, overdue, answer{tag, l, dutyCover}, func(part line.Stretch) { minutes += part.Until - part.From })
	return minutes
}

// answer says which justifications count, and for how long.
type answer struct {
	tag   uint32
	line  line.Key
	cover func(*line.Mark) line.Stretch
}

// uncoveredParts gives the parts of a stretch that no justification covers, in order.
func uncoveredParts(h *line.Subject, stretch line.Stretch, by answer, part func(line.Stretch)) {
	from := stretch.From         // minutes before it are settled
	for i := range h.Justified { // in order of their start
		j := &h.Justified[i]
		if !answers(j, by.tag, by.line) {
			continue
		}
		both := clip(clip(stretch, by.cover(j)), line.Stretch{From: from, Until: line.Far})
		if both.From >= both.Until {
			continue
		}
		if from < both.From {
			part(line.Stretch{From: from, Until: both.From})
		}
		from = both.Until
	}
	if from < stretch.Until {
		part(line.Stretch{From: from, Until: stretch.Until})
	}
}

// coveredAt reports whether a justification covers the rule on the line at the moment.
func coveredAt(h *line.Subject, at line.Minute, tag uint32, l line.Key, cover func(*line.Mark) line.Stretch) bool {
	for i := range h.Justified {
		if j := &h.Justified[i]; answers(j, tag, l) && cover(j).Holds(at) {
			return true
		}
	}
	return false
}

// AnsweredBy is the justification that answers a finding at At, and until when;
// of several the one that lasts longest. ok is false where none does.
func (a *Assessment) AnsweredBy(f *Finding) (j line.Mark, until line.Minute, ok bool) {
	cover, tag := concernCover, f.Rule.Tag()
	if f.IsDuty {
		cover = dutyCover
	}
	for i := range a.History.Justified {
		m := &a.History.Justified[i]
		if held := cover(m); answers(m, tag, f.Line) && held.Holds(a.At) && held.Until > until {
			j, until, ok = *m, held.Until, true
		}
	}
	return j, until, ok
}
