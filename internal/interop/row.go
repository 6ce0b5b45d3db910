package interop

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"dwellbook/internal/line"
)

// Problem is one thing wrong in a row: the column, and what to put there.
type Problem struct {
	Column  string // our name of it; empty: of the row as a whole
	What    line.Message
	Allowed line.Message
}

// longestCell is the length in characters above which a cell is no ward, bed,
// reference or name but something slipped into the wrong column.
const longestCell = 200

// row is one line of a sheet, read.
type row struct {
	number int
	text   []string
	cells  map[string]string // by column, trimmed

	subject  line.ID
	lineID   string
	bed      string
	ref      string
	operator string
	ward     line.ID
	zone     *time.Location
	site     line.Site
	side     line.Side
	gauge    line.Gauge
	asepsis  line.Asepsis
	material line.Material
	reason   line.Reason
	attempts int
	score    *int

	inserted, dressed, reviewed, removed moment

	placed    moment // inserted; where blank, when the line was first seen
	firstSeen string // the column that was taken from; "as-of" where none has a time

	problems []Problem
}

func (r *row) bad(column, what, allowed string, args ...any) {
	r.problems = append(r.problems, Problem{column, line.Say(what, args...), line.Say(allowed, args...)})
}

// reader reads the rows of one sheet.
type reader struct {
	SheetOptions
	ids     identity
	columns map[string][]int // our column: where its parts stand in a row
	width   int              // of the heading row
}

func (s *reader) read(number int, text []string) *row {
	r := &row{number: number, text: text, cells: map[string]string{}, zone: time.UTC}
	for column, places := range s.columns {
		r.cells[column] = s.cell(r, column, places, text)
	}
	if len(text) > s.width && strings.TrimSpace(strings.Join(text[s.width:], "")) != "" {
		r.bad("", "interop.extra", "interop.allow.extra", "headings", s.width, "cells", len(text))
	}
	s.names(r)
	s.codes(r)
	s.times(r)
	slices.SortStableFunc(r.problems, func(a, b Problem) int {
		return cmp.Compare(slices.Index(Columns, a.Column), slices.Index(Columns, b.Column))
	})
	return r
}

// cell joins the parts of a cell, and refuses what cannot be text.
func (s *reader) cell(r *row, column string, places []int, text []string) string {
	var parts []string
	for _, i := range places {
		if i < len(text) {
			if part := strings.TrimSpace(plain(strings.TrimSpace(text[i]))); part != "" {
				parts = append(parts, part)
			}
		}
	}
	cell := strings.Join(parts, " ")
	control := func(c rune) bool { return unicode.IsControl(c) && c != '\n' && c != '\r' && c != '\t' }
	switch {
	case !utf8.ValidString(cell) || strings.ContainsFunc(cell, control):
		r.bad(column, "interop.characters", "interop.allow.characters")
		return ""
	case utf8.RuneCountInString(cell) > longestCell:
		r.bad(column, "interop.long", "interop.allow.long", "n", longestCell)
		return ""
	}
	return cell
}

// value is a cell in which the sheet's words for "blank" are blank.
func (s *reader) value(r *row, column string) string {
	if cell := r.cells[column]; !slices.Contains(s.Mapping.blank, folded(cell)) {
		return cell
	}
	return ""
}

func (s *reader) names(r *row) {
	r.lineID, r.operator = r.cells["line_id"], r.cells["operator"]
	r.bed, r.ref = s.value(r, "bed"), s.value(r, "patient_ref")
	if r.lineID == "" {
		r.bad("line_id", "interop.blank", "interop.allow.line-id")
	}
	if r.ref != "" && !s.House.Reference(r.ref) {
		r.bad("patient_ref", "interop.reference", "interop.allow.reference", "word", r.ref)
	}
	r.subject = s.ids.of("patient", r.ref)
	if r.ref == "" {
		r.subject = s.ids.of("patient-of-line", r.lineID)
	}
	name := r.cells["ward"]
	if mapped, ok := s.Mapping.wards[folded(name)]; ok {
		name = mapped
	}
	id, zone, ok := s.House.Ward(name)
	switch {
	case name == "":
		r.bad("ward", "interop.blank", "interop.allow.ward")
	case !ok:
		r.bad("ward", "interop.ward", "interop.allow.ward", "word", name)
	default:
		r.ward = id
	}
	switch {
	case s.Mapping.zone != nil:
		r.zone = s.Mapping.zone
	case ok && zone != nil:
		r.zone = zone
	}
}

