package line

import "slices"

// Contradiction is an entry that cannot be true with the rest: a conflict of
// a line, or a move that the stays do not allow.
type Contradiction struct {
	Mark Mark
	Word string // after-removal, …; not-in-ward and already-in-ward of moves
}

// Contradictions are those of the history and, from the marks that stand,
// those of the stays: moved or discharged while in no ward, admitted while in one.
func Contradictions(history *Subject, standing []Mark) []Contradiction {
	var list []Contradiction
	for _, c := range history.Conflicts {
		list = append(list, Contradiction{c.Mark, whyNames[c.Why]})
	}
	var moves []Mark
	for _, m := range standing {
		if m.Kind == KindAdmission || m.Kind == KindTransfer || m.Kind == KindDischarge && m.Part == 0 {
			moves = append(moves, m)
		}
	}
	slices.SortFunc(moves, inOrder)
	in := false
	for _, m := range moves {
		switch {
		case m.Kind == KindAdmission && in:
			list = append(list, Contradiction{m, "already-in-ward"})
		case m.Kind != KindAdmission && !in:
			list = append(list, Contradiction{m, "not-in-ward"})
		}
		in = m.Kind != KindDischarge
	}
	return list
}
