package chart

import "slices"

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

// Draw draws the bar: lying on the wide sheet, with the names hung below it in
// as many rows as they need; standing on the narrow one, with the names beside.
func (c Shares) Draw(size Size) Drawing {
	d := newDrawing(c.About, size)
	parts := c.cut()
	if d.size == Narrow {
		return c.standing(d, parts)
	}
	return c.lying(d, parts)
}

// piece is where a part begins and ends, as shares of the bar.
type piece struct {
	Part
	from, to float64
}

// cut leaves out parts that are missing or empty: they have no room in the bar.
func (c Shares) cut() []piece {
	whole := 0.0
	for _, part := range c.Parts {
		if drawable(part.Value) {
			whole += max(0, part.Value)
		}
	}
	var pieces []piece
	sum := 0.0
	for _, part := range c.Parts {
		if drawable(part.Value) && part.Value > 0 {
			pieces = append(pieces, piece{part, sum / whole, (sum + part.Value) / whole})
			sum += part.Value
		}
	}
	return pieces
}

func (c Shares) standing(d *Drawing, pieces []piece) Drawing {
	const thick, reach = 64, 24
	s := d.sheet()
	blocks := make([]*block, len(pieces))
	for i, q := range pieces {
		blocks[i] = &block{words: q.Name, note: q.Figure, ink: black}
	}
	s.setNames(blocks, s.width-margin-thick-reach-margin)
	p := plot{Drawing: d, area: box{margin, margin, margin + thick, margin + s.plot}}
	p.y = scale{0, 1, p.area.top, p.area.bottom}
	for i, q := range pieces {
		from, to := p.y.at(q.from), p.y.at(q.to)
		d.add(path{class: "part", closed: true, pen: filled(i), runs: [][]point{rectangle(box{margin, from, margin + thick, to})}})
		blocks[i].from = point{margin + thick, (from + to) / 2}
		blocks[i].want = blocks[i].from.y
	}
	p.beside("name", blocks, reach)
	return d.done(p.area.bottom)
}

// lying leaves room at the right for the last name: every name begins under its
// part and runs to the right, in the first row where it meets neither a name
// nor a line to one farther down.
func (c Shares) lying(d *Drawing, pieces []piece) Drawing {
	const thick, drop, gap = 40, 12, 14
	s := d.sheet()
	bar := scale{0, 1, margin, s.width - margin - s.gutter}
	type hung struct {
		x   float64
		row int
		block
	}
	var names []hung // from the right
	for i, q := range slices.Backward(pieces) {
		x := (bar.at(q.from) + bar.at(q.to)) / 2
		h := hung{x: x, block: block{lines: wrap(q.Name, s.kind, false, s.gutter-8, 2), quiet: wrap(q.Figure, s.kind, false, s.gutter-8, 1)}}
		right := x + max(widest(h.lines, s.kind, false), widest(h.quiet, s.kind, false)) + gap
		for _, other := range names {
			if other.x < right && other.row >= h.row {
				h.row = other.row + 1
			}
		}
		names = append(names, h)
		d.add(path{class: "part", closed: true, pen: filled(i),
			runs: [][]point{rectangle(box{bar.at(q.from), margin, bar.at(q.to), margin + thick})}})
	}
	var rows []float64 // heights
	for _, h := range names {
		for len(rows) <= h.row {
			rows = append(rows, 0)
		}
		rows[h.row] = max(rows[h.row], h.height(s.line()))
	}
	below := 0.0
	for _, h := range names {
		if h.height(s.line()) == 0 {
			continue
		}
		y := float64(margin + thick + drop)
		for _, height := range rows[:h.row] {
			y += height + drop/2
		}
		d.line("leader", point{h.x, margin + thick}, point{h.x, y + s.kind}, pen{stroke: edge, width: 0.8})
		below = max(below, y+h.height(s.line()))
		for _, line := range h.lines {
			d.write("name", point{h.x + 5, y + s.kind}, start, black, line)
			y += s.line()
		}
		for _, line := range h.quiet {
			d.write("figure", point{h.x + 5, y + s.kind}, start, soft, line)
			y += s.line()
		}
	}
	return d.done(max(below, margin+thick))
}
