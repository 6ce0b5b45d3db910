package chart

import (
	"bytes"
	"context"
	"encoding/xml"
	"io"
	"slices"
	"strconv"
)

// Render writes the drawing as an SVG element for a page; it makes a Drawing a
// templ component.
func (d Drawing) Render(_ context.Context, w io.Writer) error {
	s := svg{ink: func(k ink) string { return "var(" + inks[k].property + "," + inks[k].light + ")" }}
	s.open(d, d.sheet().width, d.height)
	s.shapes(d)
	s.raw("</svg>")
	_, err := w.Write(s.Bytes())
	return err
}

// WriteSVG writes the drawing as a file that stands alone, in the light colours
// and with its title. Each text is held to its measured length, so that nothing
// collides where the reader has another typeface.
func (d Drawing) WriteSVG(w io.Writer) error {
	s := svg{file: true, ink: func(k ink) string { return inks[k].light }}
	f := d.framed()
	s.raw(xml.Header)
	s.open(d, f.width, f.height)
	s.shape(path{class: "ground", closed: true, pen: pen{fill: paper}, runs: [][]point{rectangle(box{0, 0, f.width, f.height})}})
	for _, line := range f.title {
		s.shape(line)
	}
	s.raw(`<g transform="translate(`)
	s.number(f.chart.x)
	s.raw(" ")
	s.number(f.chart.y)
	s.raw(`)">`)
	s.shapes(d)
	s.raw("</g></svg>\n")
	_, err := w.Write(s.Bytes())
	return err
}

// svg writes shapes as elements. Looks are in attributes: pages allow no inline
// style.
type svg struct {
	bytes.Buffer
	ink      func(ink) string
	file     bool
	id       string
	kind     float64
	textures []string // ids of the patterns defined so far
}

func (s *svg) raw(words string) { s.WriteString(words) } // #nosec G104 -- a buffer takes everything

func (s *svg) escaped(words string) { _ = xml.EscapeText(&s.Buffer, []byte(words)) }

// number writes a length to a tenth: finer than a screen shows.
func (s *svg) number(v float64) {
	b := strconv.AppendFloat(s.AvailableBuffer(), v, 'f', 1, 64)
	b = bytes.TrimSuffix(b, []byte(".0"))
	if string(b) == "-0" {
		b = b[1:]
	}
	s.Write(b) // #nosec G104 -- a buffer takes everything
}

func (s *svg) attribute(name, value string) {
	s.raw(" " + name + `="`)
	s.escaped(value)
	s.raw(`"`)
}

func (s *svg) length(name string, v float64) {
	s.raw(" " + name + `="`)
	s.number(v)
	s.raw(`"`)
}

func (s *svg) open(d Drawing, width, height float64) {
	sheet := d.sheet()
	s.id, s.kind = d.about.ID+"-"+sheet.name, sheet.kind
	s.raw(`<svg xmlns="http://www.w3.org/2000/svg"`)
	s.attribute("id", s.id)
	s.attribute("class", "chart chart-"+sheet.name)
	s.raw(` viewBox="0 0 `)
	s.number(width)
	s.raw(" ")
	s.number(height)
	s.raw(`"`)
	if s.file {
		s.length("width", width)
		s.length("height", height)
		s.attribute("font-family", `"Atkinson Hyperlegible Next", "Atkinson Hyperlegible", system-ui, sans-serif`)
	}
	s.length("font-size", sheet.kind)
	s.raw(` role="img"`)
	s.attribute("aria-labelledby", s.id+"-title "+s.id+"-desc")
	s.raw("><title")
	s.attribute("id", s.id+"-title")
	s.raw(">")
	s.escaped(d.about.Title)
	s.raw("</title><desc")
	s.attribute("id", s.id+"-desc")
	s.raw(">")
	s.escaped(d.about.Desc)
	s.raw("</desc>")
}

func (s *svg) shapes(d Drawing) {
	for _, shape := range d.shapes {
		s.shape(shape)
	}
}

func (s *svg) shape(of shape) {
	switch t := of.(type) {
	case path:
		fill := s.fill(t.pen)
		s.raw("<path")
		s.attribute("class", t.class)
		s.raw(` d="`)
		for _, run := range t.runs {
			s.run(run, t.closed)
		}
		s.raw(`"`)
		s.pen(t.pen, fill)
		s.raw("/>")
	case disc:
		fill := s.fill(t.pen)
		s.raw("<circle")
		s.attribute("class", t.class)
		s.length("cx", t.at.x)
		s.length("cy", t.at.y)
		s.length("r", t.r)
		s.pen(t.pen, fill)
		s.raw("/>")
	case text:
		s.text(t)
	}
}

func (s *svg) run(run []point, closed bool) {
	for i, p := range run {
		if i == 0 {
			s.raw("M")
		} else {
			s.raw("L")
		}
		s.number(p.x)
		s.raw(" ")
		s.number(p.y)
	}
	if closed {
		s.raw("z")
	}
}

func (s *svg) text(t text) {
	s.raw("<text")
	s.attribute("class", t.class)
	s.length("x", t.at.x)
	s.length("y", t.at.y)
	switch t.anchor {
	case middle:
		s.attribute("text-anchor", "middle")
	case end:
		s.attribute("text-anchor", "end")
	}
	if t.size != s.kind {
		s.length("font-size", t.size)
	}
	if t.bold {
		s.attribute("font-weight", "700")
	}
	s.attribute("fill", s.ink(t.ink))
	if s.file {
		s.length("textLength", width(t.words, t.size, t.bold))
		s.attribute("lengthAdjust", "spacingAndGlyphs")
	}
	s.raw(">")
	s.escaped(t.words)
	s.raw("</text>")
}

// fill is what a shape is filled with; the pattern of a texture is defined
// before its first use.
func (s *svg) fill(p pen) string {
	switch {
	case p.fill == noInk:
		return "none"
	case p.texture == plain:
		return s.ink(p.fill)
	}
	id := s.id + "-" + p.textureName()
	if !slices.Contains(s.textures, id) {
		s.textures = append(s.textures, id)
		s.raw("<pattern")
		s.attribute("id", id)
		s.attribute("patternUnits", "userSpaceOnUse")
		s.length("width", tile)
		s.length("height", tile)
		s.raw(">")
		for _, shape := range p.tile() {
			s.shape(shape)
		}
		s.raw("</pattern>")
	}
	return "url(#" + id + ")"
}

func (s *svg) pen(p pen, fill string) {
	s.attribute("fill", fill)
	if p.fill != noInk && p.texture == plain && p.tint > 0 {
		s.raw(` fill-opacity="` + strconv.FormatFloat(p.tint, 'f', -1, 64) + `"`)
	}
	if p.stroke == noInk {
		return
	}
	s.attribute("stroke", s.ink(p.stroke))
	s.length("stroke-width", p.width)
	s.attribute("stroke-linejoin", "round")
	if len(p.dash) > 0 {
		s.raw(` stroke-dasharray="`)
		for i, length := range p.dash {
			if i > 0 {
				s.raw(" ")
			}
			s.number(length)
		}
		s.raw(`"`)
	}
}
