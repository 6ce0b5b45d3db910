package audit

import (
	"slices"

	"dwellbook/internal/line"
)

// several-lines: a patient with 3 or more lines in at once.

type severalValues struct{ lines int }

var severalLinesRule = rule{
	settings: []setting{
		number("lines", func(v *values) *int { return &v.several.lines }, 2, 20),
	},
	concerns: severalConcerns,
}

func severalConcerns(s *scene, p *Policy) {
	if len(s.h.Lines) < p.several.lines {
		return
	}
	var turns []line.Minute // when a line goes in or comes out
	for _, l := range s.h.Lines {
		turns = append(turns, l.Placed, l.Out)
	}
	slices.Sort(turns)
	turns = slices.Compact(turns)
	for i, from := range turns[:len(turns)-1] {
		n := 0
		for _, l := range s.h.Lines {
			if l.InSitu(from) {
				n++
			}
		}
		if n < p.several.lines {
			continue
		}
		if c := s.concern(severalLines, p, 0, line.Stretch{From: from, Until: turns[i+1]}); c != nil {
			c.Why = line.Say("audit.several-lines.why", "n", n)
			c.Do = line.Say("audit.several-lines.do", "n", p.several.lines)
		}
	}
}
