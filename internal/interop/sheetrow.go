package interop

import (
	"time"

	"dwellbook/internal/line"
)

// sheetColumns are all that a sheet may have.
var sheetColumns = func() []column {
	var all []column
	for c := lineIDColumn; c <= reasonColumn; c++ {
		all = append(all, c)
	}
	return all
}()

// sheetReader reads the rows of one sheet: each with its patient and ward.
type sheetReader struct {
	reader
	SheetOptions
	ids       identity
	materials lexicon[line.Material]
	scores    lexicon[count]
}

func newSheetReader(o SheetOptions, l layout) *sheetReader {
	s := &sheetReader{SheetOptions: o, ids: identity(o.Source)}
	m := &s.Mapping
	s.reader = newReader(l, m, o.Now)
	s.materials = codes(m, dressingColumn, m.dressings, dressingSpellings)
	s.scores = counts(m, scoreColumn, m.scores, scoreRange)
	return s
}

func (s *sheetReader) row(number int, text []string) *row {
	r := &row{number: number, text: text, cells: new([columnCount]string), zone: time.UTC}
	s.cut(r, text, sheetColumns)
	s.names(r)
	s.codes(r)
	r.material = lookUp(&s.materials, r, dressingColumn)
	s.times(r)
	s.score(r)
	s.settle(r)
	sortProblems(r.problems)
	return r
}

func (s *sheetReader) names(r *row) {
	r.lineID, r.operator = r.cells[lineIDColumn], r.cells[operatorColumn]
	r.bed, r.ref = s.value(r, bedColumn), s.value(r, refColumn)
	if r.lineID == "" {
		r.bad(lineIDColumn, "interop.blank", "interop.allow.line-id")
	}
	if r.ref != "" && !s.House.Reference(r.ref) {
		r.bad(refColumn, "interop.reference", "interop.allow.reference", "word", r.ref)
	}
	r.subject = s.ids.of("patient", r.ref)
	if r.ref == "" {
		r.subject = s.ids.of("patient-of-line", r.lineID)
	}
	name := s.mapping.ward(r.cells[wardColumn])
	id, zone, ok := s.House.Ward(name)
	switch {
	case name == "":
		r.bad(wardColumn, "interop.blank", "interop.allow.ward")
	case !ok:
		r.bad(wardColumn, "interop.ward", "interop.allow.ward", "word", name)
	default:
		r.ward = id
	}
	switch {
	case s.mapping.zone != nil:
		r.zone = s.mapping.zone
	case ok && zone != nil:
		r.zone = zone
	}
}

func (s *sheetReader) score(r *row) {
	score := lookUp(&s.scores, r, scoreColumn)
	if !score.given {
		return
	}
	r.score = &score.n
	if r.cells[reviewedColumn] == "" {
		r.bad(reviewedColumn, "interop.score-when", "interop.allow.score-when")
	}
}

// settle says of a line of which the row tells no time that it was first seen
// when the sheet was made, and that one found gone was missed by then.
func (s *sheetReader) settle(r *row) {
	if !r.placed.given() {
		at := line.MinuteOf(s.AsOf)
		r.placed, r.firstSeen = moment{at, at + 1, line.NotKnown}, AsOf
	}
	if r.reason == line.FoundGone && !r.removed.given() {
		r.removed = exact(max(line.MinuteOf(s.AsOf), r.latest()))
	}
}
