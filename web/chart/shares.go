package chart

// Shares is one bar cut into parts of a whole, such as where the pressure goes
// between bag and vein.
type Shares struct {
	About
	Parts []Part // from the left
}

// Part is one piece of the bar.
type Part struct {
	Name   string
	Value  float64 // not negative; the whole is the sum
	Figure string  // such as "38 %"
}
