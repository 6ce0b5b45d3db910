package audit

import (
	"cmp"
	"slices"
	"time"

	"dwellbook/internal/line"
)

// Change is one change of the rulebook, in force from a moment: either a
// policy, or a ward's values. Seq, Known and Gone are sequence numbers of the
// record: of its place, of the entry that gave it, and of the one that replaced
// or withdrew it (0: it stands).
type Change struct {
	From   line.Minute
	Seq    int64 // keeps its place when corrected; 0: placed by Known
	Known  int64
	Gone   int64
	Policy *Policy
	Ward   line.Key
	Values WardValues
}

// WardValues are what one ward sets for itself.
type WardValues struct {
	Zone   *time.Location   // nil: UTC
	Shifts []line.ShiftTime // ascending; nil: the policy's
	Every  time.Duration    // over 0: a clock ward, looked at so often
}

// Rulebook is the timeline of policies and ward values. It is never changed
// once made, and any number of goroutines may read it.
type Rulebook struct {
	all      []Change // also those replaced or withdrawn since
	changes  []Change // those that count
	policies []policySpan
	wards    map[line.Key][]wardSpan
	unknown  []wardSpan // of a ward that the rulebook does not know
}

// policySpan is a stretch in which one policy is in force.
type policySpan struct {
	line.Stretch
	*Policy
}

// wardSpan is a stretch in which a ward's values and the policy stay the same.
type wardSpan struct {
	line.Stretch
	zone   *time.Location
	shifts []line.ShiftTime
	every  time.Duration // 0: looked at each shift
}

// NewRulebook makes the timeline from its changes, in any order, without those
// that are gone. Of changes in force from the same moment the one placed last
// holds. Before the first policy the default holds; before a ward's first
// values, those first values.
func NewRulebook(changes []Change) *Rulebook {
	return newRulebook(slices.Clone(changes), func(c Change) bool { return c.Gone == 0 })
}

// newRulebook makes the timeline from those of all changes that count.
func newRulebook(all []Change, counts func(Change) bool) *Rulebook {
	b := &Rulebook{all: all, wards: map[line.Key][]wardSpan{}}
	for _, c := range all {
		if counts(c) {
			b.changes = append(b.changes, c)
		}
	}
	slices.SortStableFunc(b.changes, func(x, y Change) int {
		return cmp.Or(cmp.Compare(x.From, y.From), cmp.Compare(x.Seq, y.Seq), cmp.Compare(x.Known, y.Known))
	})
	policies := timeline(b.changes, func(c Change) bool { return c.Policy != nil })
	b.policies = []policySpan{{line.Stretch{From: -line.Far, Until: line.Far}, DefaultPolicy()}}
	for _, c := range policies {
		last := &b.policies[len(b.policies)-1]
		last.Until = c.From
		b.policies = append(b.policies, policySpan{line.Stretch{From: c.From, Until: line.Far}, c.Policy})
	}
	b.unknown = b.spans(nil)
	for _, c := range b.changes {
		if _, done := b.wards[c.Ward]; c.Policy == nil && !done {
			ward := c.Ward
			b.wards[ward] = b.spans(timeline(b.changes, func(c Change) bool { return c.Policy == nil && c.Ward == ward }))
		}
	}
	return b
}

// timeline picks changes, the last known of each moment.
func timeline(changes []Change, which func(Change) bool) []Change {
	var picked []Change
	for _, c := range changes {
		if !which(c) {
			continue
		}
		if n := len(picked); n > 0 && picked[n-1].From == c.From {
			picked[n-1] = c
			continue
		}
		picked = append(picked, c)
	}
	return picked
}

// spans lays a ward's values over the policies.
func (b *Rulebook) spans(values []Change) []wardSpan {
	if len(values) == 0 {
		values = []Change{{}}
	}
	var spans []wardSpan
	for i, c := range values {
		held := line.Stretch{From: c.From, Until: line.Far}
		if i == 0 {
			held.From = -line.Far
		}
		if i+1 < len(values) {
			held.Until = values[i+1].From
		}
		for _, p := range b.policies {
			if both := clip(held, p.Stretch); both.From < both.Until {
				spans = append(spans, newWardSpan(both, c.Values, p.Policy))
			}
		}
	}
	return spans
}

