package outcomes

import "dwellbook/internal/line"

// Supervised is the way to independent practice.
type Supervised struct {
	Successes int // occasions with a supervisor in which the operator succeeded
	Asked     int // as the hospital sets; 0: it asks for none
	// At is the placement that made up the number; 0 before that.
	At line.Minute
}

// Left is how many successes are still asked for.
func (s Supervised) Left() int { return max(0, s.Asked-s.Successes) }

// Supervised counts towards the number of supervised successes that a hospital
// asks for.
func (r *Record) Supervised(asked int) Supervised {
	s := Supervised{Asked: asked}
	for _, t := range r.Tried { // an occasion ends with its first success
		if !t.Supervised || t.Failed {
			continue
		}
		if s.Successes++; s.Successes == asked {
			s.At = t.At
		}
	}
	return s
}
