package audit

import (
	"time"

	"dwellbook/internal/line"
)

const day line.Minute = 24 * 60

// clock is a ward's wall clock with its shift times. It remembers the stretch
// of one offset it last worked in, so it belongs to one goroutine.
type clock struct {
	zone   *time.Location
	shifts []line.ShiftTime
	period period
}

// period is a stretch in which the zone's offset from UTC stays the same.
type period struct {
	line.Stretch
	offset line.Minute
}

func periodAt(zone *time.Location, at line.Minute) period {
	t := at.Time().In(zone)
	_, seconds := t.Zone()
	p := period{line.Stretch{From: -line.Far, Until: line.Far}, line.Minute(seconds / 60)}
	from, until := t.ZoneBounds()
	if !from.IsZero() {
		p.From = line.MinuteOf(from)
	}
	if !until.IsZero() {
		p.Until = line.MinuteOf(until)
	}
	return p
}

// wall is what the clock shows at a moment, in minutes since 1970-01-01 00:00 on its face.
func (c *clock) wall(at line.Minute) line.Minute {
	if !c.period.Holds(at) {
		c.period = periodAt(c.zone, at)
	}
	return at + c.period.offset
}

// moment is when the clock shows wall: of two such moments the first; where
// the clock skips over it, the first moment after.
func (c *clock) moment(wall line.Minute) line.Minute {
	at := wall - c.period.offset
	if c.period.From+day <= at && at < c.period.Until-day {
		return at
	}
	for p := periodAt(c.zone, at-day); ; p = periodAt(c.zone, p.Until) {
		at = max(wall-p.offset, p.From)
		if at < p.Until {
			return at
		}
	}
}

// after is the first shift boundary after a moment.
func (c *clock) after(at line.Minute) line.Minute {
	wall := c.wall(at)
	for midnight := wall - mod(wall, day) - day; ; midnight += day {
		for _, t := range c.shifts {
			if b := c.moment(midnight + line.Minute(t)); b > at {
				return b
			}
		}
	}
}

// upTo is the last shift boundary at or before a moment.
func (c *clock) upTo(at line.Minute) line.Minute {
	wall := c.wall(at)
	for midnight := wall - mod(wall, day) + day; ; midnight -= day {
		for i := len(c.shifts) - 1; i >= 0; i-- {
			if b := c.moment(midnight + line.Minute(c.shifts[i])); b <= at {
				return b
			}
		}
	}
}

func mod(a, n line.Minute) line.Minute { return ((a % n) + n) % n }

// calendar is one ward's shift boundaries over the whole timeline.
type calendar struct {
	ward  line.Key
	spans []wardSpan
	at    int // the span that clock is of
	clock clock
}

func newCalendar(b *Rulebook, ward line.Key) calendar {
	c := calendar{ward: ward, spans: b.spansOf(ward)}
	c.turn(0)
	return c
}

func (c *calendar) turn(i int) *wardSpan {
	s := &c.spans[i]
	if c.clock.zone != s.zone {
		c.clock.period = period{}
	}
	c.at, c.clock.zone, c.clock.shifts = i, s.zone, s.shifts
	return s
}

// span is what holds of the ward at a moment.
func (c *calendar) span(at line.Minute) *wardSpan {
	if s := &c.spans[c.at]; s.Holds(at) {
		return s
	}
	for i := range c.spans {
		if c.spans[i].Holds(at) {
			return c.turn(i)
		}
	}
	return c.turn(len(c.spans) - 1)
}

// after is the first shift boundary after a moment, by the values in force at
// the boundary. What new values would have had between the moment and the
// change to them falls on the change.
func (c *calendar) after(at line.Minute) line.Minute {
	c.span(at)
	for {
		b, until := max(c.clock.after(at), c.spans[c.at].From), c.spans[c.at].Until
		if b < until || c.at+1 == len(c.spans) {
			return b
		}
		c.turn(c.at + 1)
	}
}

// shift is the shift that holds a moment.
func (c *calendar) shift(at line.Minute) line.Stretch {
	until := c.after(at)
	from := c.clockAt(at).upTo(at)
	for s := c.span(at); from < s.From; {
		change, ours := s.From, from
		s = c.span(change - 1)
		from = c.clock.upTo(change - 1)
		if from < ours {
			from = change // see after
			break
		}
	}
	return line.Stretch{From: from, Until: until}
}

func (c *calendar) clockAt(at line.Minute) *clock {
	c.span(at)
	return &c.clock
}
