package chart

import (
	"math"
	"slices"
	"strconv"
)

// Curves are step curves of shares over hours, such as survival: one a group,
// up to nine. Intervals are bands for up to three groups, and whiskers
// at one hour for more.
type Curves struct {
	About
	Hours  string // label of the axis of hours
	Share  string // label of the axis of shares
	Groups []Curve
	Until  float64 // hours at the axis's end; 0: as far as the longest curve
	AtRisk string  // heading of the table of numbers at risk; empty: no table
}

// Curve is one group's curve.
type Curve struct {
	Name   string
	Note   string                 // a second line beside the curve, such as its median in words
	Steps  []Step                 // by hour
	Median float64                // hours, marked on the curve; 0: none
	AtRisk func(hour float64) int // how many are at risk at an hour; nil: not shown
}

// Step is the level of a curve from an hour on. The last step ends the curve.
type Step struct {
	Hour      float64
	Share     float64 // 0 to 1
	Low, High float64 // the interval about it; both NaN, or both equal to Share: none
}

// bandedGroups is how many bands can lie over one another and still be told apart.
const bandedGroups = 3

// strokes are the looks of the groups: no two have the same dash.
var strokes = [...]pen{
	{stroke: accent, width: 2.4},
	{stroke: black, width: 2, dash: []float64{8, 4}},
	{stroke: soft, width: 2, dash: []float64{2, 3}},
	{stroke: accent, width: 2, dash: []float64{12, 3, 2, 3}},
	{stroke: black, width: 2, dash: []float64{4, 2}},
	{stroke: soft, width: 2, dash: []float64{14, 5}},
	{stroke: accent, width: 2, dash: []float64{8, 3, 2, 3, 2, 3}},
	{stroke: black, width: 2, dash: []float64{2, 6}},
	{stroke: soft, width: 2, dash: []float64{4, 7}},
}

func (c Curves) stroke(i int) pen { return strokes[i%len(strokes)] }

// Draw draws the curves.
func (c Curves) Draw(size Size) Drawing {
	d := newDrawing(c.About, size)
	s := d.sheet()

	until := c.until()
	risk := c.atRiskWidth(s)
	reach := max(8, risk/2+6) // what the last number at risk takes of the gutter
	blocks := make([]*block, len(c.Groups))
	for i, g := range c.Groups {
		blocks[i] = &block{words: g.Name, note: g.Note, ink: c.stroke(i).stroke}
	}
	room := s.setNames(blocks, s.gutter-reach)

	p := d.valueAxis(Axis{Label: c.Share, Share: true}, shareTicks(), room+reach)
	p.x = scale{0, until, p.area.left, p.area.right}
	ticks := fittingHours(until, s, p.area.right-p.area.left, risk)

	if len(c.Groups) <= bandedGroups {
		c.bands(p)
	} else {
		c.whiskers(p, ticks)
	}
	for i, g := range c.Groups {
		runs := stairs(p, g.Steps, func(s Step) float64 { return s.Share })
		p.add(path{class: "curve", runs: runs, pen: c.stroke(i)})
		if g.Median > 0 && g.Median <= until {
			p.add(disc{class: "median", at: point{p.x.at(g.Median), p.y.at(0.5)}, r: 4, pen: pen{fill: paper, stroke: c.stroke(i).stroke, width: 2}})
		}
		blocks[i].from = endOf(runs, p.area)
		blocks[i].want = blocks[i].from.y
	}
	p.beside("name", blocks, reach)
	below := p.baseAxis(Axis{Label: c.Hours}, ticks)
	if risk > 0 {
		below = c.atRisk(p, ticks, blocks, reach, below)
	}
	return d.done(below)
}

// stairs are a curve's levels as lines, broken where a level is missing. The
// last step ends the curve.
func stairs(p plot, steps []Step, level func(Step) float64) [][]point {
	var runs [][]point
	var run []point
	for _, step := range steps {
		if !drawable(step.Hour) || step.Hour < 0 {
			continue
		}
		x := p.x.at(step.Hour)
		if len(run) > 0 {
			run = append(run, point{x, run[len(run)-1].y})
		}
		v := level(step)
		if step.Hour > p.x.to || !drawable(v) {
			if len(run) > 1 {
				runs = append(runs, run)
			}
			run = nil
			if step.Hour > p.x.to {
				return runs
			}
			continue
		}
		run = append(run, point{x, p.y.at(v)})
	}
	if len(run) > 1 {
		runs = append(runs, run)
	}
	return runs
}

