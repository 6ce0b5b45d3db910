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
	At      line.Minute
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

// Handover answers for the shift that runs now.
func (d *Desk) Handover(ctx context.Context, who Person, ward line.ID) (*Handover, error) {
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
	sheet := &Handover{Ward: b.Ward, At: b.At, Shift: b.Shift, Seq: seq}
	rows := map[line.Key][]Row{}
	for _, r := range b.Rows {
		rows[r.Patient.Key] = append(rows[r.Patient.Key], r)
	}
	for _, p := range b.Patients {
		a, err := d.assess(ctx, h, p.Key)
		if err != nil {
			return nil, err
		}
		lines := sheet.lines(a, rows[p.Key])
		watched, err := d.watched(ctx, sheet, p, a)
		if err != nil {
			return nil, err
		}
		if lines = append(lines, watched...); len(lines) == 0 {
			sheet.NoLines = append(sheet.NoLines, p)
		}
		sheet.Lines = append(sheet.Lines, lines...)
	}
	return sheet, nil
}

// lines are a patient's lines that are in, the oldest first.
func (s *Handover) lines(a *audit.Assessment, rows []Row) []HandoverLine {
	slices.SortFunc(rows, func(x, y Row) int {
		return cmp.Or(cmp.Compare(x.Placed, y.Placed), cmp.Compare(x.Line.Key, y.Line.Key))
	})
	var lines []HandoverLine
	for _, r := range rows {
		l := HandoverLine{Row: r, Out: line.Far, Due: s.due(a, r.Line.Key)}
		for _, f := range r.Findings {
			if f.Severity != audit.Advise {
				l.Findings = append(l.Findings, f)
			}
		}
		lines = append(lines, l)
	}
	return lines
}

// watched are the sites of a patient's lines that came out with something still to do.
func (d *Desk) watched(ctx context.Context, s *Handover, p line.Patient, a *audit.Assessment) ([]HandoverLine, error) {
	var lines []HandoverLine
	for _, l := range a.History.Lines {
		if l.Removal == nil {
			continue
		}
		one := HandoverLine{Out: l.Out, Due: s.due(a, l.Key)}
		for _, f := range findingsAt(a, s.At) {
			if f.IsDuty && f.Line == l.Key && f.Severity != audit.Advise {
				one.Findings = append(one.Findings, f)
			}
		}
		if len(one.Due)+len(one.Findings) == 0 {
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

// due are the line's duties not met so far that fall due before the shift
// ends; a shift's look is due at its end.
func (s *Handover) due(a *audit.Assessment, l line.Key) []audit.Duty {
	var due []audit.Duty
	for i := range a.Duties {
		if d := &a.Duties[i]; d.Line == l && d.How == audit.Pending && d.Due <= s.Shift.Until {
			due = append(due, *d)
		}
	}
	slices.SortStableFunc(due, func(x, y audit.Duty) int {
		return cmp.Or(cmp.Compare(x.Due, y.Due), cmp.Compare(x.Severity, y.Severity))
	})
	return due
}
