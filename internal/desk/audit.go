package desk

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// Question is what an audit is asked.
type Question struct {
	At line.Minute // 0: now
	Known
	Ward  line.ID   // only this ward; empty: all
	Rule  line.Rule // only this rule; empty: all
	Trial *audit.Policy
}

// Report is the answer of an audit.
type Report struct {
	At      line.Minute
	Known   Known // resolved; its At is the moment asked at, where the question named none
	Policy  *audit.Policy
	Trial   bool
	LinesIn int
	Items   []Item // sorted by severity, then since
	StillIn []Item // lines with no entry for days, apart
	ActNow  int    // items, by severity
	DueNow  int
	Unheard int // lines that StillIn is about, each once
}

// Item is one finding with what names it.
type Item struct {
	audit.Finding
	Patient line.Patient // its Bed is that of the moment asked about
	Line    line.Current // zero where the finding is of the patient
	Ward    Ward
}

// Audit answers for the whole hospital.
func (d *Desk) Audit(ctx context.Context, who Person, q Question) (*Report, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	if err := h.refuseUnknown(q.Ward, q.Rule); err != nil {
		return nil, err
	}
	l, err := d.through(ctx, h, q.Known, q.Trial)
	if err != nil {
		return nil, err
	}
	r := &Report{At: q.At, Known: l.known, Trial: q.Trial != nil}
	if r.At == 0 {
		r.At = d.Now()
	}
	r.Policy = l.book.PolicyAt(r.At)
	var found []audit.Finding
	moves := map[line.Key]int64{} // the entry that put each patient in the bed
	wards := map[line.Key]bool{}
	if w, ok := h.Ward(q.Ward); ok {
		wards[w.Key] = true
	}
	err = d.each(ctx, l, line.Stretch{From: r.At, Until: r.At + 1}, func(_ line.Key, marks []line.Mark) error {
		a := audit.Assess(l.book, marks, r.At)
		for _, l := range a.History.Lines {
			if l.InSitu(r.At) && (q.Ward == "" || wards[a.History.LastWardAt(r.At)]) {
				r.LinesIn++
			}
		}
		for _, f := range a.Findings() {
			moves[a.Subject] = lastMove(marks, r.At)
			if (q.Ward == "" || wards[f.Ward]) && (q.Rule == "" || q.Rule == f.Rule) {
				found = append(found, f)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	audit.SortFindings(found)
	return r, d.name(ctx, h, r, found, moves)
}

// lastMove is the place in the record of the admission or transfer that the
// patient's bed at a moment follows from; 0: none.
func lastMove(marks []line.Mark, at line.Minute) int64 {
	var last line.Mark
	for _, m := range marks {
		if (m.Kind == line.KindAdmission || m.Kind == line.KindTransfer) && m.At <= at && (m.At > last.At || m.At == last.At && m.Seq > last.Seq) {
			last = m
		}
	}
	return last.Seq
}

// name adds patients, lines and wards to the findings.
func (d *Desk) name(ctx context.Context, h *House, r *Report, found []audit.Finding, moves map[line.Key]int64) error {
	beds, err := d.store.Beds(ctx, slices.Sorted(maps.Values(moves)))
	if err != nil {
		return fmt.Errorf("beds of findings: %w", err)
	}
	lines, err := linesOf(ctx, d, found, func(f audit.Finding) line.Key { return f.Line })
	if err != nil {
		return err
	}
	patients := map[line.Key]line.Patient{}
	unheard := map[line.Key]bool{}
	for _, f := range found {
		p, ok := patients[f.Subject]
		if !ok {
			if p, err = d.store.PatientByKey(ctx, f.Subject); err != nil {
				return fmt.Errorf("patient of a finding: %w", err)
			}
			p.Bed = beds[moves[f.Subject]]
			patients[f.Subject] = p
		}
		item := Item{Finding: f, Patient: p, Line: lines[f.Line], Ward: h.WardByKey(f.Ward)}
		r.add(item, unheard)
	}
	r.Unheard = len(unheard)
	return nil
}

// add puts an item where it is counted; unheard collects the lines nobody has
// recorded anything about for days.
func (r *Report) add(i Item, unheard map[line.Key]bool) {
	if i.StillIn {
		r.StillIn = append(r.StillIn, i)
		unheard[i.Finding.Line] = true
		return
	}
	r.Items = append(r.Items, i)
	switch i.Severity {
	case audit.ActNow:
		r.ActNow++
	case audit.Due:
		r.DueNow++
	}
}

// InOrder merges items into one list sorted by severity, then since.
func InOrder(lists ...[]Item) []Item {
	all := slices.Concat(lists...)
	slices.SortStableFunc(all, func(x, y Item) int {
		return cmp.Or(cmp.Compare(x.Severity, y.Severity), cmp.Compare(x.Since, y.Since),
			cmp.Compare(x.Subject, y.Subject), cmp.Compare(x.Finding.Line, y.Finding.Line), cmp.Compare(x.Rule, y.Rule))
	})
	return all
}
