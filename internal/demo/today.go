package demo

import (
	"time"

	"dwellbook/internal/line"
)

// scene is one of the things a lead should find today, in a side room.
type scene struct {
	*stay
	id     line.ID // of the line
	placed line.Minute
}

func (h *hospital) ago(d time.Duration) line.Minute { return h.now.Add(-d) }

// scene admits somebody to a side room, with a line placed so long ago.
func (h *hospital) scene(on int, ago time.Duration, facts line.Facts, o line.Occasion) scene {
	w, at := h.wards[on], h.ago(ago)
	s := scene{stay: &stay{h: h, subject: h.id(), until: line.Far, child: facts.Group == line.Child}, id: h.id(), placed: at}
	s.admit(w, sideName(w.side), at-40)
	w.side++
	if facts.Group != 0 || facts.Limits != nil || facts.Watches != nil {
		s.note(at-38, "", facts)
	}
	o.Outcome, o.Dressing = line.WithLine, line.Film
	by := s.nurse(at).ID
	if o.PlacedBy == 0 {
		o.Asepsis, o.PlacedBy = line.AsepsisFull, line.OwnStaff
		o.Attempts = []line.Attempt{{Operator: line.Operator{Account: by}, Site: o.Site, Side: o.Side, Gauge: o.Gauge}}
	}
	s.write(by, at, s.id, o)
	return s
}

// looked makes a look every so often, the last before until ago.
func (s scene) looked(every, until time.Duration, r line.Review) {
	r.Dressing, r.Needed = line.SetOf(line.Intact), line.Yes
	for m := s.placed.Add(every); m < s.h.ago(until); m = m.Add(every) {
		s.note(m, s.id, r)
	}
}

// today adds what a lead should find today.
func (h *hospital) today() {
	const h1, day = time.Hour, 24 * time.Hour
	plain := line.Review{}

	// A score of 2 recorded an hour and a half ago, the line still in.
	s := h.scene(alder, 60*h1, line.Facts{}, line.Occasion{Site: line.Forearm, Side: line.Right, Gauge: 20})
	s.looked(9*h1, 2*h1, plain)
	s.note(h.ago(95*time.Minute), s.id, line.Review{
		Signs: line.SetOf(line.Pain, line.Redness), Dressing: line.SetOf(line.Intact), Needed: line.Yes,
	})

	// Placed by an ambulance crew, nobody knows how clean.
	s = h.scene(hazel, 11*h1, line.Facts{}, line.Occasion{
		Site: line.ElbowCrease, Side: line.Left, Gauge: 18, Asepsis: line.AsepsisNotKnown, PlacedBy: line.Ambulance,
		Operator: line.Operator{Written: "ambulance crew"}, Purposes: line.SetOf(line.ForEmergency),
	})
	s.looked(4*h1, h1, plain)

	// Two lines that nobody recorded out.
	for i, on := range []int{birch, willow} {
		s = h.scene(on, time.Duration(6+i)*day, line.Facts{}, line.Occasion{Site: line.HandDorsum, Side: line.Left, Gauge: 22})
		s.looked(10*h1, 88*h1, plain)
	}

	// A small line in the elbow crease that nobody has looked at for some shifts.
	s = h.scene(birch, 61*h1, line.Facts{}, line.Occasion{Site: line.ElbowCrease, Side: line.Left, Gauge: 22})
	s.looked(8*h1, 37*h1, plain)

	// Dressings past the policy's age, on the ward that is slow to change them.
	for i := range 3 {
		s = h.scene(cedar, 7*day+time.Duration(6+9*i)*h1, line.Facts{}, line.Occasion{Site: line.UpperArm, Side: line.Right, Gauge: 20})
		s.looked(7*h1, h1, plain)
	}
	h.todayAnswered(plain)
}

// todayAnswered is what is out of the ordinary, and known to be.
func (h *hospital) todayAnswered(plain line.Review) {
	const h1 = time.Hour

	// A line in the arm with a fistula, answered for by a named clinician.
	s := h.scene(willow, 20*h1,
		line.Facts{Limits: []line.Limit{{Limb: line.LeftArm, Why: line.Fistula}}},
		line.Occasion{Site: line.Forearm, Side: line.Left, Gauge: 20, Purposes: line.SetOf(line.ForEmergency)})
	s.note(s.placed+1, s.id, line.Justification{
		Rule: "limb-restricted", Clinician: "Dr Varela", Why: "no other vein found, renal team told", Until: s.placed.Add(30 * h1),
	})
	s.looked(5*h1, h1, plain)

	// Not used for more than a day; and just now the patient is away.
	s = h.scene(rowan, 50*h1, line.Facts{}, line.Occasion{Site: line.Wrist, Side: line.Right, Gauge: 22})
	s.looked(6*h1, h1, line.Review{Used: line.No})
	s.note(h.ago(30*time.Minute), s.id, line.NotSeen{Why: line.OffWard, Returns: h.now.Add(h1)})

	// A child, watched more closely.
	s = h.scene(hazel, 26*h1,
		line.Facts{Group: line.Child, Watches: []line.Vigil{{Why: line.WatchChild}}},
		line.Occasion{Site: line.HandDorsum, Side: line.Left, Gauge: 24})
	s.looked(230*time.Minute, 20*time.Minute, plain)

	// In the foot of an adult.
	s = h.scene(alder, 31*h1, line.Facts{}, line.Occasion{Site: line.FootDorsum, Side: line.Right, Gauge: 22})
	s.looked(8*h1, h1, plain)

	// From another hospital, with nothing on its dressing: no time, no name, no size.
	s = h.scene(willow, 15*h1, line.Facts{}, line.Occasion{
		Site: line.Forearm, Side: line.Right, Asepsis: line.AsepsisFull, PlacedBy: line.OtherHospital,
	})
	h.out.Entries[len(h.out.Entries)-1].Precision = line.NotKnown
	s.looked(7*h1, h1, plain)
}
