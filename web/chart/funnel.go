package chart

import (
	"math"
	"slices"
)

// Funnel shows units by their size and their rate, within limits that narrow as
// size grows (Spiegelhalter 2005, Statistics in Medicine).
type Funnel struct {
	About
	Size   Axis // denominators, from zero
	Rate   Axis
	Units  []Unit
	Centre Line
	Limits []FunnelLimit // such as 95 % and 99.8 %, inner first
}

// Unit is one unit, such as a ward.
type Unit struct {
	Name    string
	Size    float64
	Rate    float64
	Outside bool // outside the limits: marked and named
	Better  bool // outside for the better
}

// FunnelLimit is a pair of curves, given densely.
type FunnelLimit struct {
	Name   string
	Points []LimitPoint // by size
}

// LimitPoint is how far a rate may be from the centre at a size.
type LimitPoint struct{ Size, Low, High float64 }

// Draw draws the funnel. Limits that leave the plot at small sizes are cut there.
func (c Funnel) Draw(size Size) Drawing {
	const reach = 10
	d := newDrawing(c.About, size)
	s := d.sheet()
	var sizes span
	for _, u := range c.Units {
		sizes.take(u.Size)
	}
	var blocks []*block
	if c.Centre.Name != "" && drawable(c.Centre.At) {
		blocks = append(blocks, &block{words: c.Centre.Name, ink: accent, want: c.Centre.At})
	}
	for _, l := range c.Limits {
		if q, ok := l.at(sizes.most); ok && l.Name != "" {
			blocks = append(blocks, &block{words: l.Name, ink: soft, want: q.High})
		}
	}
	room := s.setNames(blocks, s.gutter-reach) + reach
	p := d.valueAxis(c.Rate, c.rates().ticks(6), room)
	ticks := fitting(c.Size, sizes, s, p.area.right-p.area.left)
	p.x = scale{0, max(sizes.most*1.05, ticks[1]), p.area.left, p.area.right}
	ticks = slices.DeleteFunc(ticks, func(v float64) bool { return v < 0 || v > p.x.to })
	free := places{area: p.area}

	for i, l := range c.Limits {
		look := pen{stroke: soft, width: 1.2}
		if i == 0 {
			look.dash = []float64{5, 3}
		}
		high := p.clipped(l.Points, func(q LimitPoint) float64 { return q.High })
		low := p.clipped(l.Points, func(q LimitPoint) float64 { return q.Low })
		p.add(path{class: "limit", runs: append(high, low...), pen: look})
		free.keepOff(high)
		free.keepOff(low)
	}
	if drawable(c.Centre.At) {
		y := p.y.at(c.Centre.At)
		centre := []point{{p.area.left, y}, {p.area.right, y}}
		p.line("centre", centre[0], centre[1], pen{stroke: accent, width: 1.4})
		free.keepOff([][]point{centre})
	}
	for _, b := range blocks {
		b.want = p.y.at(b.want)
		b.from = point{p.area.right, b.want}
	}
	p.beside("name", blocks, reach)
	c.drawUnits(p, free)
	return d.done(p.baseAxis(c.Size, ticks))
}

// rates spans what the units did and the limits of the smallest of them, but
// little more than the highest rate: the rest of a limit says nothing.
func (c Funnel) rates() span {
	var rates span
	smallest := math.Inf(1)
	for _, u := range c.Units {
		if drawable(u.Size) && drawable(u.Rate) {
			rates.take(u.Rate)
			smallest = min(smallest, u.Size)
		}
	}
	rates.take(c.Centre.At)
	highest := 1.3 * rates.most
	for _, l := range c.Limits {
		if q, ok := l.at(smallest); ok {
			rates.take(min(q.High, highest))
		}
	}
	return rates
}

// at is the limit at a size, or the nearest given before it.
func (l FunnelLimit) at(size float64) (q LimitPoint, ok bool) {
	for _, next := range l.Points {
		if ok && next.Size > size {
			break
		}
		if drawable(next.Size) && drawable(next.High) {
			q, ok = next, true
		}
	}
	return q, ok
}

// clipped is one side of a limit as it lies within the plot.
func (p plot) clipped(points []LimitPoint, side func(LimitPoint) float64) [][]point {
	var runs [][]point
	var run []point
	stop := func() {
		if len(run) > 1 {
			runs = append(runs, run)
		}
		run = nil
	}
	for i := 1; i < len(points); i++ {
		a, b := point{points[i-1].Size, side(points[i-1])}, point{points[i].Size, side(points[i])}
		if !drawable(a.x) || !drawable(a.y) || !drawable(b.x) || !drawable(b.y) {
			stop()
			continue
		}
		from, to := cut01(a.y, b.y, p.y.from, p.y.to)
		first, last := cut01(a.x, b.x, p.x.from, p.x.to)
		from, to = max(from, first), min(to, last)
		if from > to {
			stop()
			continue
		}
		on := func(t float64) point { return point{p.x.at(a.x + t*(b.x-a.x)), p.y.at(a.y + t*(b.y-a.y))} }
		if from > 0 {
			stop()
		}
		if len(run) == 0 {
			run = append(run, on(from))
		}
		run = append(run, on(to))
		if to < 1 {
			stop()
		}
	}
	stop()
	return runs
}

// cut01 is the part of the way from a to b, between 0 and 1, that lies within
// low and high; from is greater than to where none does.
func cut01(a, b, low, high float64) (from, to float64) {
	if a == b {
		if a < low || a > high {
			return 1, 0
		}
		return 0, 1
	}
	from, to = (low-a)/(b-a), (high-a)/(b-a)
	if from > to {
		from, to = to, from
	}
	return max(0, from), min(1, to)
}

// drawUnits marks the units and names them: those outside first, wherever there
// is room with a line to the mark, the others where a name fits beside theirs.
func (c Funnel) drawUnits(p plot, free places) {
	s := p.sheet()
	units := slices.Clone(c.Units)
	slices.SortStableFunc(units, func(a, b Unit) int {
		switch {
		case a.Outside && !b.Outside:
			return -1
		case b.Outside && !a.Outside:
			return 1
		}
		return 0
	})
	units = slices.DeleteFunc(units, func(u Unit) bool { return !drawable(u.Size) || !drawable(u.Rate) })
	place := func(u Unit) point { return point{p.x.at(u.Size), p.y.at(u.Rate)} }
	for _, u := range slices.Backward(units) {
		at, r := place(u), 3.5
		if u.Outside {
			r = 6
			p.add(diamond(at, u.Better))
		} else {
			p.add(disc{class: "unit", at: at, r: r, pen: pen{fill: paper, stroke: black, width: 1.4}})
		}
		free.words = append(free.words, about(at, r))
	}
	for _, u := range units {
		if u.Outside {
			p.signal(&free, place(u), u.Name, u.Better)
			continue
		}
		name := text{class: "name", size: s.kind, ink: soft, words: fit(u.Name, s.kind, false, s.gutter)}
		if name, ok := free.near(place(u), name, 1, false); ok && name.words != "" {
			p.add(name)
		}
	}
}
