package chart

// Funnel shows units by their size and their rate, within limits that narrow as
// size grows (Spiegelhalter 2005, Statistics in Medicine).
type Funnel struct {
	About
	Size   Axis // denominators, from zero
	Rate   Axis
	Units  []Unit
	Centre Line
	Limits []FunnelLimit // such as 95 % and 99.8 %, inner first
}

// Unit is one unit, such as a ward.
type Unit struct {
	Name    string
	Size    float64
	Rate    float64
	Outside bool // outside the limits: marked and named
}

// FunnelLimit is a pair of curves, given densely.
type FunnelLimit struct {
	Name   string
	Points []LimitPoint // by size
}

// LimitPoint is how far a rate may be from the centre at a size.
type LimitPoint struct{ Size, Low, High float64 }
