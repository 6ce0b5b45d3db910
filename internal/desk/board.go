package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Board is a ward's lines at a moment.
type Board struct {
	Ward     Ward
	At       line.Minute
	Version  uint64 // the ward's, when the board was made
	Shift    line.Stretch
	Axis     line.Stretch // that all strips share
	Nights   []line.Stretch
	ActNow   int // findings, without those of lines under "is it still in?"
	DueNow   int
	DueShift int // duties that fall due before the shift ends
	LinesIn  int
	StillIn  int
	Rows     []Row          // by urgency
	Patients []line.Patient // on the ward, with a line or not, in bed order
	Next     line.Minute    // when the board changes by itself at the latest
}

// Row is one line on a board.
type Row struct {
	Patient  line.Patient
	Line     line.Current
	Findings []audit.Finding // most urgent first
	Next     *audit.Duty     // the pending duty that falls due first
	StillIn  bool
	Known    bool // the placement time is known
	Placed   line.Minute
	Dressed  line.Minute // when the dressing on it now was put on
	Looks    []line.Minute
	Dressing []line.Minute
	NoLook   []line.Stretch // overdue stretches, to be hatched
}

// Worst is the severity of the most urgent finding; ok is false where there is none.
func (r Row) Worst() (severity audit.Severity, ok bool) {
	if len(r.Findings) == 0 {
		return 0, false
	}
	return r.Findings[0].Severity, true
}

// axisBefore and axisAfter set the strip's axis: three and a half days past,
// and half of a half day to come.
const (
	axisBefore = 84 * time.Hour
	axisAfter  = 3 * time.Hour
)

// Wards lists the open wards the person may see.
func (d *Desk) Wards(ctx context.Context, who Person) ([]Ward, error) {
	if err := who.require(account.SeeWards); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(slices.Clone(h.Wards), func(w Ward) bool { return w.Closed }), nil
}

// WardVersion rises with every change on the ward.
func (d *Desk) WardVersion(ward line.Key) uint64 { return d.hub.version(ward) }

// WatchWard gives a channel that gets a value after each change on the ward, until stop is called.
func (d *Desk) WatchWard(ward line.Key) (changes <-chan struct{}, stop func()) {
	return d.hub.watch(ward)
}

// BoardsOpen is how many watch a ward's changes.
func (d *Desk) BoardsOpen() int { return d.hub.open() }

// Board is the ward's lines now. Those who ask at once share it: it is not to be changed.
func (d *Desk) Board(ctx context.Context, who Person, ward line.ID) (*Board, error) {
	if err := who.require(account.SeeWards); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	w, ok := h.Ward(ward)
	if !ok {
		return nil, fault.New(fault.NotFound, "fault.no-such-ward")
	}
	// Many screens ask for the same board after one change: it is assessed once.
	// One who leaves must not take it from the others.
	key := fmt.Sprint(w.Key, d.Now(), d.hub.version(w.Key))
	made, err, _ := d.boards.Do(key, func() (any, error) { return d.board(context.WithoutCancel(ctx), h, w) })
	if err != nil {
		return nil, err
	}
	b, _ := made.(*Board)
	return b, nil
}

func (d *Desk) board(ctx context.Context, h *House, w Ward) (*Board, error) {
	now := d.Now()
	b := &Board{
		Ward: w, At: now, Version: d.hub.version(w.Key), Shift: h.Rulebook.ShiftAt(w.Key, now), Next: line.Far,
		Axis: line.Stretch{From: now.Add(-axisBefore), Until: now.Add(axisAfter)},
	}
	b.Nights = h.Rulebook.Nights(w.Key, b.Axis.From, b.Axis.Until)
	patients, err := d.store.WardPatients(ctx, w.Key)
	if err != nil {
		return nil, fmt.Errorf("patients of ward %s: %w", w.Name, err)
	}
	sortByBed(w, patients)
	b.Patients = patients
	if err := d.assessAll(ctx, h, patients); err != nil {
		return nil, fmt.Errorf("assess ward %s: %w", w.Name, err)
	}
	type open struct {
		patient line.Patient
		a       *audit.Assessment
		l       *line.Line
	}
	var lines []open
	var keys []line.Key
	for _, p := range patients {
		a, err := d.assess(ctx, h, p.Key)
		if err != nil {
			return nil, fmt.Errorf("assess patient %s: %w", p.ID, err)
		}
		b.Next = min(b.Next, a.ValidUntil)
		for _, l := range a.History.Lines {
			if l.Removal == nil {
				lines, keys = append(lines, open{p, a, l}), append(keys, l.Key)
			}
		}
	}
	current, err := d.store.LinesByKey(ctx, keys)
	if err != nil {
		return nil, fmt.Errorf("lines of ward %s: %w", w.Name, err)
	}
	for _, o := range lines {
		b.add(rowOf(o.patient, current[o.l.Key], o.a, o.l, now))
	}
	slices.SortStableFunc(b.Rows, byUrgency)
	return b, nil
}

