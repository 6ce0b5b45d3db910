package audit

import (
	"cmp"
	"slices"

	"dwellbook/internal/line"
)

// look is something that can meet a recurring duty: a look at the site, a
// review that answers whether the line is needed, a site-check.
type look struct {
	at  line.Minute
	seq int64
	by  MetBy
}

// looks are in order.
type looks []look

// looksOf collects the reviews that count, and the removal.
func looksOf(l *line.Line, counts func(*line.Mark) bool) looks {
	list := make(looks, 0, len(l.Reviews)+1)
	for i := range l.Reviews {
		if m := &l.Reviews[i]; counts(m) {
			list = append(list, look{m.At, m.Seq, ByReview})
		}
	}
	if l.Removal != nil && !l.Gone() {
		list = append(list, look{l.Removal.At, l.Removal.Seq, ByRemoval})
	}
	return list
}

// from finds the first look at or after a moment; its place is len where there is none.
func (ls looks) from(at line.Minute) int {
	i, _ := slices.BinarySearchFunc(ls, at, func(l look, at line.Minute) int { return cmp.Compare(l.at, at) })
	return i
}

// resolve settles the recurring duties from first on that were not met in
// time: late by a look before the next of them fell due, else missed at that
// moment, or when the ward's part in the line ended.
func (s *scene) resolve(l *line.Line, first int, ls looks) {
	duties := s.duties[first:]
	slices.SortStableFunc(duties, func(a, b Duty) int { return cmp.Compare(a.Due, b.Due) })
	for i := range duties {
		d := &duties[i]
		if d.How != Open || d.Due > s.at {
			continue
		}
		ends := s.partEnds(l, d.Due)
		next := line.Far
		for _, later := range duties[i+1:] {
			if later.Due > d.Due {
				next = later.Due
				break
			}
		}
		k := ls.from(d.Due)
		switch {
		case k < len(ls) && ls[k].at < next && ls[k].at <= ends:
			d.met(MetLate, ls[k].at, ls[k].by)
		case min(next, ends) <= s.at:
			d.How, d.Ended = Missed, min(next, ends)
		default:
			s.until(min(next, ends))
		}
	}
}

// partEnds is when the ward's part in a line ends, for a duty due at the
// moment: at discharge, or at the last look at a line found gone.
func (s *scene) partEnds(l *line.Line, due line.Minute) line.Minute {
	ends := due // no ward has it: it was discharged in this very minute
	if stay, ok := s.stay(due); ok {
		ends = stay.Until
	}
	if l.Gone() {
		ends = min(ends, l.Out)
	}
	return ends
}
