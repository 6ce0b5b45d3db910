package audit_test

import (
	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// dressingClerk: each dressing is changed by its age limit, or sooner where a
// look found it loose, damp, soiled or lifted.
type dressingClerk struct {
	*bedside
	in         bool
	due, limit line.Minute // of the dressing on now, whoever has the line
	opened     line.Minute
	duty       *owed
}

func (c *dressingClerk) tick() {}
func (c *dressingClerk) gone() { c.stop(false) }

func (c *dressingClerk) stop(met bool) {
	if c.duty != nil {
		c.end(c.duty, met)
		c.duty = nil
	}
}

// show opens the duty, or moves its due moment. A due moment passed while no
// ward had the line is due as one has it again; it is missed after twice the
// allowance from its cause all the same.
func (c *dressingClerk) show(held bool) {
	if !held {
		return
	}
	if c.duty == nil {
		c.opened = c.now
		c.duty = c.open(audit.DressingOverdue, line.Far, line.Far)
	}
	c.duty.due, c.duty.limit = max(c.due, c.opened), max(c.limit, c.opened)
}

func (c *dressingClerk) cause(allowance line.Minute) {
	if due := c.now + allowance; due < c.due {
		c.due, c.limit = due, due+allowance
	}
}

func (c *dressingClerk) put(m line.Material) {
	c.due = line.Far
	if m == line.Gauze || m == line.OtherDressing {
		c.cause(2 * day)
	} else {
		c.cause(7 * day)
	}
}

func (c *dressingClerk) hear(h happening) {
	switch h.Kind {
	case line.KindOccasion:
		c.in = true
		c.put(h.Material)
		c.show(c.held)
	case line.KindAdmission, line.KindTransfer:
		if c.in {
			c.show(true)
		}
	case line.KindDressing:
		c.stop(true)
		c.put(h.Material)
		c.show(c.held)
	case line.KindReview:
		if h.States.Any(line.Loose, line.Damp, line.Soiled) && c.held {
			c.cause(c.nextBoundary(c.wardAt(c.now), c.now) - c.now)
		}
		if h.States.Has(line.Lifted) {
			c.cause(60)
		}
		c.show(c.held)
	case line.KindDischarge:
		if !c.outNow() {
			c.stop(false)
		}
	case line.KindRemoval:
		c.in = false
		if c.duty != nil {
			c.withdraw(c.duty, true)
			c.duty = nil
		}
	}
}