func rowOf(p line.Patient, current line.Current, a *audit.Assessment, l *line.Line, now line.Minute) Row {
	r := Row{
		Patient: p, Line: current, StillIn: a.StillIn(l.Key), Known: l.Placement.Precision != line.NotKnown,
		Placed: l.Placed, Dressed: l.Placed, NoLook: a.NoLook(l.Key),
	}
	for _, f := range findingsAt(a, now) {
		// What is of the patient and of no one line stands on each of the patient's lines.
		if f.Line == l.Key || f.Line == 0 {
			r.Findings = append(r.Findings, f)
		}
	}
	if next, ok := a.Next(l.Key); ok {
		r.Next = &next
	}
	for _, m := range l.Reviews {
		r.Looks = append(r.Looks, m.At)
	}
	for _, m := range l.Dressings {
		r.Dressing, r.Dressed = append(r.Dressing, m.At), m.At
	}
	return r
}

// findingsAt are the findings of an assessment that is still true at now,
// which may be some minutes after it was made: only what is counted in minutes
// has moved on.
func findingsAt(a *audit.Assessment, now line.Minute) []audit.Finding {
	findings := a.Findings()
	for i := range findings {
		if f := &findings[i]; f.IsDuty {
			f.Overdue += now.Sub(a.At)
		}
	}
	return findings
}

func (b *Board) add(r Row) {
	b.Rows = append(b.Rows, r)
	b.LinesIn++
	if r.StillIn {
		b.StillIn++
	} else {
		for _, f := range r.Findings {
			switch f.Severity {
			case audit.ActNow:
				b.ActNow++
			case audit.Due:
				b.DueNow++
			}
		}
	}
	if r.Next != nil && r.Next.Due < b.Shift.Until {
		b.DueShift++
	}
}

// byUrgency puts what must be acted on first, lines under "is it still in?"
// last, and equals by how long, then by what falls due next.
func byUrgency(x, y Row) int {
	rank := func(r Row) int {
		worst, ok := r.Worst()
		switch {
		case r.StillIn:
			return 9
		case !ok, worst == audit.Advise: // advice is never due, so it goes by what falls due next
			return 8
		}
		return int(worst)
	}
	due := func(r Row) line.Minute {
		if len(r.Findings) > 0 && r.Findings[0].Severity != audit.Advise {
			return r.Findings[0].Since
		}
		if r.Next != nil {
			return r.Next.Due
		}
		return line.Far
	}
	return cmp.Or(cmp.Compare(rank(x), rank(y)), cmp.Compare(due(x), due(y)), cmp.Compare(x.Line.Key, y.Line.Key))
}

// sortByBed puts patients in the order of the ward's beds; beds not on the list come after, in their own order.
func sortByBed(w Ward, patients []line.Patient) {
	place := func(p line.Patient) int {
		if i := slices.Index(w.Beds, p.Bed); i >= 0 {
			return i
		}
		return len(w.Beds)
	}
	slices.SortStableFunc(patients, func(x, y line.Patient) int {
		return cmp.Or(cmp.Compare(place(x), place(y)), naturally(x.Bed, y.Bed), cmp.Compare(x.Key, y.Key))
	})
}

// naturally compares bed names by their numbers, so that 10 comes after 9 and
// A10 after A9.
func naturally(a, b string) int {
	for a != "" && b != "" {
		x, y := leadingDigits(a), leadingDigits(b)
		if x == "" || y == "" {
			if a[0] != b[0] {
				return cmp.Compare(a, b)
			}
			a, b = a[1:], b[1:]
			continue
		}
		a, b = a[len(x):], b[len(y):]
		x, y = strings.TrimLeft(x, "0"), strings.TrimLeft(y, "0")
		if c := cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y)); c != 0 {
			return c
		}
	}
	return cmp.Compare(a, b)
}

func leadingDigits(s string) string {
	for i, r := range s {
		if r < '0' || r > '9' {
			return s[:i]
		}
	}
	return s
}
