package interop

import (
	"cmp"
	"hash/maphash"
	"slices"
	"strconv"
	"strings"
)

// repeated is the problem of a row whose line_id stands with other content on other lines.
func repeated(lineID string, lines []string) Problem {
	return problem(lineIDColumn, "interop.repeated", "interop.allow.repeated", "word", lineID, "lines", strings.Join(lines, ", "))
}

// countOnce counts the rows that say the same of a line once. Rows that give one
// line_id two contents are all bad: nobody but the ward can say which holds.
func (s *episodeReader) countOnce() {
	left := map[int]bool{}
	for id, rows := range s.repeatedIDs() {
		first, unlike := s.at(rows[0]), rows[:1:1]
		for _, i := range rows[1:] {
			left[i] = true
			if s.at(i) == first {
				s.Repeated = append(s.Repeated, s.numbers[i])
			} else {
				unlike = append(unlike, i)
			}
		}
		if len(unlike) == 1 {
			continue
		}
		left[rows[0]] = true
		for _, i := range unlike {
			s.Bad = append(s.Bad, BadRow{Number: s.numbers[i], Problems: []Problem{repeated(id, s.linesOf(unlike, i))}})
		}
	}
	if len(left) == 0 {
		return
	}
	slices.Sort(s.Repeated)
	slices.SortFunc(s.Bad, func(a, b BadRow) int { return cmp.Compare(a.Number, b.Number) })
	all := s.Episodes
	s.Courses, s.IDs, s.Operator, s.Role, s.Attempts, s.FirstTime = nil, nil, nil, nil, nil, nil
	for i := range all.Courses {
		if !left[i] {
			s.keep(all.at(i))
		}
	}
}

// repeatedIDs finds the ids that stand more than once, and where. A table has
// few, so their hashes are compared first.
func (e *Episodes) repeatedIDs() map[string][]int {
	seed := maphash.MakeSeed()
	hashes := make([]uint64, len(e.IDs))
	for i, id := range e.IDs {
		hashes[i] = maphash.String(seed, id)
	}
	sorted := slices.Clone(hashes)
	slices.Sort(sorted)
	twice := map[uint64]bool{}
	for i := 1; i < len(sorted); i++ {
		if sorted[i] == sorted[i-1] {
			twice[sorted[i]] = true
		}
	}
	found := map[string][]int{}
	for i, id := range e.IDs {
		if id != "" && twice[hashes[i]] {
			found[id] = append(found[id], i)
		}
	}
	for id, rows := range found {
		if len(rows) == 1 {
			delete(found, id)
		}
	}
	return found
}

// mostNamed bounds how many lines of the file one problem names.
const mostNamed = 10

// linesOf are the lines in the file of all rows but one.
func (s *episodeReader) linesOf(rows []int, but int) []string {
	var lines []string
	for _, i := range rows {
		switch {
		case i == but:
		case len(lines) == mostNamed:
			return append(lines, "…")
		default:
			lines = append(lines, strconv.Itoa(s.numbers[i]))
		}
	}
	return lines
}
