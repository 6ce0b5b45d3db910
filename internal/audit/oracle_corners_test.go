package audit_test

import (
	"cmp"
	"slices"

	"dwellbook/internal/line"
)

// What several things in one minute come to, where the definitions leave it
// open: how the walk hears a patient's moves, and which lines it leaves out.

// movesInOrder are the patient's moves, in order.
func movesInOrder(marks []line.Mark) []line.Mark {
	var moves []line.Mark
	for _, m := range marks {
		if m.Kind == line.KindAdmission || m.Kind == line.KindTransfer || m.Kind == line.KindDischarge && m.Part == 0 {
			moves = append(moves, m)
		}
	}
	slices.SortFunc(moves, func(a, b line.Mark) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Seq, b.Seq)) })
	return moves
}

// withoutEmptyStays leaves out the moves that another follows in the same minute, but
// for an admission of a patient already in. Choice, the definition is open: a
// stay of no length is none.
func withoutEmptyStays(moves []line.Mark) []line.Mark {
	var stays []line.Mark
	in := false
	for i, m := range moves {
		if m.Kind == line.KindDischarge || m.Kind == line.KindAdmission && in || i+1 == len(moves) || m.At < moves[i+1].At {
			stays = append(stays, m)
			in = m.Kind != line.KindDischarge
		}
	}
	return stays
}

// lookedAtAsTheyMoved reports whether a look was in the very minute in which the patient
// came in or left, but recorded on the other side of the move; or a new dressing
// in the minute the patient came in; or any look in the minute of an admission
// of a patient already in. Choice, the definition is open: the engine counts
// the looks with the ward's stay, and no dressing changed as the stay starts.
func lookedAtAsTheyMoved(moves []line.Mark, l *line.Line) bool {
	looks := slices.Concat(l.Reviews, l.Checks, l.Dressings)
	in := false
	for _, m := range moves {
		was := in
		in = m.Kind != line.KindDischarge
		if in == was && m.Kind != line.KindAdmission {
			continue
		}
		if slices.ContainsFunc(looks, func(r line.Mark) bool {
			return r.At == m.At && (r.Seq < m.Seq == in || in && (was || r.Kind == line.KindDressing))
		}) {
			return true
		}
	}
	return false
}

// takenOutAsTheyCame reports whether the line came out in the very minute a ward took
// the patient in. Choice, the definition is open: the engine makes no duty of it.
func takenOutAsTheyCame(h *line.Subject, l *line.Line) bool {
	return slices.ContainsFunc(h.Stays, func(s line.Stay) bool { return s.From == l.Out })
}

// readmittedAtOnce reports whether the patient was discharged and admitted in
// one minute. The definitions have the discharge end what the ward owed; the
// engine takes the two stays for one, in every rule. It is left out here.
func readmittedAtOnce(h *line.Subject) bool {
	return slices.ContainsFunc(h.Discharges, func(d line.Mark) bool {
		return slices.ContainsFunc(h.Stays, func(s line.Stay) bool { return s.From == d.At })
	})
}
