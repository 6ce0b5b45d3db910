package chart

// Chart is anything that can be drawn at both sizes.
type Chart interface{ Draw(Size) Drawing }

// About names a chart. Title and Desc are read out where a chart is in a page;
// Title is written above it in a file.
type About struct {
	ID    string // unique on its page: letters, digits and hyphens
	Title string // what the chart shows
	Desc  string // what can be read from it, for who does not see it
}

// Size is the paper a chart is drawn on.
type Size uint8

const (
	Wide   Size = iota // for a desk: 720 units, shown at about as many pixels
	Narrow             // for a phone: 320 units with larger type
)

// Axis is what a length along an axis means. Every axis of values has zero on it.
type Axis struct {
	Label   string
	Share   bool   // values are shares, 0 to 1, written as percentages
	Decimal string // what stands between whole and parts; empty: a point
}

// Line is a straight line across a chart with its name; without a name it is
// not drawn.
type Line struct {
	Name string
	At   float64
}

// sheet is how a size is laid out, in units of the drawing.
type sheet struct {
	name   string
	width  float64
	plot   float64 // height of the plotting area
	gutter float64 // most that names beside the plot may take
	kind   float64 // size of type
}

// In the narrow form a page 320 pixels wide, with its margins and a frame,
// still shows the type at 12 pixels or more.
var sheets = [...]sheet{
	Wide:   {name: "wide", width: 720, plot: 300, gutter: 190, kind: 14},
	Narrow: {name: "narrow", width: 320, plot: 230, gutter: 104, kind: 15},
}

// line is the height of a line of type.
func (s sheet) line() float64 { return s.kind * 1.25 }
