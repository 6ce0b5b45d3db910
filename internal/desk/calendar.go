package desk

import (
	"cmp"
	"context"
	"slices"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// CalendarQuestion asks for one ward's month.
type CalendarQuestion struct {
	Ward  line.ID
	Month time.Time // any moment of it, on the calendar's face; zero: the month now
	Rule  line.Rule // whose duties are counted; empty: looks
	Shift line.Minute
	Known
}

// Calendar is one ward's month: the shifts across, the days on which they
// start, by the ward's clock, down.
type Calendar struct {
	Ward   Ward
	Wards  []Ward    // that can be chosen
	Month  time.Time // its first day
	Rule   line.Rule
	At     line.Minute
	Known  Known
	Policy *audit.Policy // in force at the end of the month, or now
	Shifts []audit.ShiftName
	Days   []CalendarDay
	Totals []ShiftSum   // by column
	Opened *OpenedShift // nil: none was asked for, or the month has no such shift
}

// CalendarDay is one day.
type CalendarDay struct {
	Date  time.Time
	Cells [][]ShiftCell // by column; none where no such shift starts that day, two where the times changed in it
}

// Weekend reports whether the day is a Saturday or a Sunday.
func (d CalendarDay) Weekend() bool {
	return d.Date.Weekday() == time.Saturday || d.Date.Weekday() == time.Sunday
}

// ShiftCell is one shift with its duties.
type ShiftCell struct {
	line.Stretch
	Name audit.ShiftName
	ShiftSum
}

// ShiftSum is how duties stand. Without any (Asked is 0) nothing can be said of a shift.
type ShiftSum struct {
	MetInTime, Ended, Open, Accepted, NotSeen int // Ended: met in time, late or missed
}

// Asked is how many duties there were, those answered and not seen among them.
func (s ShiftSum) Asked() int { return s.Ended + s.Open + s.Accepted + s.NotSeen }

// Share is the share met in time of those that came to an end; ok is false where none did.
func (s ShiftSum) Share() (share float64, ok bool) {
	if s.Ended == 0 {
		return 0, false
	}
	return float64(s.MetInTime) / float64(s.Ended), true
}

func (s *ShiftSum) add(o ShiftSum) {
	s.MetInTime += o.MetInTime
	s.Ended += o.Ended
	s.Open += o.Open
	s.Accepted += o.Accepted
	s.NotSeen += o.NotSeen
}

// OpenedShift is one shift with each of its duties.
type OpenedShift struct {
	ShiftCell
	Date   time.Time
	Duties []ShiftDuty // those not met in time first
}

// ShiftDuty is one duty with its line.
type ShiftDuty struct {
	audit.Duty
	Current line.Current
}

// Calendar answers for one ward's month.
func (d *Desk) Calendar(ctx context.Context, who Person, q CalendarQuestion) (*Calendar, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	w, ok := h.Ward(q.Ward)
	if !ok {
		return nil, fault.New(fault.NotFound, "fault.no-such-ward")
	}
	l, err := d.through(ctx, h, q.Known, nil)
	if err != nil {
		return nil, err
	}
	c := &Calendar{Ward: w, Wards: h.Wards, Rule: cmp.Or(q.Rule, audit.ReviewOverdue), At: d.Now(), Known: l.known}
	month := q.Month
	if month.IsZero() {
		month = c.At.Time().In(w.Location)
	}
	c.Month = time.Date(month.Year(), month.Month(), 1, 0, 0, 0, 0, time.UTC)
	cells := c.layOut(l.book)
	c.Policy = l.book.PolicyAt(min(cells.Until-1, c.At))
	var opened []audit.Duty
	// A look due when the last shift ends counts in that shift.
	counting := audit.Counting{Period: line.Stretch{From: cells.From, Until: cells.Until + 1}, By: audit.ByCell, Ward: w.Key}
	tally := audit.NewTally(l.book, counting)
	err = d.eachOf(ctx, l, w.Key, counting.Period, func(_ line.Key, marks []line.Mark) error {
		a := audit.AssessDuties(l.book, marks, c.At)
		tally.Add(&a)
		if q.Shift != 0 {
			opened = c.dutiesOf(opened, l.book, &a, q.Shift)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	c.fill(tally.Counts())
	return c, d.open(ctx, c, q.Shift, opened)
}

// layOut makes the empty days and columns, and gives the stretch from the
// first shift's start to the last one's end.
func (c *Calendar) layOut(book *audit.Rulebook) line.Stretch {
	month := MonthPeriod(c.Month, c.Ward.Location)
	shift := book.ShiftAt(c.Ward.Key, month.From)
	if shift.From < month.From {
		shift = book.ShiftAt(c.Ward.Key, shift.Until)
	}
	all := line.Stretch{From: shift.From}
	var cells []ShiftCell
	for ; shift.From < month.Until; shift = book.ShiftAt(c.Ward.Key, shift.Until) {
		cell := ShiftCell{Stretch: shift, Name: book.ShiftName(c.Ward.Key, shift.From)}
		if !slices.Contains(c.Shifts, cell.Name) {
			c.Shifts = append(c.Shifts, cell.Name)
		}
		cells = append(cells, cell)
		all.Until = shift.Until
	}
	slices.SortFunc(c.Shifts, func(a, b audit.ShiftName) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.Until, b.Until))
	})
	c.Totals = make([]ShiftSum, len(c.Shifts))
	for day := c.Month; day.Month() == c.Month.Month(); day = day.AddDate(0, 0, 1) {
		c.Days = append(c.Days, CalendarDay{Date: day, Cells: make([][]ShiftCell, len(c.Shifts))})
	}
	for _, cell := range cells {
		day := &c.Days[cell.From.Time().In(c.Ward.Location).Day()-1]
		column := slices.Index(c.Shifts, cell.Name)
		day.Cells[column] = append(day.Cells[column], cell)
	}
	return all
}

// fill puts the counts into the cells. What counts in a shift outside the
// month finds no cell.
func (c *Calendar) fill(counts []audit.Count) {
	sums := map[line.Minute]ShiftSum{}
	for i := range counts {
		if n := &counts[i]; n.Rule == c.Rule {
			sums[n.From] = ShiftSum{n.MetInTime, n.Decided(), n.Open, n.Accepted, n.NotSeen}
		}
	}
	for _, day := range c.Days {
		for column := range day.Cells {
			for i := range day.Cells[column] {
				cell := &day.Cells[column][i]
				cell.ShiftSum = sums[cell.From]
				c.Totals[column].add(cell.ShiftSum)
			}
		}
	}
}

// dutiesOf adds one patient's duties that count in the shift that starts at from.
func (c *Calendar) dutiesOf(list []audit.Duty, book *audit.Rulebook, a *audit.Assessment, from line.Minute) []audit.Duty {
	for i := range a.Duties {
		d := &a.Duties[i]
		if d.Rule == c.Rule && d.Ward == c.Ward.Key && d.Due <= a.At && book.ShiftAt(d.Ward, d.CountedAt()).From == from {
			list = append(list, *d)
		}
	}
	return list
}

// open shows the duties of the shift that starts at from, if the month has it.
func (d *Desk) open(ctx context.Context, c *Calendar, from line.Minute, duties []audit.Duty) error {
	for _, day := range c.Days {
		for _, column := range day.Cells {
			for _, cell := range column {
				if from != 0 && cell.From == from {
					c.Opened = &OpenedShift{ShiftCell: cell, Date: day.Date}
				}
			}
		}
	}
	if c.Opened == nil || len(duties) == 0 {
		return nil
	}
	lines, err := linesOf(ctx, d, duties, func(d audit.Duty) line.Key { return d.Line })
	if err != nil {
		return err
	}
	for i := range duties {
		c.Opened.Duties = append(c.Opened.Duties, ShiftDuty{duties[i], lines[duties[i].Line]})
	}
	rank := func(x *ShiftDuty) int { // what nobody did first
		return slices.Index([]audit.How{audit.Open, audit.Missed, audit.MetLate, audit.Accepted, audit.NotSeen, audit.MetInTime}, x.How)
	}
	slices.SortStableFunc(c.Opened.Duties, func(x, y ShiftDuty) int {
		return cmp.Or(cmp.Compare(rank(&x), rank(&y)), cmp.Compare(x.Due, y.Due), cmp.Compare(x.Line, y.Line))
	})
	return nil
}
