package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// values are numbers of every kind that could reach a chart.
func values() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.Float64Range(0, 1), rapid.Float64Range(0, 400), rapid.Float64(),
		rapid.SampledFrom([]float64{0, 1, -1, 1e-12, 1e11, 1e308, math.NaN(), math.Inf(1), math.Inf(-1)}))
}

// phrases are words as long and as odd as people write them.
func phrases() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.StringMatching(`[A-Z][a-z]{2,9}( [a-z]{2,14}){0,5}`), rapid.String(),
		rapid.SampledFrom([]string{"", "<b>&\"'", "\x00\x1f", "Pneumonoultramicroscopicsilicovolcanoconiosis ward", "−12 %"}))
}

// charts draws any chart from random data.
func charts(t *rapid.T) Chart {
	v := func() float64 { return values().Draw(t, "value") }
	w := func() string { return phrases().Draw(t, "words") }
	few := func(most int) int { return rapid.IntRange(0, most).Draw(t, "count") }
	about := About{ID: "c", Title: w(), Desc: w()}
	line := Line{Name: w(), At: v()}
	axis := Axis{Label: w(), Share: rapid.Bool().Draw(t, "share")}
	switch rapid.IntRange(0, 5).Draw(t, "kind") {
	case 0:
		c := Curves{About: about, Hours: w(), Share: w(), AtRisk: w(), Until: v()}
		for range few(9) {
			n := rapid.IntRange(0, 99999).Draw(t, "n")
			g := Curve{Name: w(), Note: w(), Median: v(), AtRisk: func(float64) int { return n }}
			for range few(8) {
				g.Steps = append(g.Steps, Step{v(), v(), v(), v()})
			}
			c.Groups = append(c.Groups, g)
		}
		return c
	case 1:
		c := Stacked{About: about, Hours: w(), Share: w()}
		for range few(8) {
			c.At = append(c.At, v())
		}
		for range few(9) {
			l := Layer{Name: w(), Blank: rapid.Bool().Draw(t, "blank")}
			for range few(8) {
				l.Shares = append(l.Shares, v())
			}
			c.Layers = append(c.Layers, l)
		}
		return c
	case 2:
		c := Intervals{About: about, Axis: axis, Reference: line}
		for range few(12) {
			c.Rows = append(c.Rows, Interval{w(), v(), v(), v(), w(), w()})
		}
		return c
	case 3:
		c := Control{About: about, Order: w(), Values: axis, Centre: w(), Upper: w(), Lower: w()}
		for range few(40) {
			c.Points = append(c.Points, ControlPoint{w(), v(), v(), v(), v(), rapid.SampledFrom([]string{"", "8 on one side", "beyond"}).Draw(t, "signal"), rapid.Bool().Draw(t, "better"), rapid.Bool().Draw(t, "reset")})
		}
		return c
	case 4:
		c := Funnel{About: about, Size: axis, Rate: axis, Centre: line}
		for range few(25) {
			c.Units = append(c.Units, Unit{w(), v(), v(), rapid.Bool().Draw(t, "outside"), rapid.Bool().Draw(t, "better")})
		}
		for range few(2) {
			l := FunnelLimit{Name: w()}
			for range few(12) {
				l.Points = append(l.Points, LimitPoint{v(), v(), v()})
			}
			c.Limits = append(c.Limits, l)
		}
		return c
	default:
		c := Shares{About: about}
		for range few(9) {
			c.Parts = append(c.Parts, Part{w(), v(), w()})
		}
		return c
	}
}

func TestDraw_KeepsWordsApartAndOnTheSheet(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := charts(t).Draw(Size(rapid.IntRange(0, 1).Draw(t, "size")))
		sheet := box{0, 0, d.sheet().width, d.height}
		var texts []text
		for _, s := range d.shapes {
			if of, ok := s.(text); ok {
				require.Truef(t, of.box().within(sheet), "%s %q at %v leaves the sheet %v", of.class, of.words, of.box(), sheet)
				for _, other := range texts {
					require.Falsef(t, of.box().meets(other.box()), "%s %q meets %s %q", of.class, of.words, other.class, other.words)
				}
				texts = append(texts, of)
			}
		}
	})
}

func TestDraw_KeepsMarksOnTheSheet(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := charts(t).Draw(Size(rapid.IntRange(0, 1).Draw(t, "size")))
		on := func(p point) {
			require.True(t, p.x >= 0 && p.x <= d.sheet().width && p.y >= 0 && p.y <= d.height, "%v leaves the sheet", p)
		}
		for _, s := range d.shapes {
			switch of := s.(type) {
			case path:
				for _, run := range of.runs {
					for _, p := range run {
						on(p)
					}
				}
			case disc:
				on(of.at)
			}
		}
	})
}

var notNumbers = regexp.MustCompile(`(?i)="[^"]*(NaN|Inf\b)[^"]*"`)

func TestSVG_IsWellFormedAndHoldsOnlyNumbers(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := charts(t).Draw(Size(rapid.IntRange(0, 1).Draw(t, "size")))
		var page, file bytes.Buffer
		require.NoError(t, d.Render(t.Context(), &page))
		require.NoError(t, d.WriteSVG(&file))
		for _, svg := range []*bytes.Buffer{&page, &file} {
			require.NotRegexp(t, notNumbers, svg.String())
			ids := map[string]bool{}
			for dec := xml.NewDecoder(bytes.NewReader(svg.Bytes())); ; {
				token, err := dec.Token()
				if errors.Is(err, io.EOF) {
					break
				}
				require.NoError(t, err)
				element, is := token.(xml.StartElement)
				if !is {
					continue
				}
				for _, a := range element.Attr {
					require.NotEqual(t, "style", a.Name.Local, "pages allow no inline style")
					if a.Name.Local == "id" {
						require.False(t, ids[a.Value], "id %s twice", a.Value)
						ids[a.Value] = true
					}
				}
			}
		}
	})
}

func TestPNG_HasTwoPixelsToTheUnit(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := charts(t).Draw(Narrow)
		var out bytes.Buffer
		require.NoError(t, d.WritePNG(&out))
		size, err := png.DecodeConfig(&out)
		require.NoError(t, err)
		f := d.framed()
		require.Equal(t, int(2*f.width), size.Width)
		require.Equal(t, int(2*f.height), size.Height)
	})
}

// A page 320 pixels wide has margins of 12.75 (0.75 rem of 17 pixels) and a
// sheet's border and padding of 18 at each side (web/static/dwellbook.css).
func TestNarrow_IsReadOnTheSmallestPhone(t *testing.T) {
	t.Parallel()
	s := sheets[Narrow]
	require.GreaterOrEqual(t, s.kind*(320-2*12.75-2*18)/s.width, 12.0)
}
