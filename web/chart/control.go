package chart

// Control is a control chart: values in their order, about a centre, within
// limits. It also draws days between events (a g chart) and cumulative sums.
type Control struct {
	About
	Order  string // label of the axis along which points stand, such as "month"
	Values Axis   // from zero, and below it only where values or limits are
	Points []ControlPoint
	Centre string // name of the centre line, beside its end; empty: unnamed
	Upper  string // name of the upper limit
	Lower  string // name of the lower limit
}

// ControlPoint is one value in its turn.
type ControlPoint struct {
	Label        string  // such as "Mar" or "17"; every so many are written as there is room
	Value        float64 // NaN: a gap
	Centre       float64 // NaN: none
	Lower, Upper float64 // NaN: none; they may step from point to point
	Signal       string  // the rule that marks a special cause, in few words; empty: none
	Reset        bool    // the sum starts anew after this point: the line breaks
}
