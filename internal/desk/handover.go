package desk

import (
	"cmp"
	"context"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// Handover is a ward's lines on paper, for the start of a shift.
type Handover struct {
	Ward    Ward
	Made    line.Minute // when the sheet was made
	At      line.Minute // the moment it shows: now, or the next shift's start if nothing more is recorded
	Shift   line.Stretch
	Seq     int64          // what is on it is known at least up to this entry
	Lines   []HandoverLine // in bed order
	NoLines []line.Patient // on the ward without one
}

// HandoverLine is one line, or the site of one that came out and is still watched.
type HandoverLine struct {
	Row
	Out      line.Minute     // Far while it is in
	Findings []audit.Finding // what stands now, most urgent first; advice apart
	Due      []audit.Duty    // falls due before the shift ends, soonest first
}

// Handover answers for the shift that runs now; next: for the one after it, as
// things will stand at its start if nothing more is recorded.
func (d *Desk) Handover(ctx context.Context, who Person, ward line.ID, next bool) (*Handover, error) {
	if err := who.require(account.SeeWards); err != nil {
		return nil, err
	}
	seq, err := d.store.LastSeq(ctx) // before the rest is read, so that the rest holds it
	if err != nil {
		return nil, err
	}
	b, err := d.Board(ctx, who, ward)
	if err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	sheet := &Handover{Ward: b.Ward, Made: b.At, At: b.At, Shift: b.Shift, Seq: seq}
	if next {
		sheet.At = b.Shift.Until
		sheet.Shift = h.Rulebook.ShiftAt(b.Ward.Key, sheet.At)
	}
	for _, p := range b.Patients {
		a, err := d.assessThen(ctx, h, p.Key, sheet.At)
		if err != nil {
			return nil, err
		}
		lines, err := d.handedOver(ctx, sheet, p, a)
		if err != nil {
			return nil, err
		}
		if len(lines) == 0 {
			sheet.NoLines = append(sheet.NoLines, p)
		}
		sheet.Lines = append(sheet.Lines, lines...)
	}
	return sheet, nil
}

// assessThen is assess for now or a moment to come.
func (d *Desk) assessThen(ctx context.Context, h *House, subject line.Key, at line.Minute) (*audit.Assessment, error) {
	if at <= d.Now() {
		return d.assess(ctx, h, subject)
	}
	marks, err := d.store.Marks(ctx, subject, 0)
	if err != nil {
		return nil, err
	}
	a := audit.Assess(h.Rulebook, marks, at)
	return &a, nil
}

// handedOver are a patient's lines that are in, and the sites of those that
// came out with something still to do, the oldest first.
func (d *Desk) handedOver(ctx context.Context, s *Handover, p line.Patient, a *audit.Assessment) ([]HandoverLine, error) {
	var lines []HandoverLine
	for _, l := range a.History.Lines {
		one := HandoverLine{Out: line.Far, Due: dueBy(a, l.Key, s.Shift.Until)}
		if l.Removal != nil {
			one.Out = l.Out
		}
		for _, f := range findingsAt(a, s.At) {
			of := f.Line == l.Key || f.Line == 0 && l.Removal == nil
			if of && f.Severity != audit.Advise && (f.IsDuty || l.Removal == nil) {
				one.Findings = append(one.Findings, f)
			}
		}
		if l.Removal != nil && len(one.Due)+len(one.Findings) == 0 {
			continue
		}
		current, err := d.store.LinesByKey(ctx, []line.Key{l.Key})
		if err != nil {
			return nil, err
		}
		one.Row = rowOf(p, current[l.Key], a, l, s.At)
		lines = append(lines, one)
	}
	return lines, nil
}

// dueBy are the line's duties not met so far that fall due by the end of a
// shift, soonest first; the shift's look is due at its end.
func dueBy(a *audit.Assessment, l line.Key, until line.Minute) []audit.Duty {
	var due []audit.Duty
	for i := range a.Duties {
		if d := &a.Duties[i]; d.Line == l && d.How == audit.Pending && d.Due <= until {
			due = append(due, *d)
		}
	}
	slices.SortStableFunc(due, func(x, y audit.Duty) int {
		return cmp.Or(cmp.Compare(x.Due, y.Due), cmp.Compare(x.Severity, y.Severity))
	})
	return due
}