func newWardSpan(held line.Stretch, v WardValues, p *Policy) wardSpan {
	s := wardSpan{Stretch: held, zone: v.Zone, shifts: v.Shifts, every: v.Every}
	if s.zone == nil {
		s.zone = time.UTC
	}
	if s.every == 0 && s.shifts == nil {
		s.every = p.review.every
	}
	if len(s.shifts) == 0 {
		s.shifts = p.shifts
	}
	return s
}

func clip(a, b line.Stretch) line.Stretch {
	return line.Stretch{From: max(a.From, b.From), Until: min(a.Until, b.Until)}
}

// KnownAt is the rulebook as known once the entries up to seq were recorded:
// what was corrected after that counts as it was.
func (b *Rulebook) KnownAt(seq int64) *Rulebook {
	return newRulebook(b.all, func(c Change) bool { return c.Known <= seq && (c.Gone == 0 || c.Gone > seq) })
}

// WithPolicy is the rulebook with one policy for all time: a trial.
func (b *Rulebook) WithPolicy(p *Policy) *Rulebook {
	changes := slices.DeleteFunc(slices.Clone(b.changes), func(c Change) bool { return c.Policy != nil })
	return newRulebook(append(changes, Change{From: -line.Far, Policy: p}), func(Change) bool { return true })
}

// PolicyAt is the policy in force at the moment.
func (b *Rulebook) PolicyAt(at line.Minute) *Policy {
	for i := len(b.policies) - 1; i > 0; i-- {
		if b.policies[i].From <= at {
			return b.policies[i].Policy
		}
	}
	return b.policies[0].Policy
}

// InForce is a policy with the stretch in which it is in force.
type InForce struct {
	line.Stretch
	*Policy
}

// PoliciesIn are the policies in force at some time in a stretch, in order. The
// default before the first policy of all is one of them.
func (b *Rulebook) PoliciesIn(in line.Stretch) []InForce {
	var list []InForce
	for _, p := range b.policies {
		if both := clip(p.Stretch, in); both.From < both.Until {
			list = append(list, InForce(p))
		}
	}
	return list
}

// nextChange is the first change after a moment, Far where there is none.
func (b *Rulebook) nextChange(at line.Minute) line.Minute {
	for _, c := range b.changes {
		if c.From > at {
			return c.From
		}
	}
	return line.Far
}

func (b *Rulebook) spansOf(ward line.Key) []wardSpan {
	if spans, ok := b.wards[ward]; ok {
		return spans
	}
	return b.unknown
}

// Zone is the ward's zone as last set; UTC where the ward is not known.
func (b *Rulebook) Zone(ward line.Key) *time.Location {
	spans := b.spansOf(ward)
	return spans[len(spans)-1].zone
}

// ShiftAt is the ward's shift that holds the moment; clock wards have shifts too.
func (b *Rulebook) ShiftAt(ward line.Key, at line.Minute) line.Stretch {
	c := newCalendar(b, ward)
	return c.shift(at)
}

// A night shift starts in the evening or before the early morning, on the ward's clock.
const (
	eveningFrom  = 18 * 60
	morningUntil = 5 * 60
)

// Nights are the night shifts of a ward that touch the stretch, clipped to it:
// those that start at or after 18:00, or before 05:00.
func (b *Rulebook) Nights(ward line.Key, from, until line.Minute) []line.Stretch {
	var nights []line.Stretch
	c := newCalendar(b, ward)
	asked := line.Stretch{From: from, Until: until}
	for s := c.shift(from); s.From < until; s = (line.Stretch{From: s.Until, Until: c.after(s.Until)}) {
		if c.name(s).Night() {
			nights = append(nights, clip(s, asked))
		}
	}
	return nights
}
