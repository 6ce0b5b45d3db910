package interop

import (
	"cmp"
	"slices"
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
	cells  *[columnCount]string // trimmed

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

	firstTime line.Answer // of an episode: whether the first attempt succeeded

	inserted, dressed, reviewed, removed moment

	placed    moment // inserted; where blank, when the line was first seen
	firstSeen string // the column that was taken from; AsOf where none has a time

	problems []Problem
}

func problem(c column, what, allowed string, args ...any) Problem {
	return Problem{c.String(), line.Say(what, args...), line.Say(allowed, args...)}
}

func (r *row) bad(c column, what, allowed string, args ...any) {
	r.problems = append(r.problems, problem(c, what, allowed, args...))
}

// sortProblems puts them in the order of the columns.
func sortProblems(problems []Problem) {
	slices.SortStableFunc(problems, func(a, b Problem) int {
		return cmp.Compare(slices.Index(columnNames[:], a.Column), slices.Index(columnNames[:], b.Column))
	})
}

// reader reads what every table of lines may say in a row.
type reader struct {
	layout
	mapping *Mapping
	latest  line.Minute // what lies after it is in the future

	sites    lexicon[place]
	sides    lexicon[line.Side]
	gauges   lexicon[line.Gauge]
	asepses  lexicon[line.Asepsis]
	reasons  lexicon[line.Reason]
	attempts lexicon[count]
}

func newReader(l layout, m *Mapping, now time.Time) reader {
	return reader{
		layout: l, mapping: m, latest: line.MinuteOf(now.Add(line.ClockTolerance)),
		sites:    placeCodes(m),
		sides:    codes(m, sideColumn, m.sides, sideSpellings),
		gauges:   gauges(m),
		asepses:  codes(m, asepsisColumn, m.asepses, asepsisSpellings),
		reasons:  codes(m, reasonColumn, m.reasons, reasonSpellings),
		attempts: counts(m, attemptsColumn, m.attempts, attemptsRange),
	}
}

// cut takes the cells of the columns out of a record.
func (s *reader) cut(r *row, record []string, columns []column) {
	for _, c := range columns {
		r.cells[c] = s.cell(r, c, record)
	}
	if len(record) > s.width && !blank(record[s.width:]) {
		r.bad(wholeRow, "interop.extra", "interop.allow.extra", "headings", s.width, "cells", len(record))
	}
}

// cell joins the parts of a cell, and refuses what cannot be text.
func (s *reader) cell(r *row, c column, record []string) string {
	places := s.places[c]
	if len(places) == 1 && places[0] < len(record) && ordinary(record[places[0]]) {
		return record[places[0]]
	}
	var parts []string
	for _, i := range places {
		if i < len(record) {
			if part := strings.TrimSpace(plain(strings.TrimSpace(record[i]))); part != "" {
				parts = append(parts, part)
			}
		}
	}
	cell := strings.Join(parts, " ")
	control := func(c rune) bool { return unicode.IsControl(c) && c != '\n' && c != '\r' && c != '\t' }
	switch {
	case !utf8.ValidString(cell) || strings.ContainsFunc(cell, control):
		r.bad(c, "interop.characters", "interop.allow.characters")
		return ""
	case utf8.RuneCountInString(cell) > longestCell:
		r.bad(c, "interop.long", "interop.allow.long", "n", longestCell)
		return ""
	}
	return cell
}

// ordinary reports, quickly, that a cell is read as it stands.
func ordinary(cell string) bool {
	if cell == "" || len(cell) > longestCell || cell[0] == ' ' || cell[0] == '\'' || cell[len(cell)-1] == ' ' {
		return cell == ""
	}
	for i := range len(cell) {
		if cell[i] < ' ' || cell[i] > '~' {
			return false
		}
	}
	return true
}

func (s *reader) codes(r *row) {
	r.side = lookUp(&s.sides, r, sideColumn)
	at := lookUp(&s.sites, r, siteColumn)
	if r.site = at.site; at.side != 0 {
		if r.side != 0 && r.side != at.side {
			r.bad(siteColumn, "interop.two-sides", "interop.allow.two-sides", "word", r.cells[siteColumn], "side", r.side)
		}
		r.side = at.side
	}
	r.gauge = lookUp(&s.gauges, r, gaugeColumn)
	r.asepsis = lookUp(&s.asepses, r, asepsisColumn)
	r.reason = lookUp(&s.reasons, r, reasonColumn)
	r.attempts = lookUp(&s.attempts, r, attemptsColumn).n
}

// value is a cell in which the sheet's words for "blank" are blank.
func (s *reader) value(r *row, c column) string { return s.mapping.said(r.cells[c]) }
