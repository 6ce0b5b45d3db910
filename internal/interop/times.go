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
	r.inserted = s.time(r, "inserted_at")
	r.dressed = s.time(r, "dressed_at")
	r.reviewed = s.time(r, "last_review_at")
	r.removed = s.time(r, "removed_at")
	s.order(r)
	if r.score != nil && r.cells["last_review_at"] == "" {
		r.bad("last_review_at", "interop.score-when", "interop.allow.score-when")
	}
	if r.reason != 0 && r.reason != line.FoundGone && s.value(r, "removed_at") == "" {
		r.bad("removed_at", "interop.removal-when", "interop.allow.removal-when")
	}
	s.place(r)
	s.remove(r)
}

func (s *reader) time(r *row, column string) moment {
	cell := strings.Join(strings.Fields(s.value(r, column)), " ")
	if cell == "" {
		return moment{}
	}
	m, err := readTime(cell, s.Mapping.patterns, r.zone)
	var wrong *timeError
	switch {
	case errors.As(err, &wrong):
		var shown []string
		for _, p := range s.Mapping.patterns {
			shown = append(shown, p.shown)
		}
		r.bad(column, wrong.what, wrong.allowed, "word", cell, "formats", strings.Join(shown, ", "))
	case m.at > line.MinuteOf(s.Now.Add(line.ClockTolerance)):
		r.bad(column, "interop.future", "interop.allow.future", "word", cell)
	case m.at < line.Earliest:
		r.bad(column, "interop.early", "interop.allow.early", "word", cell)
	default:
		return m
	}
	return moment{}
}

// order refuses what cannot have come before or after the other. A date only
// may be any hour of its day.
func (s *reader) order(r *row) {
	check := func(early, late string, a, b moment) {
		if a.given() && b.given() && b.surelyBefore(a) {
			r.bad(late, "interop.order", "interop.allow.order", "word", r.cells[late], "other", early, "cell", r.cells[early])
		}
	}
	check("inserted_at", "dressed_at", r.inserted, r.dressed)
	check("inserted_at", "last_review_at", r.inserted, r.reviewed)
	check("inserted_at", "removed_at", r.inserted, r.removed)
	check("dressed_at", "removed_at", r.dressed, r.removed)
	check("last_review_at", "removed_at", r.reviewed, r.removed)
}

// place settles when the line was placed; where that is blank, when it was
// first seen: the earliest time in the row, else the moment the sheet is of.
func (s *reader) place(r *row) {
	if r.placed = r.inserted; r.placed.given() {
		return
	}
	r.placed, r.firstSeen = moment{line.MinuteOf(s.AsOf), line.MinuteOf(s.AsOf) + 1, line.NotKnown}, AsOf
	found := false
	for _, c := range []struct {
		column string
		moment
	}{{"last_review_at", r.reviewed}, {"dressed_at", r.dressed}, {"removed_at", r.removed}} {
		if c.given() && (!found || c.at < r.placed.at) {
			r.placed.at, r.placed.until, r.firstSeen, found = c.at, c.until, c.column, true
		}
	}
}

// remove settles when and why the line came out. A removal of which only the
// date is known lies after what else is recorded of that day.
func (s *reader) remove(r *row) {
	last := slices.Max([]line.Minute{r.placed.at, r.dressed.at, r.reviewed.at})
	switch {
	case r.removed.given():
		if r.reason == 0 {
			r.reason = line.OtherReason
		}
		if r.removed.precision == line.ToDay {
			r.removed.at = max(r.removed.at, last)
		}
	case r.reason == line.FoundGone || s.Mapping.foundGone:
		r.reason = line.FoundGone
		r.removed = exact(max(line.MinuteOf(s.AsOf), last))
	}
}

// latest is the last moment the row tells of.
func (r *row) latest() line.Minute {
	return slices.Max([]line.Minute{r.placed.at, r.dressed.at, r.reviewed.at, r.removed.at})
}
