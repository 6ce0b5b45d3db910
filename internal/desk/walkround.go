package desk

import (
	"cmp"
	"context"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// WalkRound is what someone who walked the wards at one hour would have found,
// from the record, beside what the whole month of that hour holds.
type WalkRound struct {
	At     line.Minute
	Known  Known
	Policy *audit.Policy
	House  *House
	Wards  []WardFound // by name; the last is all together
	Rules  []line.Rule // with a finding anywhere, in the order of a policy
	Month  *Compliance // of the hour's calendar month, up to now or when it was known
}

// WardFound is one ward at the hour.
type WardFound struct {
	Ward     Ward // without a name: all together
	Lines    int  // in situ
	Faulty   int  // of these, with a duty overdue
	Answered int  // findings answered by a justification, in no other number
	Unheard  int  // lines nobody had recorded anything about for days
	ByRule   map[line.Rule]int
}

// WalkRound surveys the hospital at an hour; 0: now.
func (d *Desk) WalkRound(ctx context.Context, who Person, at line.Minute, known Known) (*WalkRound, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	if at == 0 {
		at = d.Now()
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	l, err := d.through(ctx, h, known, nil)
	if err != nil {
		return nil, err
	}
	found := map[line.Key]*WardFound{}
	all := &WardFound{ByRule: map[line.Rule]int{}}
	err = d.each(ctx, l, line.Stretch{From: at, Until: at + 1}, func(_ line.Key, marks []line.Mark) error {
		a := audit.Assess(l.book, marks, at)
		survey(h, &a, found, all)
		return nil
	})
	if err != nil {
		return nil, err
	}
	w := &WalkRound{At: at, Known: l.known, Policy: l.book.PolicyAt(at), House: h}
	for _, f := range found {
		w.Wards = append(w.Wards, *f)
	}
	slices.SortFunc(w.Wards, func(x, y WardFound) int { return cmp.Compare(x.Ward.Name, y.Ward.Name) })
	w.Wards = append(w.Wards, *all)
	for _, r := range audit.Rules() {
		if all.ByRule[r.Rule] > 0 {
			w.Rules = append(w.Rules, r.Rule)
		}
	}
	// What was not yet recorded then must not stand as missed since.
	judged := min(d.Now(), line.MinuteOf(l.known.At))
	month := MonthPeriod(at.Time().In(h.Zone), h.Zone)
	w.Month, err = d.Compliance(ctx, who, PeriodQuestion{Period: month, At: judged, Known: known, By: audit.ByRule})
	return w, err
}

// survey adds one patient's lines. Each line counts once under a rule; a
// finding that is not of one line counts under the ward that has the patient.
func survey(h *House, a *audit.Assessment, found map[line.Key]*WardFound, all *WardFound) {
	ward := a.History.LastWardAt(a.At)
	of := found[ward]
	if of == nil {
		of = &WardFound{Ward: h.WardByKey(ward), ByRule: map[line.Rule]int{}}
	}
	in, faulty, unheard := map[line.Key]bool{}, map[line.Key]bool{}, map[line.Key]bool{}
	for _, l := range a.History.Lines {
		if l.InSitu(a.At) {
			in[l.Key] = true
			if a.StillIn(l.Key) {
				unheard[l.Key] = true
			}
		}
	}
	findings := a.Findings()
	answered := len(a.Answered())
	if len(in) == 0 && len(findings) == 0 && answered == 0 {
		return
	}
	found[ward] = of
	for _, sum := range []*WardFound{of, all} {
		sum.Lines += len(in)
		sum.Unheard += len(unheard)
		sum.Answered += answered
		for _, f := range findings {
			if unheard[f.Line] {
				continue // it is asked whether they are in at all
			}
			sum.ByRule[f.Rule]++
			if f.IsDuty && in[f.Line] { // a site is watched after its line is out
				faulty[f.Line] = true
			}
		}
		sum.Faulty += len(faulty)
	}
}
