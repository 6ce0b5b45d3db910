package audit_test

import (
	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// needClerk: whether the line is needed is recorded within 24 h of the last
// time; placement and admission count.
type needClerk struct {
	*bedside
	in   bool
	duty *owed
	late *owed // overdue when the patient was admitted anew, which restarts the clock and meets nothing
}

func (c *needClerk) gone() { c.stop(false) }

func (c *needClerk) tick() {
	if c.late != nil && c.duty.due == c.now {
		c.end(c.late, false)
		c.late = nil
	}
}

func (c *needClerk) start() { c.duty = c.open(audit.NeedDaily, c.now+day, line.Far) }

func (c *needClerk) stop(met bool) {
	for _, o := range []*owed{c.late, c.duty} {
		if o != nil {
			c.end(o, met)
		}
	}
	c.late, c.duty = nil, nil
}

func (c *needClerk) restart() {
	switch {
	case c.duty == nil:
	case c.now < c.duty.due:
		c.drop(c.duty)
	default:
		c.late = c.duty
	}
	c.start()
}

func (c *needClerk) hear(h happening) {
	switch h.Kind {
	case line.KindOccasion:
		c.in = true
		if c.held {
			c.start()
		}
	case line.KindAdmission, line.KindTransfer:
		if c.in && (!c.held || h.Kind == line.KindAdmission) {
			c.restart()
		}
	case line.KindReview:
		// Choice, the definition is open: a review in the minute in which the
		// clock started is of that start, and no duty of no length is made.
		if c.duty != nil && h.Needed != 0 && c.duty.due != c.now+day {
			c.stop(true)
			c.start()
		}
	case line.KindDischarge:
		if !c.outNow() {
			c.stop(false)
		}
	case line.KindRemoval:
		c.in = false
		if c.duty == nil {
			return
		}
		if c.late != nil {
			c.end(c.late, true)
		}
		c.withdraw(c.duty, true)
		c.late, c.duty = nil, nil
	}
}

// dwellClerk: in an adult, at 96 h and every 24 h from then, a review in the
// 24 h before has said whether the line is needed.
type dwellClerk struct {
	*bedside
	in       bool
	answered []line.Minute // reviews that said so
	duty     *owed
}

func (c *dwellClerk) stop(met bool) {
	if c.duty != nil {
		c.end(c.duty, met)
		c.duty = nil
	}
}

func (c *dwellClerk) gone() { c.stop(false) }

// tick opens the check that falls due in this minute.
func (c *dwellClerk) tick() {
	age := c.now - c.line.Placed
	if !c.in || c.line.Placement.Precision == line.ToDay || age < 4*day || age%day != 0 {
		return
	}
	adult := c.adult()
	held := c.held
	for _, s := range c.history.Stays {
		held = held || s.From == c.now // admitted in this minute
	}
	if !adult || !held {
		return
	}
	c.stop(false)
	check := c.open(audit.DwellCheck, c.now, line.Far)
	for _, r := range c.answered {
		if r >= c.now-day && r < c.now {
			check.how, check.ended = "met-in-time", r
			return
		}
	}
	c.duty = check
}

// adult is the age in this minute.
func (c *dwellClerk) adult() bool {
	group := line.Adult
	for _, g := range c.history.Groups {
		if g.At <= c.now {
			group = g.Group
		}
	}
	return group == line.Adult
}

func (c *dwellClerk) hear(h happening) {
	switch h.Kind {
	case line.KindOccasion:
		c.in = true
	case line.KindReview:
		if h.Needed != 0 {
			c.answered = append(c.answered, c.now)
			c.stop(true)
		}
	case line.KindFacts:
		if !c.adult() { // choice, the definition is open: one overdue ends unmet
			c.stop(false)
		}
	case line.KindDischarge:
		if !c.outNow() {
			c.stop(false)
		}
	case line.KindRemoval:
		c.in = false
		c.stop(true)
	}
}
