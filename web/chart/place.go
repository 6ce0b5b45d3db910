package chart

// places finds room for names beside points.
type places struct {
	area    box
	words   []box // names that stand already, and marks that must be seen
	crowded []box // what a name would rather not cover
}

// around are the directions in which a name may stand from its point, best
// first: x and y of the nearest corner or edge.
var around = [...]point{{0, -1}, {1, 0}, {-1, 0}, {0, 1}, {1, -1}, {-1, -1}, {1, 1}, {-1, 1}}

// near looks for room for words about a point, in rings of growing distance,
// first where nothing is covered and then where no other word is.
func (p *places) near(at point, words string, size float64, bold bool, rings int) (baseline point, ok bool) {
	w, up, down := width(words, size, bold), ascent*size, descent*size
	for _, strict := range []bool{true, false} {
		for ring := range rings {
			away := 8 + float64(ring)*size
			for _, dir := range around {
				left := at.x - w/2 + dir.x*(w/2+away)
				baseline := at.y + (up-down)/2 + dir.y*((up+down)/2+away)
				b := box{left - 2, baseline - up, left + w + 2, baseline + down}
				if !b.within(p.area) || meetsAny(b, p.words) || strict && meetsAny(b, p.crowded) {
					continue
				}
				p.words = append(p.words, b)
				return point{left, baseline}, true
			}
		}
	}
	return point{}, false
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

// diamond is the mark of what stands out.
func diamond(at point, r float64) path {
	return path{class: "signal", closed: true, pen: pen{fill: wrong, stroke: paper, width: 1},
		runs: [][]point{{{at.x, at.y - r}, {at.x + r, at.y}, {at.x, at.y + r}, {at.x - r, at.y}}}}
}
