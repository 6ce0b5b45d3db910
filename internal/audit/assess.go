package audit

import "dwellbook/internal/line"

// Assessment is what the rulebook says of one patient at a moment.
type Assessment struct {
	Subject    line.Key
	At         line.Minute
	History    line.Subject // as the entries that happened up to At tell it
	Duties     []Duty       // by line, rule and due moment
	Concerns   []Concern
	ValidUntil line.Minute // findings and next duties stay the same until then, but for minutes overdue, as long as nothing is recorded
}

// Assess judges one patient's marks, of which only those that stand are given, at a moment.
func Assess(book *Rulebook, marks []line.Mark, at line.Minute) Assessment {
	return Assessment{At: at, ValidUntil: line.Far}
}

// Findings are the findings at At that no justification covers, most urgent first.
func (a *Assessment) Findings() []Finding { return nil }

// Answered are the findings at At that a justification covers.
func (a *Assessment) Answered() []Finding { return nil }

// Next is the line's pending duty that falls due first.
func (a *Assessment) Next(l line.Key) (Duty, bool) { return Duty{}, false }

// StillIn reports whether the line stands under "Is it still in?".
func (a *Assessment) StillIn(l line.Key) bool { return false }

// NoLook are the stretches up to At in which a look at the line was overdue.
func (a *Assessment) NoLook(l line.Key) []line.Stretch { return nil }
