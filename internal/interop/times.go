package interop

import (
	"errors"
	"slices"
	"strings"

	"dwellbook/internal/line"
)

// AsOf is what Row.FirstSeen says where no time in the row tells when the line was first seen.
const AsOf = "as-of"

func (s *reader) times(r *row) {
	r.inserted = s.time(r, insertedColumn)
	r.dressed = s.time(r, dressedColumn)
	r.reviewed = s.time(r, reviewedColumn)
	r.removed = s.time(r, removedColumn)
	s.order(r)
	if r.reason != 0 && r.reason != line.FoundGone && s.value(r, removedColumn) == "" {
		r.bad(removedColumn, "interop.removal-when", "interop.allow.removal-when")
	}
	r.place()
	s.remove(r)
}

func (s *reader) time(r *row, c column) moment {
	cell := s.value(r, c)
	if cell == "" {
		return moment{}
	}
	if !ordinary(cell) || strings.Contains(cell, "  ") {
		cell = strings.Join(strings.Fields(cell), " ")
	}
	m, err := readTime(cell, s.mapping.patterns, r.zone)
	var wrong *timeError
	switch {
	case errors.As(err, &wrong):
		var shown []string
		for _, p := range s.mapping.patterns {
			shown = append(shown, p.shown)
		}
		r.bad(c, wrong.what, wrong.allowed, "word", cell, "formats", strings.Join(shown, ", "))
	case m.at > s.latest:
		r.bad(c, "interop.future", "interop.allow.future", "word", cell)
	case m.at < line.Earliest:
		r.bad(c, "interop.early", "interop.allow.early", "word", cell)
	default:
		return m
	}
	return moment{}
}

// order refuses what cannot have come before or after the other. A date only
// may be any hour of its day.
func (s *reader) order(r *row) {
	check := func(early, late column, a, b moment) {
		if a.given() && b.given() && b.surelyBefore(a) {
			r.bad(late, "interop.order", "interop.allow.order", "word", r.cells[late], "other", early.String(), "cell", r.cells[early])
		}
	}
	check(insertedColumn, dressedColumn, r.inserted, r.dressed)
	check(insertedColumn, reviewedColumn, r.inserted, r.reviewed)
	check(insertedColumn, removedColumn, r.inserted, r.removed)
	check(dressedColumn, removedColumn, r.dressed, r.removed)
	check(reviewedColumn, removedColumn, r.reviewed, r.removed)
}

// place settles when the line was placed; where that is blank, when it was
// first seen: the earliest time in the row, if it has one.
func (r *row) place() {
	if r.placed = r.inserted; r.placed.given() {
		return
	}
	for _, seen := range []struct {
		column
		moment
	}{{reviewedColumn, r.reviewed}, {dressedColumn, r.dressed}, {removedColumn, r.removed}} {
		if seen.given() && (!r.placed.given() || seen.at < r.placed.at) {
			r.placed, r.firstSeen = moment{seen.at, seen.until, line.NotKnown}, seen.String()
		}
	}
}

// remove settles why the line came out. A removal of which only the date is
// known lies after what else is recorded of that day.
func (s *reader) remove(r *row) {
	switch {
	case r.removed.given():
		if r.reason == 0 {
			r.reason = line.OtherReason
		}
		if r.removed.precision == line.ToDay {
			r.removed.at = r.latest()
		}
	case s.mapping.foundGone:
		r.reason = line.FoundGone
	}
}

// latest is the last moment the row tells of.
func (r *row) latest() line.Minute {
	return slices.Max([]line.Minute{r.placed.at, r.dressed.at, r.reviewed.at, r.removed.at})
}
