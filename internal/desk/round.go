package desk

import (
	"context"
	"slices"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Round is a ward's lines in bed order, to be walked from one to the next.
// What is left of it follows from the record alone, so anybody can take it up
// where another stopped.
type Round struct {
	Ward     Ward
	At       line.Minute
	Shift    line.Stretch
	Stops    []Stop
	Patients []line.Patient // on the ward, with a line or not, in bed order
}

// Stop is one line as whoever is about to look at it needs it.
type Stop struct {
	Row
	Due      []audit.Duty // not met so far and due before the shift ends, soonest first
	LastLook line.Minute  // a review, else the placement
	Looked   bool         // reviewed in this shift
	NotSeen  *line.Mark   // the last of this shift; nil: none, or looked at since
	Left     bool         // still to be walked to
	AskNeed  bool         // need was not recorded for so long that it falls due in this shift
}

// Left are the lines still to be walked to.
func (r *Round) Left() []Stop { return r.which(func(s Stop) bool { return s.Left }) }

// NotSeen are the lines with a reason recorded why nobody looked.
func (r *Round) NotSeen() []Stop { return r.which(func(s Stop) bool { return s.NotSeen != nil }) }

func (r *Round) which(keep func(Stop) bool) []Stop {
	return slices.DeleteFunc(slices.Clone(r.Stops), func(s Stop) bool { return !keep(s) })
}

// Round is the ward's lines now.
func (d *Desk) Round(ctx context.Context, who Person, ward line.ID) (*Round, error) {
	if err := who.require(account.RecordCare); err != nil {
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
	rows := map[line.Key]Row{}
	for _, row := range b.Rows {
		rows[row.Line.Key] = row
	}
	r := &Round{Ward: b.Ward, At: b.At, Shift: b.Shift, Patients: b.Patients}
	for _, p := range b.Patients {
		a, err := d.assess(ctx, h, p.Key)
		if err != nil {
			return nil, err
		}
		for _, l := range a.History.Lines {
			if row, ok := rows[l.Key]; ok {
				r.Stops = append(r.Stops, stopOf(row, a, l, b.Shift))
			}
		}
	}
	return r, nil
}

// Look opens one line for a look at it, and notes who did. Of a line that is
// out only the patient and the line itself are given.
func (d *Desk) Look(ctx context.Context, who Person, id line.ID) (Stop, Ward, error) {
	current, patient, ward, err := d.Whose(ctx, who, id)
	if err != nil {
		return Stop{}, Ward{}, err
	}
	if err := d.see(ctx, who, patient.Key, current.Key, openedLine); err != nil {
		return Stop{}, Ward{}, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return Stop{}, Ward{}, err
	}
	a, err := d.assess(ctx, h, patient.Key)
	if err != nil {
		return Stop{}, Ward{}, err
	}
	l := a.History.LineOf(current.Key)
	if l == nil || l.Removal != nil {
		return Stop{Row: Row{Patient: patient, Line: current}}, ward, nil
	}
	now := d.Now()
	return stopOf(rowOf(patient, current, a, l, now), a, l, h.Rulebook.ShiftAt(ward.Key, now)), ward, nil
}

func stopOf(row Row, a *audit.Assessment, l *line.Line, shift line.Stretch) Stop {
	s := Stop{Row: row, Due: dueBy(a, l.Key, shift.Until), LastLook: l.LastLook(line.Far)}
	s.Looked = len(l.Reviews) > 0 && s.LastLook >= shift.From
	for i := range l.NotSeen {
		if m := &l.NotSeen[i]; m.At >= shift.From && !(s.Looked && m.At <= s.LastLook) {
			s.NotSeen = m
		}
	}
	asked := false
	for i := range a.Duties {
		d := &a.Duties[i]
		if d.Line != l.Key || d.How == audit.MetInTime || d.Ended != line.Far || d.Due > shift.Until {
			continue
		}
		switch d.Rule {
		case audit.NeedDaily:
			s.AskNeed = true
		case audit.ReviewOverdue:
			asked = true
			// A look that fell due again, or after the return of a patient not seen.
			s.Left = s.Left || d.Due <= a.At
		}
	}
	s.Left = s.Left || asked && !s.Looked && s.NotSeen == nil
	return s
}

// undoWithin is how long after it was recorded an entry can be undone without
// giving a reason: the ten seconds of the screen, and what a slow network takes.
const undoWithin = 30 * time.Second

// JustRecorded is an entry that the person recorded so short a time ago that
// it can be undone.
func (d *Desk) JustRecorded(ctx context.Context, who Person, id line.ID) (line.Entry, bool) {
	rec, err := d.store.Entry(ctx, id)
	fresh := err == nil && rec.Replaced == "" && rec.Entry.Author == line.ID(who.ID) && d.clock().Sub(rec.Entry.Recorded) <= undoWithin
	return rec.Entry, fresh
}

// Undo withdraws what the person has just recorded; sent twice, it does so
// once. An error of kind Conflict says that it is too late for that, or that
// another entry stands on it.
func (d *Desk) Undo(ctx context.Context, who Person, id line.ID, why line.Text) error {
	undo := id + ".undo"
	if _, again, err := d.store.RecordedAt(ctx, undo); err != nil || again {
		return err
	}
	e, ok := d.JustRecorded(ctx, who, id)
	if !ok {
		return fault.New(fault.Conflict, "look.too-late")
	}
	void := line.Void{Root: id, Seen: id, Why: why}
	_, err := d.Record(ctx, who, Act{Entries: []line.Entry{{
		ID: undo, Kind: void.Kind(), Subject: e.Subject, Happened: d.Now(), Precision: line.ToMinute, Body: void,
	}}})
	return err
}
