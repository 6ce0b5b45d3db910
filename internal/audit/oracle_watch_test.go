package audit_test

import (
	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// watchClerk: for 48 h after removal for phlebitis, extravasation or suspected
// infection, a site-check in each shift.
type watchClerk struct {
	*bedside
	on            bool
	waits         bool // for a ward to have the patient
	removed       line.Minute
	start, ownEnd line.Minute
	unused        line.Minute // the first check that counts in the shift under way; Far: none
	duty          *owed
	// Choice, the definition is open: the grace of a shift that ended outlasts
	// a discharge in it, as it does for reviews.
	graced *owed
}

func (c *watchClerk) gone() {}

func (c *watchClerk) begin() {
	c.on, c.start, c.unused = true, c.now, line.Far
	c.ownEnd = c.nextBoundary(c.wardAt(c.now), c.now)
}

func (c *watchClerk) close() {
	c.on = false
	c.stop(false)
}

func (c *watchClerk) stop(met bool) {
	if c.duty != nil {
		c.end(c.duty, met)
		c.duty = nil
	}
}

func (c *watchClerk) holder(t line.Minute) line.Key {
	for _, s := range c.history.Stays {
		if s.Holds(t) {
			return s.Ward
		}
	}
	return 0
}

func (c *watchClerk) tick() {
	if !c.on {
		return
	}
	ward := c.holder(c.now)
	if ward == 0 {
		ward = c.wardAt(c.now - 1)
	}
	over := c.removed + 2*day
	if c.now > c.start && c.now <= over && (c.now == c.ownEnd || c.bounds[ward][c.now]) {
		if c.now-c.start >= 120 {
			c.stop(false)
			o := c.open(audit.WatchAfterRemoval, c.now, line.Far)
			o.ward = ward
			if c.unused != line.Far {
				o.how, o.ended = "met-in-time", c.unused
			} else {
				c.duty = o
			}
			c.unused = line.Far
		}
		c.start, c.ownEnd = c.now, c.nextBoundary(ward, c.now)
	}
	// Choice, the definition is open: the last shift's look may still come in its grace.
	if c.now >= over && (c.duty == nil || c.now >= c.duty.due+30) {
		c.close()
	}
}

func (c *watchClerk) hear(h happening) {
	switch h.Kind {
	case line.KindRemoval:
		if h.Reason != line.Phlebitis && h.Reason != line.Extravasation && h.Reason != line.InfectionSuspected {
			return
		}
		c.removed, c.waits = c.now, !c.held
		if c.held {
			c.begin()
		}
	case line.KindAdmission, line.KindTransfer:
		// Choice, the definition is open: removed while no ward had the patient,
		// the site is watched from the admission, as a line already in.
		if c.waits {
			c.waits = false
			c.begin()
		}
	case line.KindSiteCheck:
		switch {
		case c.graced != nil && c.now < c.graced.due+30:
			c.graced.how, c.graced.ended = "met-in-time", c.now
			c.graced = nil
		case !c.on:
		case c.duty != nil && c.now < c.duty.due+30: // the grace, as for reviews: it meets that shift alone
			c.duty.how, c.duty.ended = "met-in-time", c.now
			c.duty = nil
		default:
			c.stop(true)
			c.unused = min(c.unused, c.now)
		}
	case line.KindDischarge:
		if c.on {
			c.graced = c.duty
			c.close()
		}
	}
}
