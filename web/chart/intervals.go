package chart

// Intervals compares groups by a figure and its interval: a row a group.
type Intervals struct {
	About
	Axis      Axis // shared; from zero
	Rows      []Interval
	Reference Line // such as the hospital's figure
}

// Interval is one group's row.
type Interval struct {
	Name   string
	Point  float64 // NaN: none, the row says so in Figure
	Low    float64 // NaN with High: no interval
	High   float64 // +Inf: open, drawn as an arrow
	N      string  // such as "412 lines"
	Figure string  // such as "24 % (20 to 29)"
}
