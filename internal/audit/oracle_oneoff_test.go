package audit_test

import (
	"dwellbook/internal/line"

	"dwellbook/internal/audit"
)

// once keeps a one-off duty: no second while it is open, a further cause only
// brings it forward.
type once struct{ duty *owed }

func (c *once) cause(b *bedside, rule line.Rule, allowance line.Minute) {
	due, limit := b.now+allowance, b.now+2*allowance
	if allowance == 0 {
		limit = b.now + b.shiftLength(b.now)
	}
	if c.duty == nil {
		c.duty = b.open(rule, due, limit)
	} else if due < c.duty.due {
		c.duty.due, c.duty.limit = due, limit
	} else {
		return
	}
	c.duty.atOnce = allowance == 0
}

func (c *once) end(b *bedside, met bool) {
	if c.duty != nil {
		b.end(c.duty, met)
		c.duty = nil
	}
}

// notNeededClerk: removal within 2 h of a review that says not needed.
type notNeededClerk struct {
	*bedside
	once
}

func (c *notNeededClerk) tick() {}
func (c *notNeededClerk) gone() { c.once.end(c.bedside, false) }
func (c *notNeededClerk) hear(h happening) {
	switch {
	case h.Kind == line.KindReview && h.Needed == line.No:
		c.cause(c.bedside, audit.RemoveNotNeeded, 120)
	case h.Kind == line.KindReview && h.Needed == line.Yes && c.duty != nil:
		c.withdraw(c.duty, true)
		c.duty = nil
	case h.Kind == line.KindRemoval:
		c.once.end(c.bedside, true)
	}
}

// scored is the score given, else that of the signs, row by row as the
// definitions have them.
func scored(m line.Mark) int {
	if !m.Flags.Has(line.ScoreFromSigns) {
		return int(m.Score)
	}
	s := m.Signs
	two := 0
	for _, sign := range []line.Sign{line.Pain, line.Redness, line.Swelling} {
		if s.Has(sign) {
			two++
		}
	}
	three := s.Has(line.Pain) && s.Has(line.Redness) && s.Has(line.Induration)
	switch {
	case three && s.Has(line.Cord) && s.Has(line.Fever):
		return 5
	case three && s.Has(line.Cord):
		return 4
	case three:
		return 3
	case two >= 2 || s.Has(line.Pus) || s.Has(line.Cord):
		return 2
	case two == 1 || s.Has(line.Induration):
		return 1
	}
	return 0
}

// phlebitisClerk: removal within 1 h of a score of 2 or more.
type phlebitisClerk struct {
	*bedside
	once
}

func (c *phlebitisClerk) tick() {}
func (c *phlebitisClerk) gone() { c.once.end(c.bedside, false) }
func (c *phlebitisClerk) hear(h happening) {
	if h.Kind == line.KindReview && scored(h.Mark) >= 2 {
		c.cause(c.bedside, audit.ActOnPhlebitis, 60)
	}
	if h.Kind == line.KindRemoval {
		c.once.end(c.bedside, true)
	}
}

// complicationClerk: removal within 1 h of a sign of trouble, at once where
// extravasation is suspected.
type complicationClerk struct {
	*bedside
	once
}

func (c *complicationClerk) tick() {}
func (c *complicationClerk) gone() { c.once.end(c.bedside, false) }
func (c *complicationClerk) hear(h happening) {
	if h.Kind == line.KindReview {
		s := h.Signs
		switch {
		case s.Has(line.ExtravasationSuspected):
			c.cause(c.bedside, audit.ActOnComplication, 0)
		case s.Has(line.Swelling) && scored(h.Mark) < 2, s.Has(line.SiteLeak), s.Has(line.CoolOrBlanched), s.Has(line.Pus), h.Flush == line.FlushNone:
			c.cause(c.bedside, audit.ActOnComplication, 60)
		}
	}
	if h.Kind == line.KindRemoval {
		c.once.end(c.bedside, true)
	}
}

// dischargeClerk: at discharge each line that is in is out at once, or left
// in on purpose.
type dischargeClerk struct {
	*bedside
	once
	in bool
}

func (c *dischargeClerk) tick() {}
func (c *dischargeClerk) gone() { c.once.end(c.bedside, false) }
func (c *dischargeClerk) hear(h happening) {
	switch h.Kind {
	case line.KindOccasion:
		c.in = true
	case line.KindDischarge:
		if c.in && !h.leftIn {
			c.cause(c.bedside, audit.LeftAfterDischarge, 0)
		}
	case line.KindRemoval:
		c.in = false
		c.once.end(c.bedside, true)
	}
}

// emergencyClerk: removal within 48 h of a placement without full asepsis.
type emergencyClerk struct {
	*bedside
	once
}

func (c *emergencyClerk) tick() {}
func (c *emergencyClerk) gone() { c.once.end(c.bedside, false) }
func (c *emergencyClerk) hear(h happening) {
	switch h.Kind {
	case line.KindOccasion:
		if h.Asepsis == line.AsepsisNotFull || h.PlacedBy == line.Ambulance && h.Asepsis == line.AsepsisNotKnown {
			c.cause(c.bedside, audit.ResiteAfterEmergency, 2*day)
		}
	case line.KindRemoval:
		c.once.end(c.bedside, true)
	}
}
