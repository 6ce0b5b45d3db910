package audit

import (
	"slices"

	"dwellbook/internal/line"
)

// Assessment is what the rulebook says of one patient at a moment.
type Assessment struct {
	Subject  line.Key
	At       line.Minute
	History  line.Subject // as the entries that happened up to At tell it
	Duties   []Duty       // all there ever were, and the pending ones; by line, rule and due moment
	Concerns []Concern    // all there ever were, by rule
	// ValidUntil says how long findings and next duties stay as they are, but
	// for the minutes overdue, as long as nothing is recorded. Exclusive.
	ValidUntil line.Minute
	still      []line.Key // lines under "Is it still in?"
}

// Assess judges one patient at a moment, from the marks that stand. Marks of
// later moments meet nothing, with one exception: once it is known that a line
// was found gone, it counts as out from its last look, for earlier moments too.
func Assess(book *Rulebook, marks []line.Mark, at line.Minute) Assessment {
	s := dutiesOf(book, marks, at)
	for _, p := range book.policies {
		if p.From > at {
			break
		}
		s.span = p.Stretch
		for no := range registry {
			if r := &registry[no]; r.concerns != nil && p.rules[no].on {
				r.concerns(s, p.Policy)
			}
		}
	}
	return s.assessment()
}

// AssessDuties is Assess without the concerns, for counting.
func AssessDuties(book *Rulebook, marks []line.Mark, at line.Minute) Assessment {
	return dutiesOf(book, marks, at).assessment()
}

func dutiesOf(book *Rulebook, marks []line.Mark, at line.Minute) *scene {
	s := &scene{book: book, at: at, valid: book.nextChange(at)}
	s.h = historyAt(marks, at)
	s.settle(marks)
	for _, l := range s.h.Lines {
		for no := range ruleCount {
			if duties := registry[no].duties; duties != nil {
				first := len(s.duties)
				duties(s, l)
				s.conclude(no, l, first)
			}
		}
	}
	return s
}

func (s *scene) assessment() Assessment {
	a := Assessment{Subject: s.h.Key, At: s.at, History: s.h, Duties: s.duties, Concerns: s.concerns, still: s.stillIn()}
	a.ValidUntil = s.validUntil()
	return a
}

// historyAt is the history as the entries up to the moment tell it.
func historyAt(marks []line.Mark, at line.Minute) line.Subject {
	if !slices.ContainsFunc(marks, func(m line.Mark) bool { return m.At > at }) {
		return line.Fold(marks)
	}
	whole := line.Fold(marks)
	var kept []line.Mark
	var gone []*line.Line
	for _, m := range marks {
		l := whole.LineOf(m.Line)
		happened := m.At
		if l != nil && m.Precision == line.ToDay && m.Kind != line.KindOccasion {
			happened = max(happened, l.Placed) // as the fold reads it
		}
		found := l != nil && m.Kind == line.KindRemoval && l.Gone() && l.Removal.Seq == m.Seq && happened > at && l.Placed <= at
		if found {
			gone = append(gone, l)
		}
		if happened <= at || found {
			kept = append(kept, m)
		}
	}
	h := line.Fold(kept)
	for _, g := range gone {
		if l := h.LineOf(g.Key); l != nil {
			l.Out = g.Out
		}
	}
	return h
}
