package audit

import (
	"cmp"
	"slices"
	"time"

	"dwellbook/internal/line"
)

// Finding is a duty due and not ended, or a concern that holds, at the moment
// assessed. A rule has at most one on a line.
type Finding struct {
	Rule      line.Rule
	Severity  Severity
	Subject   line.Key
	Line      line.Key      // line or occasion; 0: of the patient
	Ward      line.Key      // that has the patient at the moment, else the last that had
	Since     line.Minute   // of a duty, the first due moment of the joined stretch; of a concern, its start
	Overdue   time.Duration // of a duty: minutes before the moment assessed that no justification covers
	IsDuty    bool
	Justified bool // answered by a justification at the moment
	StillIn   bool // of a line under "Is it still in?"
	Why, Do   line.Message
	Source    string // of the rule, as the policy names it
}

// SortFindings puts the most urgent first, then the oldest.
func SortFindings(findings []Finding) {
	slices.SortStableFunc(findings, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Severity, b.Severity), cmp.Compare(a.Since, b.Since), cmp.Compare(a.Subject, b.Subject),
			cmp.Compare(a.Line, b.Line), cmp.Compare(a.Rule, b.Rule))
	})
}

// Findings are the findings at At that no justification covers, in the order of SortFindings.
func (a Assessment) Findings() []Finding { return a.findings(false) }

// Answered are the findings at At that a justification covers; they are not counted as due.
func (a Assessment) Answered() []Finding { return a.findings(true) }

func (a *Assessment) findings(answered bool) []Finding {
	var found []Finding
	for i := 0; i < len(a.Duties); {
		n := a.sameDuties(i)
		if f, ok := a.ofDuties(a.Duties[i:n]); ok && f.Justified == answered {
			found = append(found, f)
		}
		i = n
	}
	for i := range a.Concerns {
		if f, ok := a.ofConcern(i); ok && f.Justified == answered {
			found = append(found, f)
		}
	}
	SortFindings(found)
	return found
}

// sameDuties is where the run of one rule's duties on one line that starts at i ends.
func (a *Assessment) sameDuties(i int) int {
	n := i + 1
	for n < len(a.Duties) && a.Duties[n].no == a.Duties[i].no && a.Duties[n].Line == a.Duties[i].Line {
		n++
	}
	return n
}

// ofDuties is the finding that one rule's duties on one line make at At.
func (a *Assessment) ofDuties(duties []Duty) (Finding, bool) {
	stretch := line.Stretch{From: -line.Far, Until: -line.Far} // the joined one so far
	var current *Duty
	for i := range duties {
		d := &duties[i]
		if o := d.overdue(); o.From < o.Until && o.From <= a.At {
			stretch = join(stretch, o)
			if o.Holds(a.At) {
				current = d
			}
		}
	}
	if current == nil {
		return Finding{}, false
	}
	tag := ruleTags[current.no]
	return Finding{
		Rule: current.Rule, Severity: current.Severity, Subject: a.Subject, Line: current.Line, Ward: a.History.LastWardAt(a.At),
		Since: stretch.From, IsDuty: true, Why: current.Why, Do: current.Do, Source: current.policy.rules[current.no].source,
		Overdue:   time.Duration(uncovered(&a.History, line.Stretch{From: stretch.From, Until: a.At}, tag, current.Line)) * time.Minute,
		Justified: coveredAt(&a.History, a.At, tag, current.Line, dutyCover), StillIn: a.StillIn(current.Line),
	}, true
}

// join puts a stretch together with the one before it where they touch; else it stands alone.
func join(before, next line.Stretch) line.Stretch {
	if next.From > before.Until {
		return next
	}
	return line.Stretch{From: before.From, Until: max(before.Until, next.Until)}
}

// ofConcern is the finding of the i-th concern, if it holds at At and is the
// most urgent of its rule on its line that does.
func (a *Assessment) ofConcern(i int) (Finding, bool) {
	c := &a.Concerns[i]
	if !c.Holds(a.At) {
		return Finding{}, false
	}
	since := c.From
	for moved := true; moved; {
		moved = false
		for k := range a.Concerns {
			o := &a.Concerns[k]
			if o.no != c.no || o.Line != c.Line {
				continue
			}
			if o.Holds(a.At) && (o.Severity < c.Severity || o.Severity == c.Severity && k < i) {
				return Finding{}, false
			}
			if o.From < since && o.Until >= since {
				since, moved = o.From, true
			}
		}
	}
	return Finding{
		Rule: c.Rule, Severity: c.Severity, Subject: a.Subject, Line: c.Line, Ward: a.History.LastWardAt(a.At), Since: since,
		Justified: c.Justified, StillIn: a.StillIn(c.Line), Why: c.Why, Do: c.Do, Source: c.policy.rules[c.no].source,
	}, true
}

// Next is the line's pending duty that falls due first; of equals the more severe.
func (a Assessment) Next(l line.Key) (Duty, bool) {
	next := Duty{Due: line.Far}
	for i := range a.Duties {
		d := &a.Duties[i]
		if d.Line == l && d.How == Pending && (d.Due < next.Due || d.Due == next.Due && d.Severity < next.Severity) {
			next = *d
		}
	}
	return next, next.Due != line.Far
}

// StillIn reports whether the line stands under "Is it still in?": it is in,
// and no entry has been about it for the time the policy sets.
func (a Assessment) StillIn(l line.Key) bool { return slices.Contains(a.still, l) }

// NoLook are the stretches up to At in which a look at the line was overdue,
// answered or not, joined.
func (a Assessment) NoLook(l line.Key) []line.Stretch {
	var list []line.Stretch
	for i := range a.Duties {
		d := &a.Duties[i]
		if d.Line != l || d.no != reviewOverdue {
			continue
		}
		if o := clip(d.overdue(), line.Stretch{From: -line.Far, Until: a.At}); o.From < o.Until {
			list = joined(append(list, o))
		}
	}
	return list
}
