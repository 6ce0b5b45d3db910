package audit

import (
	"cmp"
	"fmt"
	"time"

	"dwellbook/internal/line"
)

// By says how counts are grouped. Every count is of one rule in any case.
type By uint8

// The groupings.
const (
	ByRule    By = iota // by nothing else
	ByWard              //
	ByShift             // by the shift's times of day
	ByWeekday           //
	ByCell              // by each single shift of each ward
)

var byNames = [...]string{"rule", "ward", "shift", "weekday"}

// ParseBy reads a grouping's name in commands; ByCell has none.
func ParseBy(name string) (By, error) {
	for by, n := range byNames {
		if n == name {
			return By(by), nil
		}
	}
	return 0, fmt.Errorf("%q is no grouping", name)
}

// String is the name in commands.
func (b By) String() string {
	if int(b) < len(byNames) {
		return byNames[b]
	}
	return "cell"
}

// Slot is one group of a grouping; of its fields only the grouping's are set.
type Slot struct {
	Ward    line.Key    // ByWard, ByCell
	Shift   ShiftName   // ByShift
	Weekday int         // ByWeekday: 1 for Monday to 7 for Sunday (ISO 8601)
	From    line.Minute // ByCell: when the shift starts
}

// Compare orders slots: wards by key, shifts and days by time.
func (s Slot) Compare(o Slot) int {
	return cmp.Or(cmp.Compare(s.Ward, o.Ward), cmp.Compare(s.From, o.From), cmp.Compare(s.Weekday, o.Weekday),
		cmp.Compare(s.Shift.From, o.Shift.From), cmp.Compare(s.Shift.Until, o.Shift.Until))
}

// ShiftName is a shift by its times of day on the ward's clock.
type ShiftName struct{ From, Until line.ShiftTime }

// String is such as "07:30-19:30".
func (n ShiftName) String() string {
	return fmt.Sprintf("%02d:%02d-%02d:%02d", n.From/60, n.From%60, n.Until/60, n.Until%60)
}

// Night reports whether the shift starts in the evening or before the early morning.
func (n ShiftName) Night() bool { return n.From >= eveningFrom || n.From < morningUntil }

// slotOf is where a duty counts: with the shift whose look it asks for, and
// the day on which that shift starts, else with those of its due minute.
func (t *Tally) slotOf(d *Duty) Slot {
	switch t.ask.By {
	case ByRule:
		return Slot{}
	case ByWard:
		return Slot{Ward: d.Ward}
	}
	at := d.CountedAt()
	if d.kind == ofShift && t.ask.By == ByWeekday {
		at = t.calendar(d.Ward).shift(at).From
	}
	slot, _ := t.slotAt(d.Ward, at)
	return slot
}

// CountedAt is a minute of the shift in which a duty counts: that whose look it
// asks for, else that of its due minute.
func (d *Duty) CountedAt() line.Minute {
	if d.kind == ofShift {
		return d.Due - 1
	}
	return d.Due
}

// slotAt is where a minute counts, and until when it is the same.
func (t *Tally) slotAt(ward line.Key, at line.Minute) (slot Slot, until line.Minute) {
	switch t.ask.By {
	case ByRule:
		return Slot{}, line.Far
	case ByWard:
		return Slot{Ward: ward}, line.Far
	case ByWeekday:
		return t.weekday(ward, at)
	}
	c := t.calendar(ward)
	shift := c.shift(at)
	if t.ask.By == ByCell {
		return Slot{Ward: ward, From: shift.From}, shift.Until
	}
	return Slot{Shift: c.name(shift)}, shift.Until
}

func (t *Tally) weekday(ward line.Key, at line.Minute) (Slot, line.Minute) {
	c := t.calendar(ward)
	span := c.span(at)
	days := c.clock.wall(at) / day
	if c.clock.wall(at) < days*day {
		days--
	}
	until := min(c.clock.moment((days+1)*day), span.Until)
	return Slot{Weekday: isoWeekday(time.Unix(int64(days)*24*60*60, 0).UTC().Weekday())}, until
}

func isoWeekday(d time.Weekday) int { return int(d+6)%7 + 1 }

func (t *Tally) calendar(ward line.Key) *calendar {
	c := t.calendars[ward]
	if c == nil {
		made := newCalendar(t.book, ward)
		c = &made
		t.calendars[ward] = c
	}
	return c
}

// name is the shift's, by the shift times in force when it starts: that of the
// last at or before its start, and of the one after it.
func (c *calendar) name(shift line.Stretch) ShiftName {
	span := c.span(shift.From)
	start := line.ShiftTime(mod(c.clock.wall(shift.From), day))
	i := len(span.shifts) - 1 // before the first of the day: the last of the day before
	for k, t := range span.shifts {
		if t <= start {
			i = k
		}
	}
	return ShiftName{span.shifts[i], span.shifts[(i+1)%len(span.shifts)]}
}

// ShiftName is the name of the ward's shift that holds the moment.
func (b *Rulebook) ShiftName(ward line.Key, at line.Minute) ShiftName {
	c := newCalendar(b, ward)
	return c.name(c.shift(at))
}
