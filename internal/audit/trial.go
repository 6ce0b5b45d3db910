package audit

import (
	"cmp"
	"slices"

	"dwellbook/internal/line"
)

// Trial compares what two rulebooks make of the same record over a stretch of
// time. It belongs to one goroutine.
type Trial struct {
	Period  line.Stretch
	changes map[trialKey]*TrialChange
}

// trialKey is one rule in one ward.
type trialKey struct {
	no   ruleNo
	ward line.Key
}

// TrialChange is what the second rulebook changes of one rule in one ward. A
// finding here is a stretch, joined, in which a rule's finding on a line
// stands, answered by nobody. It is gained where no finding of the first
// rulebook on that line overlaps it, and lost the other way about.
type TrialChange struct {
	Rule                      line.Rule
	Ward                      line.Key
	Before, After             int // findings by each
	Gained, Lost              int
	DutiesBefore, DutiesAfter int // that fell due, by each
	Examples                  []TrialExample
}

// TrialExample is a finding gained or lost, to be opened.
type TrialExample struct {
	Subject, Line line.Key
	line.Stretch
	Gained bool
}

// mostExamples are kept of each rule in each ward, gained and lost each.
const mostExamples = 3

// NewTrial is an empty comparison over a period.
func NewTrial(period line.Stretch) *Trial {
	return &Trial{Period: period, changes: map[trialKey]*TrialChange{}}
}

// Add compares two assessments of one patient at the same moment.
func (t *Trial) Add(before, after *Assessment) {
	was, is := t.standing(before), t.standing(after)
	for key, stretches := range was {
		t.compare(before, key, stretches, is[key], false)
	}
	for key, stretches := range is {
		t.compare(after, key, stretches, was[key], true)
	}
	for _, one := range []struct {
		a   *Assessment
		new bool
	}{{before, false}, {after, true}} {
		for i := range one.a.Duties {
			d := &one.a.Duties[i]
			if d.Due > one.a.At || !t.Period.Holds(d.Due) {
				continue
			}
			if c := t.change(d.no, d.Ward); one.new {
				c.DutiesAfter++
			} else {
				c.DutiesBefore++
			}
		}
	}
}

func (t *Trial) change(no ruleNo, ward line.Key) *TrialChange {
	key := trialKey{no, ward}
	c := t.changes[key]
	if c == nil {
		c = &TrialChange{Rule: ruleIDs[no], Ward: ward}
		t.changes[key] = c
	}
	return c
}

// onLine is one rule on one line or occasion.
type onLine struct {
	no   ruleNo
	line line.Key
}

// standing gives the stretches of the period in which findings stood.
func (t *Trial) standing(a *Assessment) map[onLine][]line.Stretch {
	stood := map[onLine][]line.Stretch{}
	period := clip(t.Period, line.Stretch{From: -line.Far, Until: a.At})
	note := func(key onLine, s line.Stretch) {
		if s = clip(s, period); s.From < s.Until {
			stood[key] = append(stood[key], s)
		}
	}
	for i := range a.Duties {
		d := &a.Duties[i]
		key := onLine{d.no, d.Line}
		uncoveredParts(&a.History, d.overdue(), answer{ruleTags[d.no], d.Line, dutyCover}, func(part line.Stretch) { note(key, part) })
	}
	for i := range a.Concerns {
		c := &a.Concerns[i]
		key := onLine{c.no, c.Line}
		uncoveredParts(&a.History, c.Stretch, answer{ruleTags[c.no], c.Line, concernCover}, func(part line.Stretch) { note(key, part) })
	}
	for key, list := range stood {
		slices.SortFunc(list, func(x, y line.Stretch) int { return cmp.Compare(x.From, y.From) })
		var whole []line.Stretch
		for _, s := range list {
			whole = joined(append(whole, s))
		}
		stood[key] = whole
	}
	return stood
}

// compare counts the findings of one rule on one line, and which of them have
// no counterpart.
func (t *Trial) compare(a *Assessment, key onLine, findings, others []line.Stretch, after bool) {
	for _, s := range findings {
		c := t.change(key.no, a.History.LastWardAt(s.From))
		alone := !slices.ContainsFunc(others, func(o line.Stretch) bool { return o.From < s.Until && s.From < o.Until })
		switch {
		case after && alone:
			c.After++
			c.Gained++
		case after:
			c.After++
		case alone:
			c.Before++
			c.Lost++
		default:
			c.Before++
		}
		if alone {
			c.keep(TrialExample{Subject: a.Subject, Line: key.line, Stretch: s, Gained: after})
		}
	}
}

func (c *TrialChange) keep(e TrialExample) {
	n := 0
	for _, kept := range c.Examples {
		if kept.Gained == e.Gained {
			n++
		}
	}
	if n < mostExamples {
		c.Examples = append(c.Examples, e)
	}
}

// Changes lists what differs or stands, by rule, then by ward.
func (t *Trial) Changes() []TrialChange {
	list := make([]TrialChange, 0, len(t.changes))
	for _, c := range t.changes {
		list = append(list, *c)
	}
	slices.SortFunc(list, func(x, y TrialChange) int {
		return cmp.Or(cmp.Compare(slices.Index(ruleIDs[:], x.Rule), slices.Index(ruleIDs[:], y.Rule)), cmp.Compare(x.Ward, y.Ward))
	})
	return list
}
