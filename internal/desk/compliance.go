package desk

import (
	"cmp"
	"context"
	"runtime"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
)

// PeriodQuestion is what is asked of a stretch of time.
type PeriodQuestion struct {
	Period line.Stretch
	At     line.Minute // the moment from which it is judged: later entries meet nothing; 0: now
	Known
	Ward  line.ID // only this ward; empty: all
	By    audit.By
	Trial *audit.Policy
}

// Compliance is how the duties of a period stand, as recorded.
type Compliance struct {
	Period line.Stretch
	At     line.Minute
	Known  Known
	By     audit.By
	Policy *audit.Policy // in force at the end of the period
	Trial  bool
	Groups []Group
	// Unrecorded are the lines of the period that the record did not know as it
	// should have, in each group's slot.
	Unrecorded []UnrecordedGroup
	house      *House
}

// Group is one rule in one slot.
type Group struct {
	audit.Count
	outcomes.Duties // those that came to an end
}

// UnrecordedGroup is lines found unrecorded in one slot.
type UnrecordedGroup struct {
	audit.Slot
	audit.Unrecorded
}

// Compliance counts the duties of a period.
func (d *Desk) Compliance(ctx context.Context, who Person, q PeriodQuestion) (*Compliance, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	h, l, err := d.ask(ctx, &q)
	if err != nil {
		return nil, err
	}
	tally, err := d.tally(ctx, l, q.counting(h), q.At, func(*audit.Assessment) {})
	if err != nil {
		return nil, err
	}
	return newCompliance(h, l, q, tally), nil
}

// Detailed is a Compliance with what its groups are made of.
type Detailed struct {
	*Compliance
	Worst  []WorstStretch // the longest stretches overdue; none where a group is opened
	Opened *GroupLines    // nil: no group is opened
}

// Detailed counts the duties of a period and, in the same read, lists the lines
// of one group, by its id, or, without a group, the longest stretches overdue.
// rule picks the one that is listed; it may be empty where groups are rules.
func (d *Desk) Detailed(ctx context.Context, who Person, q PeriodQuestion, rule line.Rule, group string) (*Detailed, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	h, l, err := d.ask(ctx, &q)
	if err != nil {
		return nil, err
	}
	if q.By == audit.ByRule && group != "" {
		rule = line.Rule(group)
	}
	if err := h.refuseUnknown("", rule); err != nil {
		return nil, err
	}
	counting := q.counting(h)
	names := &Compliance{By: q.By, house: h}
	longest := worst{rule: rule, ward: counting.Ward}
	opened := opening{of: func(s audit.Slot) bool { return names.NameOf(ctx, rule, s).ID == group }}
	var mu sync.Mutex
	tally, err := d.tally(ctx, l, counting, q.At, func(a *audit.Assessment) {
		if group == "" {
			stood := a.Standing(q.Period)
			mu.Lock()
			longest.add(stood)
			mu.Unlock()
			return
		}
		counts := countLines(l.book, a, counting, rule)
		mu.Lock()
		opened.add(counts)
		mu.Unlock()
	})
	if err != nil {
		return nil, err
	}
	c := &Detailed{Compliance: newCompliance(h, l, q, tally)}
	if group != "" {
		c.Opened = &opened.GroupLines
		return c, d.nameLines(ctx, c.Opened)
	}
	c.Worst, err = d.nameWorst(ctx, h, &longest)
	return c, err
}

// counting is the question as the audit takes it.
func (q *PeriodQuestion) counting(h *House) audit.Counting {
	c := audit.Counting{Period: q.Period, By: q.By}
	if w, ok := h.Ward(q.Ward); ok {
		c.Ward = w.Key
	}
	return c
}

// UnrecordedInAll is all groups' lines found unrecorded.
func (c *Compliance) UnrecordedInAll() (sum audit.Unrecorded) {
	for _, u := range c.Unrecorded {
		sum = sum.Plus(u.Unrecorded)
	}
	return sum
}

// MetBy is what met a rule's duties, in all groups.
func (c *Compliance) MetBy(rule line.Rule) (sum [audit.BySiteCheck + 1]int) {
	for i := range c.Groups {
		if g := &c.Groups[i]; g.Rule == rule {
			for by, n := range g.MetBy {
				sum[by] += n
			}
		}
	}
	return sum
}

