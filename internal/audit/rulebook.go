package audit

import (
	"time"

	"dwellbook/internal/line"
)

// Change is one change of the rulebook, in force from a moment: a policy, or a
// ward's values. Known is its place in the record.
type Change struct {
	From   line.Minute
	Known  int64
	Policy *Policy
	Ward   line.Key
	Values WardValues
}

// WardValues are what one ward sets for itself.
type WardValues struct {
	Zone   *time.Location
	Shifts []line.ShiftTime // ascending; nil: the policy's
	Every  time.Duration    // over 0: a clock ward, looked at so often
}

// Rulebook is the timeline of policies and ward values. It is never changed.
type Rulebook struct{ changes []Change }

// NewRulebook makes the timeline from its changes, in any order.
func NewRulebook(changes []Change) *Rulebook { return &Rulebook{changes: changes} }

// KnownAt is the rulebook as known once the entries up to seq were recorded.
func (b *Rulebook) KnownAt(seq int64) *Rulebook { return b }

// WithPolicy is the rulebook with one policy for all time: a trial.
func (b *Rulebook) WithPolicy(p *Policy) *Rulebook { return b }

// PolicyAt is the policy in force.
func (b *Rulebook) PolicyAt(at line.Minute) *Policy { return nil }

// Zone is the ward's zone.
func (b *Rulebook) Zone(ward line.Key) *time.Location { return time.UTC }

// ShiftAt is the ward's shift that holds at.
func (b *Rulebook) ShiftAt(ward line.Key, at line.Minute) line.Stretch { return line.Stretch{} }

// Nights are the night shifts of the ward that touch the stretch, clipped to it.
func (b *Rulebook) Nights(ward line.Key, from, until line.Minute) []line.Stretch { return nil }
