package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// TrialQuestion is a policy to be tried on the last weeks.
type TrialQuestion struct {
	Policy *audit.Policy
	Weeks  int // 1 to MostTrialWeeks
}

// MostTrialWeeks is how far back a policy can be tried.
const MostTrialWeeks = 12

// PolicyTrial is what a policy would have made of the last weeks, beside what
// the policy in force now makes of them: each over the whole of the period,
// with the wards' own values.
type PolicyTrial struct {
	Period        line.Stretch
	Before, After *audit.Policy
	Rules         []TriedRule // those with a finding or a duty by either, in the order of a policy
	Wards         []TriedWard // those with a duty to look by either
	Gained, Lost  int         // findings
}

// TriedRule is one rule under both.
type TriedRule struct {
	Rule          line.Rule
	Before, After Group // of the duties that came to an end; none of concerns
	Sum           audit.TrialChange
	Wards         []audit.TrialChange // where the rule's findings or duties differ
	Examples      []TriedExample
}

// Changed reports whether anything is gained or lost by the rule.
func (r TriedRule) Changed() bool { return len(r.Wards) > 0 }

// TriedExample is a finding gained or lost, with what is needed to open it.
type TriedExample struct {
	audit.TrialExample
	Ward    Ward
	Of      line.Current // zero where the finding is of the patient
	Patient line.ID      // set where Of is not
}

// TriedWard is how many looks the shifts of one ward ask for under both.
type TriedWard struct {
	Ward          Ward
	Before, After Looks
}

// Looks are the looks that fell due in so many shifts of a ward.
type Looks struct{ Due, Shifts int }

// PerShift is the looks of one shift, on average; 0 where no shift started.
func (l Looks) PerShift() float64 {
	if l.Shifts == 0 {
		return 0
	}
	return float64(l.Due) / float64(l.Shifts)
}

// examplesOfRule are shown of each rule, gained and lost each.
const examplesOfRule = 3

// bothSides is one worker's part of a trial.
type bothSides struct {
	trial         *audit.Trial
	before, after *audit.Tally
}

