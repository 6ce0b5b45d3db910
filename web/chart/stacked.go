package chart

import "slices"

// Stacked shows how a whole is shared over hours, such as what ended the lines
// and which are still in: areas one on another, up to nine.
type Stacked struct {
	About
	Hours  string    // label of the axis of hours
	Share  string    // label of the axis of shares
	At     []float64 // hours, rising
	Layers []Layer   // from the bottom up
}

// Layer is one part of the whole.
type Layer struct {
	Name   string
	Shares []float64 // 0 to 1, one for each of Stacked.At
	Blank  bool      // left as paper, such as what is still in
}

// fills are the looks of areas that stand side by side: neighbours differ in
// texture and in weight.
var fills = [...]pen{
	{fill: accent},
	{fill: accent, tint: 0.1, texture: rising},
	{fill: black, tint: 0.55},
	{fill: black, tint: 0.05, texture: dotted},
	{fill: accent, tint: 0.4},
	{fill: black, tint: 0.1, texture: falling},
	{fill: black, tint: 0.2},
	{fill: accent, tint: 0.05, texture: upright},
	{fill: black, tint: 0.05, texture: crossed},
}

// filled is the look of the nth area, with a paper edge to its neighbours.
func filled(n int) pen {
	p := fills[n%len(fills)]
	p.stroke, p.width = paper, 1
	return p
}

// Draw draws the areas.
func (c Stacked) Draw(size Size) Drawing {
	const reach = 10
	d := newDrawing(c.About, size)
	s := d.sheet()
	blocks := make([]*block, len(c.Layers))
	for i, l := range c.Layers {
		blocks[i] = &block{words: l.Name, ink: black}
	}
	room := s.setNames(blocks, s.gutter-reach)

	until := 24.0
	for _, h := range c.At {
		if drawable(h) {
			until = max(until, h)
		}
	}
	p := d.valueAxis(Axis{Label: c.Share, Share: true}, shareTicks(), room+reach)
	p.x = scale{0, until, p.area.left, p.area.right}
	ticks := fittingHours(until, s, p.area.right-p.area.left, 0)

	columns := c.columns()
	textured := 0
	for i, l := range c.Layers {
		blocks[i].from = point{p.area.right, p.area.bottom}
		var runs [][]point
		for _, run := range columns {
			var upper, lower []point
			for _, column := range run {
				x := p.x.at(column.hour)
				lower = append(lower, point{x, p.y.at(column.sums[i])})
				upper = append(upper, point{x, p.y.at(column.sums[i+1])})
			}
			last := len(upper) - 1
			blocks[i].from = point{upper[last].x, (upper[last].y + lower[last].y) / 2}
			slices.Reverse(lower)
			runs = append(runs, append(upper, lower...))
		}
		blocks[i].want = blocks[i].from.y
		if !l.Blank {
			p.add(path{class: "area", runs: runs, closed: true, pen: filled(textured)})
			textured++
		}
	}
	p.line("grid", point{p.area.left, p.area.bottom}, point{p.area.right, p.area.bottom}, pen{stroke: edge, width: 1.2})
	p.beside("name", blocks, reach)
	return d.done(p.baseAxis(Axis{Label: c.Hours}, ticks))
}

// column is what has been summed up at an hour: sums[i] is what lies below
// layer i.
type column struct {
	hour float64
	sums []float64
}

// columns are the hours at which every layer is there, in unbroken runs.
func (c Stacked) columns() [][]column {
	var runs [][]column
	var run []column
	for j, hour := range c.At {
		col := column{hour: hour, sums: []float64{0}}
		there := drawable(hour) && hour >= 0
		for i, l := range c.Layers {
			there = there && j < len(l.Shares) && drawable(l.Shares[j])
			if there {
				col.sums = append(col.sums, col.sums[i]+max(0, l.Shares[j]))
			}
		}
		if there {
			run = append(run, col)
			continue
		}
		if len(run) > 0 {
			runs = append(runs, run)
		}
		run = nil
	}
	if len(run) > 0 {
		runs = append(runs, run)
	}
	return runs
}
