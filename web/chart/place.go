package chart

import "math"

// places finds room for names beside points.
type places struct {
	area    box
	words   []box // names that stand already, and marks that must be seen
	crowded []box // what a name would rather not cover
}

// around are the directions in which a name may stand from its point, best
// first: x and y of the nearest corner or edge.
var around = [...]point{{0, -1}, {1, 0}, {-1, 0}, {0, 1}, {1, -1}, {-1, -1}, {1, 1}, {-1, 1}}

// near looks for room for words about a point, in rings of growing distance.
// Two rings are tried for a place where nothing is covered, and then, where
// covering is allowed, for one where no other word is, before those farther out.
func (p *places) near(at point, words text, rings int, covering bool) (placed text, ok bool) {
	w, up, down := width(words.words, words.size, words.bold), ascent*words.size, descent*words.size
	try := func(ring int, cover bool) bool {
		away := 8 + float64(ring)*words.size
		for _, dir := range around {
			left := at.x - w/2 + dir.x*(w/2+away)
			baseline := at.y + (up-down)/2 + dir.y*((up+down)/2+away)
			b := box{left - 2, baseline - up, left + w + 2, baseline + down}
			if b.within(p.area) && !meetsAny(b, p.words) && (cover || !meetsAny(b, p.crowded)) {
				p.words = append(p.words, b)
				words.at = point{left, baseline}
				return true
			}
		}
		return false
	}
	for ring := 0; ring < rings; ring += 2 {
		if try(ring, false) || ring+1 < rings && try(ring+1, false) {
			return words, true
		}
		if covering && (try(ring, true) || ring+1 < rings && try(ring+1, true)) {
			return words, true
		}
	}
	return words, false
}

// signal writes the name of a point that stands out, wherever there is room,
// with a line to the point where it is not next to it.
func (p plot) signal(free *places, at point, words string, better bool) {
	const rings, next = 8, 14
	s := p.sheet()
	name := text{class: "signal", size: s.kind, bold: true, ink: wrong,
		words: fit(words, s.kind, true, (p.area.right-p.area.left)*0.8)}
	if better {
		name.ink = accent
	}
	name, ok := free.near(at, name, rings, true)
	if !ok || name.words == "" {
		return
	}
	label := name.box()
	nearest := point{min(max(at.x, label.left-2), label.right+2), min(max(at.y, label.top), label.bottom)}
	if math.Hypot(nearest.x-at.x, nearest.y-at.y) > next {
		p.line("leader", at, nearest, pen{stroke: name.ink, width: 0.8})
		free.words = append(free.words, along([][]point{{at, nearest}})...)
	}
	p.add(name)
}

// keepOff has names keep off some lines, where they can.
func (p *places) keepOff(runs [][]point) { p.crowded = append(p.crowded, along(runs)...) }

// along is the room that lines take, as small boxes.
func along(runs [][]point) []box {
	const pace = 6
	var boxes []box
	for _, run := range runs {
		for i := 1; i < len(run); i++ {
			a, b := run[i-1], run[i]
			n := max(1, math.Ceil(math.Hypot(b.x-a.x, b.y-a.y)/pace))
			for k := range int(n) + 1 {
				t := float64(k) / n
				boxes = append(boxes, about(point{a.x + t*(b.x-a.x), a.y + t*(b.y-a.y)}, 1.5))
			}
		}
	}
	return boxes
}

func meetsAny(b box, others []box) bool {
	for _, o := range others {
		if b.meets(o) {
			return true
		}
	}
	return false
}

// about is a square round a point.
func about(at point, r float64) box { return box{at.x - r, at.y - r, at.x + r, at.y + r} }

// diamond is the mark of what stands out: full in the red of what is wrong,
// hollow where it is for the better.
func diamond(at point, better bool) path {
	const r = 6
	look := pen{fill: wrong, stroke: paper, width: 1}
	if better {
		look = pen{fill: paper, stroke: accent, width: 2}
	}
	return path{class: "signal", closed: true, pen: look,
		runs: [][]point{{{at.x, at.y - r}, {at.x + r, at.y}, {at.x, at.y + r}, {at.x - r, at.y}}}}
}