func newCompliance(h *House, l *lens, q PeriodQuestion, tally *audit.Tally) *Compliance {
	c := &Compliance{
		Period: q.Period, At: q.At, Known: l.known, By: q.By, Trial: q.Trial != nil, house: h,
		Policy: l.book.PolicyAt(min(q.Period.Until-1, q.At)),
	}
	for _, count := range tally.Counts() {
		c.Groups = append(c.Groups, newGroup(count))
	}
	if q.By == audit.ByWard {
		slices.SortStableFunc(c.Groups, func(a, b Group) int { return cmp.Compare(h.WardByKey(a.Ward).Name, h.WardByKey(b.Ward).Name) })
	}
	for slot, u := range tally.Unrecorded() {
		c.Unrecorded = append(c.Unrecorded, UnrecordedGroup{slot, u})
	}
	slices.SortFunc(c.Unrecorded, func(a, b UnrecordedGroup) int { return a.Slot.Compare(b.Slot) })
	return c
}

func newGroup(c audit.Count) Group {
	return Group{c, outcomes.DutiesOf(outcomes.Clusters{
		N: c.Clusters.N, Successes: c.MetInTime, Trials: c.Decided(), XX: c.Clusters.MetMet, XN: c.Clusters.MetOf, NN: c.Clusters.OfOf,
	})}
}

// ask checks a question about a period and resolves what it may see.
func (d *Desk) ask(ctx context.Context, q *PeriodQuestion) (*House, *lens, error) {
	if q.Period.From >= q.Period.Until {
		return nil, nil, fault.Field("until", "desk.period-empty")
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, nil, err
	}
	if err := h.refuseUnknown(q.Ward, ""); err != nil {
		return nil, nil, err
	}
	if q.At == 0 {
		q.At = d.Now()
	}
	l, err := d.through(ctx, h, q.Known, q.Trial)
	return h, l, err
}

// patientMarks is one patient's marks on the way from the record to a worker.
type patientMarks struct {
	subject line.Key
	marks   []line.Mark
}

// handedOver is how many patients a worker is given at once.
const handedOver = 50

// spread reads the patients of a stretch of time and shares them among workers,
// as many as there are processors: each is made by worker and given its part.
func (d *Desk) spread(ctx context.Context, l *lens, in line.Stretch, worker func() func(line.Key, []line.Mark)) error {
	batches := make(chan []patientMarks, runtime.GOMAXPROCS(0))
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error {
		defer close(batches)
		batch := make([]patientMarks, 0, handedOver)
		send := func() error {
			select {
			case batches <- batch:
			case <-ctx.Done():
				return ctx.Err()
			}
			batch = make([]patientMarks, 0, handedOver)
			return nil
		}
		err := d.each(ctx, l, in, func(subject line.Key, marks []line.Mark) error {
			if batch = append(batch, patientMarks{subject, marks}); len(batch) < handedOver {
				return nil
			}
			return send()
		})
		if err != nil {
			return err
		}
		return send()
	})
	for range runtime.GOMAXPROCS(0) {
		take := worker()
		g.Go(func() error {
			for batch := range batches {
				for _, p := range batch {
					take(p.subject, p.marks)
				}
			}
			return nil
		})
	}
	return g.Wait()
}

// tally counts as the lens sees it. also is given each assessment, by several
// goroutines at once.
func (d *Desk) tally(ctx context.Context, l *lens, c audit.Counting, at line.Minute, also func(*audit.Assessment)) (*audit.Tally, error) {
	var parts []*audit.Tally
	err := d.spread(ctx, l, c.Period, func() func(line.Key, []line.Mark) {
		part := audit.NewTally(l.book, c)
		parts = append(parts, part)
		return func(_ line.Key, marks []line.Mark) {
			a := audit.AssessDuties(l.book, marks, at)
			part.Add(&a)
			also(&a)
		}
	})
	if err != nil {
		return nil, err
	}
	for _, p := range parts[1:] {
		parts[0].Merge(p)
	}
	return parts[0], nil
}

// Named is a slot's name for programs and for people.
type Named struct{ ID, Name string }

// NameOf names a group; without a rule, what is of all rules together.
func (c *Compliance) NameOf(ctx context.Context, rule line.Rule, s audit.Slot) Named {
	switch c.By {
	case audit.ByWard:
		w := c.house.WardByKey(s.Ward)
		return Named{string(w.Ward.Ward), w.Name}
	case audit.ByShift:
		return Named{s.Shift.String(), s.Shift.String()}
	case audit.ByWeekday:
		day := time.Weekday(s.Weekday % 7)
		return Named{weekdayIDs[day], words.Say(ctx, "weekday."+weekdayIDs[day])}
	}
	if rule == "" {
		return Named{"all", c.house.Hospital.Name}
	}
	return Named{string(rule), words.Say(ctx, "duty."+string(rule))}
}

var weekdayIDs = [...]string{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"}