func (s *reader) codes(r *row) {
	m := &s.Mapping
	r.side = codeOf(s, r, "side", m.sides, sideSpellings)
	r.site = s.site(r)
	r.gauge = s.gauge(r)
	r.asepsis = codeOf(s, r, "asepsis", m.asepses, asepsisSpellings)
	r.material = codeOf(s, r, "dressing", m.dressings, dressingSpellings)
	r.reason = codeOf(s, r, "removal_reason", m.reasons, reasonSpellings)
	if n, ok := s.number(r, "attempts", attemptsRange); ok {
		r.attempts = n
	}
	if n, ok := s.number(r, "last_score", scoreRange); ok {
		r.score = &n
	}
}

// codeOf reads a code: the mapping's words first, then our own, then common spellings.
func codeOf[V line.Vocabulary](s *reader, r *row, column string, mapped, spelled map[string]line.Code[V]) line.Code[V] {
	code, err := spelledCode(s, r.cells[column], mapped, spelled)
	if err != nil {
		r.bad(column, "interop.code", "interop.allow.code", "word", r.cells[column], "column", column, "codes", words(line.Code[V](0)))
	}
	return code
}

func spelledCode[V line.Vocabulary](s *reader, cell string, mapped, spelled map[string]line.Code[V]) (line.Code[V], error) {
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
	if slices.Contains(s.Mapping.blank, word) {
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

// site is needed. It may carry the side, as in "L ACF".
func (s *reader) site(r *row) line.Site {
	cell := r.cells["site"]
	site, err := spelledCode(s, cell, s.Mapping.sites, siteSpellings)
	if parts := strings.Fields(cell); err != nil && len(parts) > 1 {
		last := len(parts) - 1
		for _, split := range [][2]string{{parts[0], strings.Join(parts[1:], " ")}, {parts[last], strings.Join(parts[:last], " ")}} {
			side, notSide := spelledCode(s, split[0], s.Mapping.sides, sideSpellings)
			found, notSite := spelledCode(s, split[1], s.Mapping.sites, siteSpellings)
			if notSide != nil || notSite != nil || side == 0 || found == 0 {
				continue
			}
			if r.side != 0 && r.side != side {
				r.bad("site", "interop.two-sides", "interop.allow.two-sides", "word", cell, "side", r.side)
			}
			r.side = side
			return found
		}
	}
	switch {
	case err != nil:
		r.bad("site", "interop.code", "interop.allow.code", "word", cell, "column", "site", "codes", words(line.Site(0)))
	case site == 0:
		r.bad("site", "interop.blank", "interop.allow.code", "column", "site", "codes", words(line.Site(0)))
	}
	return site
}

func (s *reader) gauge(r *row) line.Gauge {
	cell := s.value(r, "gauge")
	if g, ok := s.Mapping.gauges[folded(r.cells["gauge"])]; ok {
		return g
	}
	if g, ok := colourGauges[folded(cell)]; ok {
		return g
	}
	g, err := line.ParseGauge(cell)
	if err != nil {
		var sizes []string
		for _, g := range line.Gauges {
			sizes = append(sizes, strconv.Itoa(int(g)))
		}
		r.bad("gauge", "interop.gauge", "interop.allow.gauge", "word", cell, "codes", strings.Join(sizes, ", "))
	}
	return g
}

func (s *reader) number(r *row, column string, allowed span) (int, bool) {
	if n, ok := s.Mapping.numbers[column][folded(r.cells[column])]; ok {
		return n, true
	}
	cell := s.value(r, column)
	if cell == "" {
		return 0, false
	}
	n, err := strconv.Atoi(cell)
	if err != nil || !allowed.holds(n) {
		r.bad(column, "interop.number", "interop.allow.number", "word", cell, "column", column, "least", allowed.least, "most", allowed.most)
		return 0, false
	}
	return n, true
}
