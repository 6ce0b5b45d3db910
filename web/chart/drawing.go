package chart

import "math"

// Drawing is a chart as a list of shapes, back to front.
type Drawing struct {
	about  About
	size   Size
	height float64
	shapes []shape
}

// shape is a path, a disc or a text.
type shape interface{ isShape() }

type point struct{ x, y float64 }

// path is one or more runs of straight lines.
type path struct {
	class  string
	runs   [][]point
	closed bool
	pen    pen
}

type disc struct {
	class string
	at    point
	r     float64
	pen   pen
}

// text is one line of type on its baseline.
type text struct {
	class  string
	at     point
	anchor anchor
	size   float64
	bold   bool
	ink    ink
	words  string
}

func (path) isShape() {}
func (disc) isShape() {}
func (text) isShape() {}

// pen is how a shape is filled and outlined; without an ink it is not.
type pen struct {
	fill    ink
	tint    float64 // strength of the fill, 0 to 1; 0 is full
	texture texture
	stroke  ink
	width   float64
	dash    []float64
}

// ink is one of the house's colours.
type ink uint8

const (
	noInk ink = iota
	paper
	black
	soft
	rule
	edge
	accent
	wrong
)

// inks are the stylesheet's custom properties and their values in the light.
var inks = [...]struct{ property, light string }{
	noInk:  {},
	paper:  {"--sheet", "#fffef9"},
	black:  {"--ink", "#1c2126"},
	soft:   {"--soft", "#565b61"},
	rule:   {"--rule", "#d9d6cb"},
	edge:   {"--edge", "#757a80"},
	accent: {"--accent", "#0f4c55"},
	wrong:  {"--wrong", "#a31d12"},
}

type anchor uint8

const (
	start anchor = iota
	middle
	end
)

// newDrawing is an empty sheet; its height is known when the chart is done.
func newDrawing(about About, size Size) *Drawing {
	return &Drawing{about: about, size: min(size, Narrow)}
}

func (d *Drawing) sheet() sheet { return sheets[d.size] }

func (d *Drawing) add(s shape) { d.shapes = append(d.shapes, s) }

// line draws one straight line.
func (d *Drawing) line(class string, a, b point, p pen) {
	d.add(path{class: class, runs: [][]point{{a, b}}, pen: p})
}

// write puts one line of type on the sheet.
func (d *Drawing) write(class string, at point, a anchor, k ink, words string) {
	if words != "" {
		d.add(text{class: class, at: at, anchor: a, size: d.sheet().kind, ink: k, words: words})
	}
}

// frame is what a file has round a chart: a margin, and its title above.
type frame struct {
	width, height float64
	title         []text
	chart         point // where the chart's own corner is
}

func (d Drawing) framed() frame {
	const margin, larger = 16, 1.2
	s := d.sheet()
	size := s.kind * larger
	f := frame{width: s.width + 2*margin, chart: point{margin, margin}}
	for _, words := range wrap(d.about.Title, size, true, s.width, 4) {
		f.title = append(f.title, text{class: "title", at: point{margin, f.chart.y + size}, size: size, bold: true, ink: black, words: words})
		f.chart.y += size * 1.25
	}
	f.chart.y += margin / 2
	f.height = math.Ceil(f.chart.y + d.height + margin/2)
	return f
}

// box is the room that something takes.
type box struct{ left, top, right, bottom float64 }

func rectangle(b box) []point {
	return []point{{b.left, b.top}, {b.right, b.top}, {b.right, b.bottom}, {b.left, b.bottom}}
}

func (b box) meets(o box) bool {
	return b.left < o.right && o.left < b.right && b.top < o.bottom && o.top < b.bottom
}

func (b box) within(o box) bool {
	return b.left >= o.left && b.right <= o.right && b.top >= o.top && b.bottom <= o.bottom
}

// Parts of the type size that letters reach above and below the baseline, and
// the middle of a capital.
const (
	ascent  = 0.74
	descent = 0.22
	middleY = 0.34
)

// box is the room a text takes.
func (t text) box() box {
	w := width(t.words, t.size, t.bold)
	left := t.at.x
	switch t.anchor {
	case middle:
		left -= w / 2
	case end:
		left -= w
	}
	return box{left, t.at.y - ascent*t.size, left + w, t.at.y + descent*t.size}
}

// most bounds what is drawn: farther out, differences of numbers lose meaning.
const most = 1e12

// drawable reports a value that is there.
func drawable(v float64) bool { return math.Abs(v) <= most }