// TryPolicy assesses the last weeks under the policy in force and under another.
func (d *Desk) TryPolicy(ctx context.Context, who Person, q TrialQuestion) (*PolicyTrial, error) {
	if err := who.require(account.EditPolicy); err != nil {
		return nil, err
	}
	if q.Weeks < 1 || q.Weeks > MostTrialWeeks {
		return nil, fault.Field("weeks", "act.number", "least", 1, "most", MostTrialWeeks)
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	now := d.Now()
	t := &PolicyTrial{
		Period: line.Stretch{From: now - line.Minute(q.Weeks)*7*24*60, Until: now},
		Before: h.Rulebook.PolicyAt(now), After: q.Policy,
	}
	l, err := d.through(ctx, h, Known{}, nil)
	if err != nil {
		return nil, err
	}
	before, after := l.book.WithPolicy(t.Before), l.book.WithPolicy(t.After)
	if l.book = before; after.Watch() > before.Watch() {
		l.book = after // so that no site that either watches is left out
	}
	both, err := d.assessBoth(ctx, l, before, after, t.Period)
	if err != nil {
		return nil, err
	}
	t.take(both)
	t.countLooks(h, both, before, after)
	return t, d.nameExamples(ctx, h, t)
}

// assessBoth reads each patient once and assesses the marks by both rulebooks.
func (d *Desk) assessBoth(ctx context.Context, l *lens, before, after *audit.Rulebook, in line.Stretch) (*bothSides, error) {
	counting := audit.Counting{Period: in, By: audit.ByRule}
	var parts []*bothSides
	err := d.spread(ctx, l, in, func() func(line.Key, []line.Mark) {
		part := &bothSides{audit.NewTrial(in), audit.NewTally(before, counting), audit.NewTally(after, counting)}
		parts = append(parts, part)
		return func(_ line.Key, marks []line.Mark) {
			was, is := audit.Assess(before, marks, in.Until), audit.Assess(after, marks, in.Until)
			part.trial.Add(&was, &is)
			part.before.Add(&was)
			part.after.Add(&is)
		}
	})
	if err != nil {
		return nil, fmt.Errorf("try a policy: %w", err)
	}
	for _, p := range parts[1:] {
		parts[0].trial.Merge(p.trial)
		parts[0].before.Merge(p.before)
		parts[0].after.Merge(p.after)
	}
	return parts[0], nil
}

// take puts the parts together by rule.
func (t *PolicyTrial) take(both *bothSides) {
	rules := map[line.Rule]*TriedRule{}
	of := func(rule line.Rule) *TriedRule {
		if rules[rule] == nil {
			rules[rule] = &TriedRule{Rule: rule, Sum: audit.TrialChange{Rule: rule}}
		}
		return rules[rule]
	}
	for _, c := range both.before.Counts() {
		of(c.Rule).Before = newGroup(c)
	}
	for _, c := range both.after.Counts() {
		of(c.Rule).After = newGroup(c)
	}
	for _, c := range both.trial.Changes() {
		of(c.Rule).add(c)
		t.Gained += c.Gained
		t.Lost += c.Lost
	}
	for _, r := range audit.Rules() {
		if one := rules[r.Rule]; one != nil {
			t.Rules = append(t.Rules, *one)
		}
	}
}

func (r *TriedRule) add(c audit.TrialChange) {
	r.Sum.Before += c.Before
	r.Sum.After += c.After
	r.Sum.Gained += c.Gained
	r.Sum.Lost += c.Lost
	r.Sum.DutiesAfter += c.DutiesAfter
	r.Sum.DutiesBefore += c.DutiesBefore
	if c.Gained+c.Lost > 0 || c.DutiesAfter != c.DutiesBefore {
		r.Wards = append(r.Wards, c)
	}
}

// countLooks counts, of each ward, the looks that fell due and its shifts.
func (t *PolicyTrial) countLooks(h *House, both *bothSides, before, after *audit.Rulebook) {
	for _, c := range both.trial.Changes() {
		if c.Rule == audit.ReviewOverdue && c.DutiesAfter+c.DutiesBefore > 0 {
			t.Wards = append(t.Wards, TriedWard{
				h.WardByKey(c.Ward),
				Looks{c.DutiesBefore, shiftsOf(before, c.Ward, t.Period)}, Looks{c.DutiesAfter, shiftsOf(after, c.Ward, t.Period)},
			})
		}
	}
	slices.SortFunc(t.Wards, func(a, b TriedWard) int { return cmp.Compare(a.Ward.Name, b.Ward.Name) })
}

// shiftsOf counts the shifts of a ward that start in the period.
func shiftsOf(book *audit.Rulebook, ward line.Key, period line.Stretch) int {
	n := 0
	for s := book.ShiftAt(ward, period.From); s.From < period.Until; s = book.ShiftAt(ward, s.Until) {
		if s.From >= period.From {
			n++
		}
	}
	return n
}

// pick takes a few examples, gained and lost, from as many wards as there are.
func (r *TriedRule) pick(h *House) {
	n := map[bool]int{}
	for k, more := 0, true; more; k++ {
		more = false
		for _, c := range r.Wards {
			if k >= len(c.Examples) {
				continue
			}
			more = true
			e := c.Examples[k]
			if n[e.Gained]++; n[e.Gained] <= examplesOfRule {
				r.Examples = append(r.Examples, TriedExample{TrialExample: e, Ward: h.WardByKey(c.Ward)})
			}
		}
	}
	slices.SortStableFunc(r.Examples, func(a, b TriedExample) int {
		switch {
		case a.Gained == b.Gained:
			return 0
		case a.Gained:
			return -1
		}
		return 1
	})
}

// nameExamples picks a few findings of each rule, and finds what opens them.
func (d *Desk) nameExamples(ctx context.Context, h *House, t *PolicyTrial) error {
	var keys []line.Key
	for i := range t.Rules {
		t.Rules[i].pick(h)
		for _, e := range t.Rules[i].Examples {
			if e.Line != 0 {
				keys = append(keys, e.Line)
			}
		}
	}
	slices.Sort(keys)
	lines, err := d.store.LinesByKey(ctx, slices.Compact(keys))
	if err != nil {
		return fmt.Errorf("lines of examples: %w", err)
	}
	for i := range t.Rules {
		for k := range t.Rules[i].Examples {
			e := &t.Rules[i].Examples[k]
			if e.Of = lines[e.Line]; e.Of.ID != "" {
				continue
			}
			p, err := d.store.PatientByKey(ctx, e.Subject)
			if err != nil {
				return fmt.Errorf("patient of an example: %w", err)
			}
			e.Patient = p.ID
		}
	}
	return nil
}
