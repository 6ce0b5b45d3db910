package chart

// plot is the area in which values are drawn, with its two scales.
type plot struct {
	*Drawing
	area box
	x, y scale
}

// margin keeps what is drawn off the edges of the sheet.
const margin = 2

// valueAxis draws the upright axis: its label above, hairlines across at the
// ticks, the figures at the left. It gives the plot, which begins at y = top.
func (d *Drawing) valueAxis(a Axis, ticks []float64, gutter float64) plot {
	s := d.sheet()
	words := a.written(ticks)
	left := margin + widest(words, s.kind, false) + 8
	top := float64(margin)
	for _, line := range wrap(a.Label, s.kind, false, s.width-2*margin, 3) {
		d.write("label", point{margin, top + s.kind}, start, soft, line)
		top += s.line()
	}
	top += s.kind * 0.8
	area := box{left, top, s.width - margin - gutter, top + s.plot}
	y := scale{ticks[0], ticks[len(ticks)-1], area.bottom, area.top}
	for i, v := range ticks {
		at := y.at(v)
		k, wide := rule, 1.0
		if v == 0 {
			k, wide = edge, 1.2
		}
		d.line("grid", point{area.left, at}, point{area.right, at}, pen{stroke: k, width: wide})
		d.write("tick", point{left - 8, at + middleY*s.kind}, end, soft, words[i])
	}
	return plot{Drawing: d, area: area, y: y}
}

// baseAxis draws ticks, figures and label under the plot and gives the y below them.
func (p plot) baseAxis(a Axis, ticks []float64) (below float64) {
	words := a.written(ticks)
	s := p.sheet()
	y := p.area.bottom + 6
	for i, v := range ticks {
		x := p.x.at(v)
		p.line("grid", point{x, p.area.bottom}, point{x, y - 1}, pen{stroke: edge, width: 1.2})
		half := width(words[i], s.kind, false) / 2
		p.write("tick", point{min(max(x, margin+half), s.width-margin-half), y + s.kind}, middle, soft, words[i])
	}
	return p.baseLabel(a.Label, y+s.line())
}

func (p plot) baseLabel(label string, y float64) (below float64) {
	s := p.sheet()
	for _, line := range wrap(label, s.kind, false, s.width-margin-p.area.left, 3) {
		p.write("label", point{p.area.left, y + s.kind}, start, soft, line)
		y += s.line()
	}
	return y
}

// done closes the sheet below y.
func (d *Drawing) done(y float64) Drawing {
	d.height = y + d.sheet().kind*0.4
	return *d
}