// endOf is where the last of some runs ends.
func endOf(runs [][]point, area box) point {
	if len(runs) == 0 {
		return point{area.right, area.bottom}
	}
	last := runs[len(runs)-1]
	return last[len(last)-1]
}

// bands tint the room between the limits of each curve.
func (c Curves) bands(p plot) {
	for i, g := range c.Groups {
		within := func(limit func(Step) float64) func(Step) float64 {
			return func(s Step) float64 {
				if !s.hasInterval() {
					return math.NaN()
				}
				return limit(s)
			}
		}
		low := stairs(p, g.Steps, within(func(s Step) float64 { return s.Low }))
		high := stairs(p, g.Steps, within(func(s Step) float64 { return s.High }))
		for j, run := range high {
			slices.Reverse(low[j])
			p.add(path{class: "band", closed: true, runs: [][]point{append(run, low[j]...)},
				pen: pen{fill: c.stroke(i).stroke, tint: 0.12}})
		}
	}
}

func (s Step) hasInterval() bool {
	return drawable(s.Share) && drawable(s.Low) && drawable(s.High) && s.Low < s.High
}

// whiskers draw the groups' intervals side by side at one tick, about half way:
// at every tick they would hide the curves.
func (c Curves) whiskers(p plot, ticks []float64) {
	apart := p.sheet().kind * 0.4
	hour := ticks[len(ticks)/2]
	for i, g := range c.Groups {
		step, ok := at(g.Steps, hour)
		x := p.x.at(hour) + (float64(i)-float64(len(c.Groups)-1)/2)*apart
		if !ok || !step.hasInterval() || x < p.area.left || x > p.area.right {
			continue
		}
		k := c.stroke(i).stroke
		p.line("whisker", point{x, p.y.at(step.Low)}, point{x, p.y.at(step.High)}, pen{stroke: k, width: 1})
		p.add(disc{class: "estimate", at: point{x, p.y.at(step.Share)}, r: 2, pen: pen{fill: k}})
	}
}

// at is the step in force at an hour, if the curve reaches so far.
func at(steps []Step, hour float64) (Step, bool) {
	for i, s := range steps {
		if s.Hour > hour {
			return steps[max(0, i-1)], i > 0
		}
		if s.Hour == hour && i == len(steps)-1 {
			return s, true
		}
	}
	return Step{}, false
}

// atRisk is the table under the axis: a row a group, its numbers under the
// ticks. The name stands beside the row, or above it where the sheet is narrow.
func (c Curves) atRisk(p plot, ticks []float64, blocks []*block, reach, y float64) (below float64) {
	s := p.sheet()
	y += s.kind * 0.6
	for _, line := range wrap(c.AtRisk, s.kind, false, s.width-margin-p.area.left, 2) {
		p.write("label", point{p.area.left, y + s.kind}, start, soft, line)
		y += s.line()
	}
	for i, g := range c.Groups {
		if g.AtRisk == nil {
			continue
		}
		const sample = 26
		if p.size == Narrow {
			p.line("sample", point{p.area.left, y + s.line()/2}, point{p.area.left + sample, y + s.line()/2}, c.stroke(i))
			p.write("name", point{p.area.left + sample + 6, y + s.kind}, start, blocks[i].ink,
				fit(g.Name, s.kind, false, s.width-margin-p.area.left-sample-6))
			y += s.line()
		} else {
			p.line("sample", point{margin, y + s.line()/2}, point{margin + sample, y + s.line()/2}, c.stroke(i))
			for j, line := range blocks[i].lines {
				p.write("name", point{p.area.right + reach, y + s.kind + float64(j)*s.line()}, start, blocks[i].ink, line)
			}
		}
		for _, hour := range ticks {
			p.write("at-risk", point{p.x.at(hour), y + s.kind}, middle, black, strconv.Itoa(g.AtRisk(hour)))
		}
		y += s.line()
		if p.size == Wide {
			y += float64(max(0, len(blocks[i].lines)-1)) * s.line()
		}
	}
	return y
}

func (c Curves) until() float64 {
	until := 24.0
	if drawable(c.Until) && c.Until > 0 {
		return max(until, c.Until)
	}
	for _, g := range c.Groups {
		for _, step := range g.Steps {
			if drawable(step.Hour) {
				until = max(until, step.Hour)
			}
		}
	}
	return until
}

func (c Curves) atRiskWidth(s sheet) float64 {
	most := 0.0
	for _, g := range c.Groups {
		if c.AtRisk != "" && g.AtRisk != nil {
			most = max(most, width(strconv.Itoa(g.AtRisk(0)), s.kind, false))
		}
	}
	return most
}
