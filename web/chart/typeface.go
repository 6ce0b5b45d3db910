package chart

import (
	"embed"
	"fmt"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The house's typeface in two fixed weights, made from the variable file in
// web/static (fontTools, instancer); licence: web/static.
//
//go:embed typeface/*.ttf
var typefaces embed.FS

// cut is one weight of the typeface with the advance of each of its letters,
// in parts of the type size.
type cut struct {
	font    *sfnt.Font
	advance map[rune]float64
	missing float64 // advance of the sign that stands for a letter it lacks
}

var cuts = sync.OnceValue(func() [2]cut { return [2]cut{loadCut("regular"), loadCut("bold")} })

// loadCut reads a file that stands in the binary: one that cannot be read is a
// fault in the build, so it panics.
func loadCut(name string) cut {
	raw, err := typefaces.ReadFile("typeface/" + name + ".ttf")
	if err != nil {
		panic(fmt.Sprintf("chart: %v", err))
	}
	f, err := sfnt.Parse(raw)
	if err != nil {
		panic(fmt.Sprintf("chart: typeface %s: %v", name, err))
	}
	const em = 1000
	var buf sfnt.Buffer
	advance := func(g sfnt.GlyphIndex) float64 {
		a, err := f.GlyphAdvance(&buf, g, fixed.I(em), font.HintingNone)
		if err != nil {
			panic(fmt.Sprintf("chart: typeface %s: %v", name, err))
		}
		return float64(a) / 64 / em
	}
	c := cut{font: f, advance: map[rune]float64{}, missing: advance(0)}
	for r := ' '; r < 0x2300; r++ {
		if g, err := f.GlyphIndex(&buf, r); err == nil && g != 0 {
			c.advance[r] = advance(g)
		}
	}
	return c
}

func cutOf(bold bool) cut {
	if bold {
		return cuts()[1]
	}
	return cuts()[0]
}

// width is how wide words are set, without kerning, which only ever matters by
// a hair.
func width(words string, size float64, bold bool) float64 {
	c := cutOf(bold)
	w := 0.0
	for _, r := range words {
		if a, ok := c.advance[r]; ok {
			w += a
		} else {
			w += c.missing
		}
	}
	return w * size
}

// widest is the width of the longest of some words.
func widest(words []string, size float64, bold bool) float64 {
	w := 0.0
	for _, s := range words {
		w = max(w, width(s, size, bold))
	}
	return w
}

// fit shortens words to a room, ending in an ellipsis where they were cut.
func fit(words string, size float64, bold bool, room float64) string {
	words = strings.Join(strings.Fields(words), " ")
	if width(words, size, bold) <= room {
		return words
	}
	letters := []rune(words)
	for n := len(letters) - 1; n > 0; n-- {
		if s := strings.TrimRight(string(letters[:n]), " ,;") + "…"; width(s, size, bold) <= room {
			return s
		}
	}
	return ""
}

// wrap sets words in at most so many lines of a room; what does not go in is cut.
func wrap(words string, size float64, bold bool, room float64, lines int) []string {
	var set []string
	for rest := strings.Fields(words); len(rest) > 0 && lines > 0; {
		if len(set) == lines-1 {
			return append(set, fit(strings.Join(rest, " "), size, bold, room))
		}
		n := 1
		for n < len(rest) && width(strings.Join(rest[:n+1], " "), size, bold) <= room {
			n++
		}
		set = append(set, fit(strings.Join(rest[:n], " "), size, bold, room))
		rest = rest[n:]
	}
	return set
}
