package demo

import (
	"time"

	"dwellbook/internal/line"
)

// stay is one patient in the house, from admission to discharge.
type stay struct {
	h       *hospital
	subject line.ID
	held    []holding // the wards that had the patient, in order
	child   bool
	spared  []line.Limb
	until   line.Minute // the discharge; Far: not in sight
	leftIn  []line.ID   // lines left in on purpose at discharge
}

// holding is a ward that has the patient from a moment.
type holding struct {
	*ward
	from line.Minute
}

// wardAt is the ward that has the patient; after discharge the last.
func (s *stay) wardAt(at line.Minute) *ward {
	w := s.held[0].ward
	for _, held := range s.held {
		if held.from <= at {
			w = held.ward
		}
	}
	return w
}

func (s *stay) nurse(at line.Minute) clinician { return s.wardAt(at).nurse(s.h, at) }

// write records an entry about the patient, or about one of the lines.
func (s *stay) write(by line.ID, at line.Minute, of line.ID, body line.Body) *line.Entry {
	e := s.h.write(by, at, body)
	if e != nil {
		e.Subject, e.Line = s.subject, of
	}
	return e
}

// note is write by a nurse on duty.
func (s *stay) note(at line.Minute, of line.ID, body line.Body) *line.Entry {
	return s.write(s.nurse(at).ID, at, of, body)
}

// fill puts one patient after another into the bed. Some of them were for some
// hours where patients arrive, with a line placed there.
func (h *hospital) fill(w *ward, bed string) {
	at := h.from.Add(h.minutes(0, 3*24*60))
	for at < h.now {
		s := &stay{h: h, subject: h.id(), until: at.Add(h.minutes(40*60, 12*24*60))}
		came := at.Add(-h.minutes(5*60, 30*60))
		if bay, free := h.bay(line.Stretch{From: came, Until: at}); free && came >= h.from && w.bays == 0 && h.chance(0.12) {
			h.bays[bay] = append(h.bays[bay], line.Stretch{From: came, Until: at})
			s.admit(h.wards[rowan], bayName(bay), came)
			s.note(at, "", line.Transfer{Ward: w.id, Bed: line.Text(bed)})
			s.held = append(s.held, holding{w, at})
		} else {
			came = at
			s.admit(w, bed, came)
		}
		s.facts(came + 2)
		if h.chance(0.96) {
			s.lines(came)
		}
		s.discharge()
		at = s.until.Add(h.minutes(45, 5*60))
	}
}

// turnover is how long it takes to make a bay ready for the next.
const turnover = 20

// bay finds one that is free for the stretch.
func (h *hospital) bay(want line.Stretch) (n int, free bool) {
	for n, taken := range h.bays {
		free := true
		for _, t := range taken {
			free = free && (t.Until+turnover <= want.From || want.Until+turnover <= t.From)
		}
		if free {
			return n, true
		}
	}
	return 0, false
}

func (s *stay) admit(w *ward, bed string, at line.Minute) {
	s.held = []holding{{w, at}}
	s.note(at, "", line.Admission{Ward: w.id, Bed: line.Text(bed), Reference: s.h.reference()})
}

// facts says what holds of a few of the patients.
func (s *stay) facts(at line.Minute) {
	const none, nodes, weak, sedated, child = 0, 1, 2, 3, 4
	var f line.Facts
	arm := one(s.h, line.LeftArm, line.RightArm)
	switch choose(s.h, []share[int]{{none, 91}, {nodes, 3}, {weak, 3}, {sedated, 2}, {child, 1}}) {
	case nodes:
		f.Limits = []line.Limit{{Limb: arm, Why: line.NodeClearance}}
	case weak:
		f.Limits = []line.Limit{{Limb: arm, Why: line.Paralysed}}
	case sedated:
		f.Watches = []line.Vigil{{Why: line.WatchSedated}}
	case child:
		s.child = true
		f.Group, f.Watches = line.Child, []line.Vigil{{Why: line.WatchChild}}
	default:
		return
	}
	for _, l := range f.Limits {
		s.spared = append(s.spared, l.Limb)
	}
	s.note(at, "", f)
}

// discharge ends the stay, with all lines; one left in on purpose, for drugs
// given at home, comes out at a visit.
func (s *stay) discharge() {
	d := line.Discharge{LeftIn: s.leftIn}
	if len(s.leftIn) > 0 {
		d.Why = "drugs go on at home, to come back for removal"
	}
	s.note(s.until, "", d)
	for _, id := range s.leftIn {
		s.note(s.until.Add(s.h.minutes(18*60, 46*60)), id, line.Removal{Reason: line.NotNeeded, Complete: line.Yes})
	}
}

// lines places one line after another while the patient needs one.
func (s *stay) lines(at line.Minute) {
	at = at.Add(s.h.minutes(10, 120))
	for first := true; at < s.until-240; first = false {
		id, ok := s.occasion(at, first)
		if !ok {
			at = at.Add(s.h.minutes(30, 180))
			continue
		}
		end := s.life(id, at)
		if end > s.h.now || !s.h.chance(0.93) {
			return
		}
		at = end.Add(s.h.minutes(15, 150))
	}
}

// segments are the wards in which the line lay, with the stretch in each.
func (s *stay) segments(from, until line.Minute) []holdingStretch {
	var parts []holdingStretch
	for i, held := range s.held {
		part := holdingStretch{held.ward, line.Stretch{From: max(from, held.from), Until: until}}
		if i+1 < len(s.held) {
			part.Until = min(until, s.held[i+1].from)
		}
		if part.From < part.Until {
			parts = append(parts, part)
		}
	}
	return parts
}

type holdingStretch struct {
	*ward
	line.Stretch
}

// shifts are the ward's shifts that touch the stretch, clipped to it at its start.
func (s *stay) shifts(w *ward, in line.Stretch) []line.Stretch {
	var shifts []line.Stretch
	for at := in.From; at < in.Until; {
		shift := s.h.book.ShiftAt(w.key, at)
		shifts = append(shifts, line.Stretch{From: at, Until: shift.Until})
		at = shift.Until
	}
	return shifts
}

// night reports whether a moment lies in the dark half of the day.
func (s *stay) night(at line.Minute) bool {
	hour := at.Time().In(s.h.zone).Hour()
	return hour >= 19 || hour < 7
}

const hour = line.Minute(time.Hour / time.Minute)
