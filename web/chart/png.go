package chart

import (
	"fmt"
	"image/color"
	"io"

	"git.sr.ht/~sbinet/gg"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
)

// pixels is how many a unit of the drawing becomes in a PNG: enough for slides.
const pixels = 2

// WritePNG writes the drawing as a picture of two pixels to the unit, in the
// light colours and with its title.
func (d Drawing) WritePNG(w io.Writer) error {
	f := d.framed()
	p := picture{Context: gg.NewContext(int(pixels*f.width), int(pixels*f.height)), faces: map[faceKey]font.Face{}}
	p.SetColor(p.colour(paper, 1))
	p.Clear()
	p.SetLineJoinRound()
	p.SetLineCapButt()
	for _, line := range f.title {
		if err := p.shape(line); err != nil {
			return err
		}
	}
	p.corner = f.chart
	for _, s := range d.shapes {
		if err := p.shape(s); err != nil {
			return err
		}
	}
	if err := p.EncodePNG(w); err != nil {
		return fmt.Errorf("chart %s as a picture: %w", d.about.ID, err)
	}
	return nil
}

// picture draws shapes as pixels.
type picture struct {
	*gg.Context
	corner point // where the chart begins
	faces  map[faceKey]font.Face
}

type faceKey struct {
	size float64
	bold bool
}

func (p *picture) colour(k ink, strength float64) color.Color {
	var r, g, b uint8
	_, _ = fmt.Sscanf(inks[k].light, "#%02x%02x%02x", &r, &g, &b)
	return color.NRGBA{r, g, b, uint8(255*strength + 0.5)}
}

// on is the pixel at which a point of the drawing lies.
func (p *picture) on(at point) point {
	return point{pixels * (at.x + p.corner.x), pixels * (at.y + p.corner.y)}
}

func (p *picture) shape(of shape) error {
	switch t := of.(type) {
	case path:
		for _, run := range t.runs {
			for i, at := range run {
				at = p.on(at)
				if i == 0 {
					p.MoveTo(at.x, at.y)
				} else {
					p.LineTo(at.x, at.y)
				}
			}
			if t.closed {
				p.ClosePath()
			}
		}
		return p.paint(t.pen)
	case disc:
		at := p.on(t.at)
		p.DrawCircle(at.x, at.y, pixels*t.r)
		return p.paint(t.pen)
	case text:
		return p.text(t)
	}
	return nil
}

// paint fills and outlines what was laid down.
func (p *picture) paint(of pen) error {
	if of.fill != noInk {
		if of.texture == plain {
			tint := of.tint
			if tint == 0 {
				tint = 1
			}
			p.SetFillStyle(gg.NewSolidPattern(p.colour(of.fill, tint)))
		} else {
			square := picture{Context: gg.NewContext(pixels*tile, pixels*tile)}
			for _, s := range of.tile() {
				if err := square.shape(s); err != nil {
					return err
				}
			}
			p.SetFillStyle(gg.NewSurfacePattern(square.Image(), gg.RepeatBoth))
		}
		p.FillPreserve()
	}
	if of.stroke != noInk {
		p.SetStrokeStyle(gg.NewSolidPattern(p.colour(of.stroke, 1)))
		p.SetLineWidth(pixels * of.width)
		dash := make([]float64, len(of.dash))
		for i, length := range of.dash {
			dash[i] = pixels * length
		}
		p.SetDash(dash...)
		p.StrokePreserve()
	}
	p.ClearPath()
	return nil
}

func (p *picture) text(t text) error {
	key := faceKey{t.size, t.bold}
	face, ok := p.faces[key]
	if !ok {
		var err error
		face, err = opentype.NewFace(cutOf(t.bold).font, &opentype.FaceOptions{Size: pixels * t.size, DPI: 72})
		if err != nil {
			return fmt.Errorf("chart typeface: %w", err)
		}
		p.faces[key] = face
	}
	p.SetFontFace(face)
	p.SetColor(p.colour(t.ink, 1))
	at := p.on(point{t.box().left, t.at.y})
	p.DrawString(t.words, at.x, at.y)
	return nil
}
