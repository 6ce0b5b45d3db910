package chart

// Stacked shows how a whole is shared over hours, such as what ended the lines
// and which are still in: areas one on another, up to nine.
type Stacked struct {
	About
	Hours  string // label of the axis of hours
	Share  string // label of the axis of shares
	At     []float64
	Layers []Layer // from the bottom up
}

// Layer is one part of the whole.
type Layer struct {
	Name   string
	Shares []float64 // 0 to 1, one for each of Stacked.At
	Blank  bool      // left as paper, such as what is still in
}
