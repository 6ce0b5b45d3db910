package interop

import (
	"slices"
	"strconv"
	"strings"

	"dwellbook/internal/line"
)

// lexicon reads the cells of one column, each different one once: a table of a
// million rows has few words.
type lexicon[C any] struct {
	read  func(cell string) (C, *Problem)
	known map[string]meaning[C]
}

type meaning[C any] struct {
	code    C
	problem *Problem
}

// mostKnown bounds what a lexicon keeps of a column that is no column of words.
const mostKnown = 10_000

func lexiconOf[C any](read func(cell string) (C, *Problem)) lexicon[C] {
	return lexicon[C]{read, map[string]meaning[C]{}}
}

func (l *lexicon[C]) of(cell string) meaning[C] {
	m, known := l.known[cell]
	if !known {
		m.code, m.problem = l.read(cell)
		if len(l.known) < mostKnown {
			l.known[strings.Clone(cell)] = m // a cell holds on to its whole row
		}
	}
	return m
}

// lookUp reads a row's cell.
func lookUp[C any](l *lexicon[C], r *row, c column) C {
	m := l.of(r.cells[c])
	if m.problem != nil {
		r.problems = append(r.problems, *m.problem)
	}
	return m.code
}

// codes reads codes: the mapping's words first, then our own, then common spellings.
func codes[V line.Vocabulary](m *Mapping, c column, mapped, spelled map[string]line.Code[V]) lexicon[line.Code[V]] {
	return lexiconOf(func(cell string) (line.Code[V], *Problem) {
		code, err := spelledCode(m, cell, mapped, spelled)
		if err != nil {
			return 0, notCode(c, cell, code)
		}
		return code, nil
	})
}

func notCode[V line.Vocabulary](c column, cell string, zero line.Code[V]) *Problem {
	p := problem(c, "interop.code", "interop.allow.code", "word", cell, "column", c.String(), "codes", words(zero))
	return &p
}

func spelledCode[V line.Vocabulary](m *Mapping, cell string, mapped, spelled map[string]line.Code[V]) (line.Code[V], error) {
	word := folded(cell)
	if code, ok := mapped[word]; ok {
		return code, nil
	}
	var code line.Code[V]
	err := code.Parse(word)
	if err == nil {
		return code, nil
	}
	if code, ok := spelled[word]; ok {
		return code, nil
	}
	if m.isBlank(cell) {
		return 0, nil
	}
	return 0, err
}

func words[V line.Vocabulary](c line.Code[V]) string {
	var all []string
	for _, w := range c.All() {
		all = append(all, w.String())
	}
	return strings.Join(all, ", ")
}

// place is a site with the side, where the cell says it.
type place struct {
	site line.Site
	side line.Side
}

// placeCodes reads sites, which are needed. They may carry the side, as in "L ACF".
func placeCodes(m *Mapping) lexicon[place] {
	return lexiconOf(func(cell string) (place, *Problem) {
		site, err := spelledCode(m, cell, m.sites, siteSpellings)
		switch {
		case err == nil && site != 0:
			return place{site: site}, nil
		case err == nil:
			p := problem(siteColumn, "interop.blank", "interop.allow.code", "column", siteColumn.String(), "codes", words(site))
			return place{}, &p
		}
		if parts := strings.Fields(cell); len(parts) > 1 {
			last := len(parts) - 1
			for _, split := range [][2]string{{parts[0], strings.Join(parts[1:], " ")}, {parts[last], strings.Join(parts[:last], " ")}} {
				side, notSide := spelledCode(m, split[0], m.sides, sideSpellings)
				found, notSite := spelledCode(m, split[1], m.sites, siteSpellings)
				if notSide == nil && notSite == nil && side != 0 && found != 0 {
					return place{found, side}, nil
				}
			}
		}
		return place{}, notCode(siteColumn, cell, site)
	})
}

func gauges(m *Mapping) lexicon[line.Gauge] {
	return lexiconOf(func(cell string) (line.Gauge, *Problem) {
		if g, ok := m.gauges[folded(cell)]; ok {
			return g, nil
		}
		said := m.said(cell)
		if g, ok := colourGauges[folded(said)]; ok {
			return g, nil
		}
		g, err := line.ParseGauge(said)
		if err == nil {
			return g, nil
		}
		var sizes []string
		for _, g := range line.Gauges {
			sizes = append(sizes, strconv.Itoa(int(g)))
		}
		p := problem(gaugeColumn, "interop.gauge", "interop.allow.gauge", "word", said, "codes", strings.Join(sizes, ", "))
		return 0, &p
	})
}

// count is a whole number, if the cell gives one.
type count struct {
	n     int
	given bool
}

func counts(m *Mapping, c column, mapped map[string]int, allowed span) lexicon[count] {
	return lexiconOf(func(cell string) (count, *Problem) {
		if n, ok := mapped[folded(cell)]; ok {
			return count{n, true}, nil
		}
		said := m.said(cell)
		if said == "" {
			return count{}, nil
		}
		n, err := strconv.Atoi(said)
		if err != nil || !allowed.holds(n) {
			p := problem(c, "interop.number", "interop.allow.number", "word", said, "column", c.String(), "least", allowed.least, "most", allowed.most)
			return count{}, &p
		}
		return count{n, true}, nil
	})
}

// said is a cell in which the sheet's words for "blank" are blank.
func (m *Mapping) said(cell string) string {
	if m.isBlank(cell) {
		return ""
	}
	return cell
}

func (m *Mapping) isBlank(cell string) bool {
	if cell == "" {
		return true
	}
	// Most times are no such word by their first digit, which folding leaves.
	starts := func(word string) bool { return strings.HasPrefix(word, cell[:1]) }
	if '0' <= cell[0] && cell[0] <= '9' && !slices.ContainsFunc(m.blank, starts) {
		return false
	}
	return slices.Contains(m.blank, folded(cell))
}
