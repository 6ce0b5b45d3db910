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
	was, is := before.Standing(t.Period), after.Standing(t.Period)
	t.compare(before, was, is, false)
	t.compare(after, is, was, true)
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

// compare counts the findings of one rulebook, and which of them have no
// counterpart among the other's.
func (t *Trial) compare(a *Assessment, findings, others []Standing, after bool) {
	for _, s := range findings {
		c := t.change(s.no, s.Ward)
		alone := !slices.ContainsFunc(others, func(o Standing) bool {
			return o.no == s.no && o.Line == s.Line && o.From < s.Until && s.From < o.Until
		})
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
			c.keep(TrialExample{Subject: a.Subject, Line: s.Line, Stretch: s.Stretch, Gained: after})
		}
	}
}

// keep keeps the latest examples, whatever order they come in: those that
// people remember.
func (c *TrialChange) keep(e TrialExample) {
	c.Examples = append(c.Examples, e)
	slices.SortFunc(c.Examples, func(x, y TrialExample) int {
		return cmp.Or(cmp.Compare(y.From, x.From), cmp.Compare(x.Subject, y.Subject), cmp.Compare(x.Line, y.Line))
	})
	n := 0
	c.Examples = slices.DeleteFunc(c.Examples, func(kept TrialExample) bool {
		if kept.Gained == e.Gained {
			n++
		}
		return kept.Gained == e.Gained && n > mostExamples
	})
}

// Merge adds what another trial over the same period has compared; a patient
// must not be in both.
func (t *Trial) Merge(o *Trial) {
	for key, more := range o.changes {
		c := t.change(key.no, key.ward)
		c.Before += more.Before
		c.After += more.After
		c.Gained += more.Gained
		c.Lost += more.Lost
		c.DutiesAfter += more.DutiesAfter
		c.DutiesBefore += more.DutiesBefore
		for _, e := range more.Examples {
			c.keep(e)
		}
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
