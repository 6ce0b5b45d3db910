package chart

import "slices"

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
	Better       bool    // the special cause is for the better
	Reset        bool    // the sum starts anew after this point: the line breaks
}

// Draw draws the chart.
func (c Control) Draw(size Size) Drawing {
	const reach = 10
	d := newDrawing(c.About, size)
	s := d.sheet()
	var values span
	for _, q := range c.Points {
		values.take(q.Value, q.Centre, q.Lower, q.Upper)
	}
	lines := []controlLine{
		{c.Upper, func(q ControlPoint) float64 { return q.Upper }, pen{stroke: soft, width: 1.2, dash: []float64{5, 3}}},
		{c.Centre, func(q ControlPoint) float64 { return q.Centre }, pen{stroke: soft, width: 1.2}},
		{c.Lower, func(q ControlPoint) float64 { return q.Lower }, pen{stroke: soft, width: 1.2, dash: []float64{5, 3}}},
	}
	var blocks []*block
	for _, l := range lines {
		if last, ok := l.last(c.Points); ok && l.name != "" {
			blocks = append(blocks, &block{words: l.name, ink: soft, want: last})
		}
	}
	room := s.setNames(blocks, s.gutter-reach)
	if len(blocks) > 0 {
		room += reach
	}
	p := d.valueAxis(c.Values, values.ticks(6), room)
	step := (p.area.right - p.area.left) / float64(max(1, len(c.Points)))
	at := func(i int) float64 { return p.area.left + (float64(i)+0.5)*step }

	for _, l := range lines {
		p.add(path{class: "limit", runs: l.runs(p, c.Points, at, step), pen: l.pen})
	}
	for _, b := range blocks {
		b.want = p.y.at(b.want)
		b.from = point{p.area.right, b.want}
	}
	p.beside("name", blocks, reach)
	c.drawValues(p, lines, at, step)
	return d.done(c.order(p, at))
}

// controlLine is a line that every point has its own value of.
type controlLine struct {
	name string
	of   func(ControlPoint) float64
	pen  pen
}

func (l controlLine) last(points []ControlPoint) (v float64, ok bool) {
	for _, q := range slices.Backward(points) {
		if v := l.of(q); drawable(v) {
			return v, true
		}
	}
	return 0, false
}

// runs are the line's levels, each as wide as its point's place.
func (l controlLine) runs(p plot, points []ControlPoint, at func(int) float64, step float64) [][]point {
	var runs [][]point
	var run []point
	for i, q := range points {
		v := l.of(q)
		if !drawable(v) {
			if len(run) > 0 {
				runs = append(runs, run)
			}
			run = nil
			continue
		}
		y := p.y.at(v)
		if n := len(run); n > 0 && run[n-1].y == y {
			run[n-1].x = at(i) + step/2
		} else {
			run = append(run, point{at(i) - step/2, y}, point{at(i) + step/2, y})
		}
	}
	if len(run) > 0 {
		runs = append(runs, run)
	}
	return runs
}

// drawValues joins the points, marks them as far as they are not too many, and
// names what is marked as a special cause: once for points in a row that one
// rule marks.
func (c Control) drawValues(p plot, lines []controlLine, at func(int) float64, step float64) {
	var runs [][]point
	var run []point
	free := places{area: p.area}
	for i, q := range c.Points {
		if drawable(q.Value) {
			v := point{at(i), p.y.at(q.Value)}
			run = append(run, v)
			if q.Signal != "" {
				free.words = append(free.words, about(v, 6))
			}
		}
		if !drawable(q.Value) || q.Reset || i == len(c.Points)-1 {
			if len(run) > 0 {
				runs = append(runs, run)
			}
			run = nil
		}
	}
	free.keepOff(runs)
	for _, l := range lines {
		free.keepOff(l.runs(p, c.Points, at, step))
	}
	p.add(path{class: "values", runs: runs, pen: pen{stroke: black, width: 1.4}})
	r := min(3, step/3)
	var named string
	for i, q := range c.Points {
		v := point{at(i), p.y.at(q.Value)}
		switch {
		case !drawable(q.Value):
			named = ""
			continue
		case q.Signal != "":
			p.add(diamond(v, q.Better))
		case q.Reset:
			p.add(disc{class: "reset", at: v, r: 4, pen: pen{fill: paper, stroke: black, width: 1.4}})
		case r >= 1:
			p.add(disc{class: "point", at: v, r: r, pen: pen{fill: black}})
		}
		if q.Signal != "" && q.Signal != named {
			p.signal(&free, v, q.Signal, q.Better)
		}
		named = q.Signal
	}
}

// order writes the labels of every so many points, as there is room.
func (c Control) order(p plot, at func(int) float64) (below float64) {
	s := p.sheet()
	const most = 90
	var labelled []int
	for i, q := range c.Points {
		if fit(q.Label, s.kind, false, most) != "" {
			labelled = append(labelled, i)
		}
	}
	words := func(i int) string { return fit(c.Points[i].Label, s.kind, false, most) }
	half := func(i int) float64 { return width(words(i), s.kind, false) / 2 }
	clear := func(every int) bool {
		for j := every; j < len(labelled); j += every {
			a, b := labelled[j-every], labelled[j]
			if at(a)+half(a)+8 > at(b)-half(b) {
				return false
			}
		}
		return true
	}
	every := 1
	for _, every = range []int{1, 2, 3, 6, 12} {
		if clear(every) {
			break
		}
	}
	for !clear(every) {
		every *= 2
	}
	y := p.area.bottom + 6
	for j := 0; j < len(labelled); j += every {
		i := labelled[j]
		if at(i)+half(i) > s.width-margin || at(i)-half(i) < margin {
			continue
		}
		p.line("grid", point{at(i), p.area.bottom}, point{at(i), y - 1}, pen{stroke: edge, width: 1.2})
		p.write("tick", point{at(i), y + s.kind}, middle, soft, words(i))
	}
	return p.baseLabel(c.Order, y+s.line())
}
