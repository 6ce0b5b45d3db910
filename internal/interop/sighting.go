package interop

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// sightings tells what has been read of each line.
type sightings struct {
	place   map[string]int32 // by line_id: of its first row in Courses
	numbers []int            // by place: the row's line in the file
	unlike  map[string][]int // by line_id: lines in the file of rows that say different things of it
}

// again reports whether an earlier row told of the line. Two that say the same
// count once.
func (s *episodeReader) again(r *row, e *episode) bool {
	first, seen := s.seen.place[e.id]
	if !seen {
		if e.id != "" {
			e.id = strings.Clone(e.id) // a cell holds on to its whole row
			s.seen.place[e.id] = int32(len(s.Courses))
		}
		s.seen.numbers = append(s.seen.numbers, r.number)
		return false
	}
	before := s.at(first)
	before.course.Line = 0
	if before == *e {
		s.Repeated = append(s.Repeated, r.number)
		return true
	}
	if s.seen.unlike[before.id] == nil {
		s.seen.unlike[before.id] = []int{s.seen.numbers[first]}
	}
	s.seen.unlike[before.id] = append(s.seen.unlike[before.id], r.number)
	return true
}

// leaveUnlike takes out the rows that give one line_id different contents:
// nobody but the ward can say which holds.
func (s *episodeReader) leaveUnlike() {
	if len(s.seen.unlike) == 0 {
		return
	}
	left := map[int32]bool{}
	for id, numbers := range s.seen.unlike {
		left[s.seen.place[id]] = true
		for _, number := range numbers {
			s.Bad = append(s.Bad, BadRow{Number: number, Problems: []Problem{repeated(id, others(numbers, number))}})
		}
	}
	slices.SortFunc(s.Bad, func(a, b BadRow) int { return cmp.Compare(a.Number, b.Number) })
	all := s.Episodes
	s.Courses, s.IDs, s.Operator, s.Role, s.Attempts, s.FirstTime = nil, nil, nil, nil, nil, nil
	for i := range int32(len(all.Courses)) {
		if !left[i] {
			s.keep(all.at(i))
		}
	}
}

// mostNamed bounds how many lines of the file a problem names.
const mostNamed = 10

func others(numbers []int, own int) []string {
	var named []string
	for _, number := range numbers {
		switch {
		case number == own:
		case len(named) == mostNamed:
			return append(named, "…")
		default:
			named = append(named, strconv.Itoa(number))
		}
	}
	return named
}
