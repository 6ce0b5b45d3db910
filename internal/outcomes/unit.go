package outcomes

import (
	"fmt"

	"dwellbook/internal/line"
)

// Unit is what counts as one trial of an operator.
type Unit int

// The units.
const (
	// PerOccasion counts each occasion once, by its first attempt. An occasion that
	// another person began is no trial of this operator's; nor is one whose attempts
	// nobody counted (Of is 0), since no attempt of it is known to be the first.
	PerOccasion Unit = iota
	PerAttempt       // counts every attempt
)

// ParseUnit reads a unit; empty is PerOccasion.
func ParseUnit(text string) (Unit, error) {
	switch text {
	case "", "occasion":
		return PerOccasion, nil
	case "attempt":
		return PerAttempt, nil
	}
	return 0, fmt.Errorf("%q is no unit", text)
}

// String is the unit's word.
func (u Unit) String() string { return [...]string{"occasion", "attempt"}[u] }

// Word is the key of the catalogue under which one trial is named.
func (u Unit) Word() string { return "trial." + u.String() }

// Plural names several trials.
func (u Unit) Plural() line.Message { return line.Say(u.Word() + "s") }

func (u Unit) of(tried []line.Tried) []line.Tried {
	if u == PerAttempt {
		return tried
	}
	var first []line.Tried
	for _, t := range tried {
		if t.No == 1 && t.Of > 0 {
			first = append(first, t)
		}
	}
	return first
}
