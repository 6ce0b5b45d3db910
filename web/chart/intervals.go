package chart

import (
	"math"
	"slices"
)

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

// Draw draws the rows. On the wide sheet name, whisker and figures stand side
// by side; on the narrow one the whisker has a line of its own below them.
func (c Intervals) Draw(size Size) Drawing {
	d := newDrawing(c.About, size)
	s := d.sheet()
	values := c.span()
	cols := c.columns(s, d.size)
	p := plot{Drawing: d}
	ticks := fitting(c.Axis, values, s, cols.right-cols.left)
	p.x = scale{ticks[0], ticks[len(ticks)-1], cols.left, cols.right}

	top := float64(margin)
	if c.Reference.Name != "" && drawable(c.Reference.At) {
		for _, words := range wrap(c.Reference.Name, s.kind, false, s.width-2*margin, 1) {
			half := width(words, s.kind, false) / 2
			x := min(max(p.x.at(c.Reference.At), margin+half), s.width-margin-half)
			d.write("reference", point{x, top + s.kind}, middle, soft, words)
		}
	}
	ground := len(d.shapes)
	y := top + s.kind*0.25
	if len(d.shapes) > 0 {
		y += 1.4 * s.line()
	}
	var tracks []box // where whiskers lie, free of words
	for i, r := range c.Rows {
		if d.size == Narrow {
			y = c.writeAbove(d, r, y)
		}
		height := s.line()
		if d.size == Wide {
			height = c.writeBeside(d, r, cols, y)
		}
		p.whisker(r, y+height/2)
		track := box{cols.left, y - s.kind*0.25, cols.right, y + height + s.kind*0.25}
		if d.size == Narrow {
			track.top = y + s.kind*0.15 // words stand right above
		}
		tracks = append(tracks, track)
		y += height + s.kind*0.5
		if i < len(c.Rows)-1 {
			d.line("grid", point{margin, y - s.kind*0.25}, point{s.width - margin, y - s.kind*0.25}, pen{stroke: rule, width: 0.8})
		}
	}
	p.area = box{cols.left, top, cols.right, y}
	p.behind(ground, c.Reference, tracks)
	return d.done(p.baseAxis(c.Axis, ticks))
}

func (c Intervals) span() span {
	var values span
	for _, r := range c.Rows {
		values.take(r.Point, r.Low, r.High)
	}
	if c.Reference.Name != "" {
		values.take(c.Reference.At)
	}
	return values
}

// intervalColumns are where the whiskers are drawn and the texts begin or end.
type intervalColumns struct {
	left, right float64 // of the whiskers
	name        float64 // room for the name
	n, figure   float64 // right edges
	nRoom       float64
	figureRoom  float64
}

func (c Intervals) columns(s sheet, size Size) intervalColumns {
	const inset = 26 // half a figure of the axis
	if size == Narrow {
		return intervalColumns{left: inset, right: s.width - inset}
	}
	const gap = 14
	var cols intervalColumns
	for _, r := range c.Rows {
		cols.name = max(cols.name, width(r.Name, s.kind, false))
		cols.nRoom = max(cols.nRoom, width(r.N, s.kind, false))
		cols.figureRoom = max(cols.figureRoom, width(r.Figure, s.kind, false))
	}
	cols.name, cols.nRoom, cols.figureRoom = min(cols.name, s.gutter), min(cols.nRoom, 110), min(cols.figureRoom, 150)
	cols.figure = s.width - margin
	cols.n = cols.figure - cols.figureRoom - gap
	cols.left = max(inset, margin+cols.name+gap)
	cols.right = cols.n - cols.nRoom - 1.5*gap
	return cols
}

// writeBeside writes a row's words at both sides of its whisker.
func (c Intervals) writeBeside(d *Drawing, r Interval, cols intervalColumns, y float64) (height float64) {
	s := d.sheet()
	lines := wrap(r.Name, s.kind, false, cols.name, 2)
	for i, line := range lines {
		d.write("name", point{margin, y + s.kind + float64(i)*s.line()}, start, black, line)
	}
	height = max(1, float64(len(lines))) * s.line()
	at := y + height/2 + middleY*s.kind
	d.write("n", point{cols.n, at}, end, soft, fit(r.N, s.kind, false, cols.nRoom))
	d.write("figure", point{cols.figure, at}, end, black, fit(r.Figure, s.kind, false, cols.figureRoom))
	return height
}

// writeAbove writes a row's words over its whisker.
func (c Intervals) writeAbove(d *Drawing, r Interval, y float64) (below float64) {
	s := d.sheet()
	room := s.width - 2*margin
	for _, line := range wrap(r.Name, s.kind, false, room, 2) {
		d.write("name", point{margin, y + s.kind}, start, black, line)
		y += s.line()
	}
	figure, n := fit(r.Figure, s.kind, false, room), fit(r.N, s.kind, false, room)
	d.write("figure", point{margin, y + s.kind}, start, black, figure)
	if width(figure, s.kind, false)+width(n, s.kind, false)+12 > room {
		y += s.line()
	}
	d.write("n", point{s.width - margin, y + s.kind}, end, soft, n)
	return y + s.line()
}

// whisker draws one interval with its point; an end that is open is an arrow.
func (p plot) whisker(r Interval, y float64) {
	const cap = 4
	thin := pen{stroke: black, width: 1.5}
	low, high := r.Low, r.High
	if (drawable(low) || math.IsInf(low, -1)) && (drawable(high) || math.IsInf(high, 1)) {
		from, to := p.x.lo, p.x.hi
		ends := path{class: "whisker", pen: thin}
		if drawable(low) {
			from = p.x.at(low)
			ends.runs = append(ends.runs, []point{{from, y - cap}, {from, y + cap}})
		} else {
			ends.runs = append(ends.runs, []point{{from + 6, y - cap}, {from, y}, {from + 6, y + cap}})
		}
		if drawable(high) {
			to = p.x.at(high)
			ends.runs = append(ends.runs, []point{{to, y - cap}, {to, y + cap}})
		} else {
			ends.runs = append(ends.runs, []point{{to - 6, y - cap}, {to, y}, {to - 6, y + cap}})
		}
		ends.runs = append(ends.runs, []point{{from, y}, {to, y}})
		p.add(ends)
	}
	if drawable(r.Point) {
		p.add(disc{class: "point", at: point{p.x.at(r.Point), y}, r: 4.5, pen: pen{fill: accent}})
	}
}

// behind draws what runs through the tracks of all rows: zero and the reference.
func (p plot) behind(ground int, reference Line, tracks []box) {
	through := func(class string, v float64, look pen) path {
		x := p.x.at(v)
		line := path{class: class, pen: look}
		for _, t := range tracks {
			line.runs = append(line.runs, []point{{x, t.top}, {x, t.bottom}})
		}
		return line
	}
	base := path{class: "grid", runs: [][]point{{{p.x.lo, p.area.bottom}, {p.x.hi, p.area.bottom}}}, pen: pen{stroke: edge, width: 1.2}}
	lines := []shape{base, through("grid", 0, base.pen)}
	if reference.Name != "" && drawable(reference.At) {
		lines = append(lines, through("reference", reference.At, pen{stroke: soft, width: 1.2, dash: []float64{4, 3}}))
	}
	p.shapes = slices.Insert(p.shapes, ground, lines...)
}
