package flow

// bound is which end of an answer's range is worked out.
type bound uint8

const (
	lower bound = iota
	nominal
	upper
)

// spread is a value for each bound: what makes the flow least, the likely, and
// what makes it most.
type spread [3]float64

// about is a value that may be off by a share of it.
func about(value, share float64) spread {
	return spread{value * (1 - share), value, value * (1 + share)}
}

// hagenbach is the coefficient m of the kinetic term: 1.00 for the energy that
// leaves a tube alone, 1.12 to 1.17 with what developing the profile costs,
// half of 1 + 1.25 to 1.33 (from memory).
var hagenbach = spread{1.17, 1.12, 1.00}
