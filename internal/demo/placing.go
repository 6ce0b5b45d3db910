package demo

import (
	"slices"

	"dwellbook/internal/line"
)

var (
	adultSites = []share[line.Site]{
		{line.Forearm, 52}, {line.HandDorsum, 27}, {line.UpperArm, 9}, {line.ElbowCrease, 7}, {line.Wrist, 4}, {line.FootDorsum, 1},
	}
	childSites  = []share[line.Site]{{line.HandDorsum, 60}, {line.Forearm, 25}, {line.FootDorsum, 10}, {line.ElbowCrease, 5}}
	adultGauges = []share[line.Gauge]{{20, 48}, {22, 30}, {18, 18}, {16, 3}, {24, 1}}
	bendGauges  = []share[line.Gauge]{{18, 70}, {20, 22}, {22, 8}} // in the elbow crease
	childGauges = []share[line.Gauge]{{24, 65}, {22, 35}}
	purposes    = []share[line.Purpose]{
		{line.ForDrugs, 52}, {line.ForFluids, 30}, {line.ForBlood, 8}, {line.ForContrast, 8}, {line.ForEmergency, 2},
	}
	faults = []share[line.Fault]{
		{line.NoFlashback, 24}, {line.WouldNotAdvance, 20}, {line.ThroughBackWall, 12}, {line.VeinRolled, 12}, {line.SwelledOnFlush, 10},
		{line.Haematoma, 8}, {line.StoppedAtValve, 6}, {line.PatientMoved, 4}, {line.DislodgedSecuring, 2}, {line.Spasm, 1}, {line.Equipment, 1},
	}
	stops = []share[line.Stopped]{{line.NoVeinFound, 70}, {line.PatientDeclined, 25}, {line.StoppedOther, 5}}
)

// site is where somebody tries: a spared limb is seldom chosen.
func (s *stay) site() (line.Site, line.Side, line.Gauge) {
	sites, gauges := adultSites, adultGauges
	if s.child {
		sites, gauges = childSites, childGauges
	}
	site, side := choose(s.h, sites), one(s.h, line.Left, line.Right)
	if slices.Contains(s.spared, line.LimbOf(site, side)) && !s.h.chance(0.05) {
		side = line.Left + line.Right - side
	}
	if site == line.ElbowCrease && !s.child {
		gauges = bendGauges
	}
	return site, side, choose(s.h, gauges)
}

// operator is who tries first, with the chance of failing the first attempt.
// The trainee gets better from week to week.
func (s *stay) operator(at line.Minute) (who clinician, fails float64) {
	const nurse, doctor, trainee = 0, 1, 2
	h := s.h
	switch choose(h, []share[int]{{nurse, 76}, {doctor, 20}, {trainee, 4}}) {
	case doctor:
		who = one(h, h.doctors[1:]...)
	case trainee:
		return h.doctors[0], 0.55 - 0.43*h.progress(at)
	default:
		who = s.nurse(at)
	}
	return who, who.fails
}

// written are operators of whom the record has only what stood on paper.
var written = []line.Text{"ED reg", "on-call reg", "theatre", "night SHO"}

// named is the operator as recorded: mostly the account.
func (h *hospital) named(who clinician) line.Operator {
	switch {
	case !h.chance(0.05):
		return line.Operator{Account: who.ID}
	case who.Role == "doctor" && h.chance(0.7):
		return line.Operator{Written: line.Text(who.initials)}
	}
	return line.Operator{Written: one(h, written...)}
}

// occasion is one time of trying; ok is false where no line came of it.
func (s *stay) occasion(at line.Minute, first bool) (id line.ID, ok bool) {
	h := s.h
	id = h.id()
	if first && h.chance(0.07) {
		return id, s.brought(id, at)
	}
	who, fails := s.operator(at)
	if h.chance(0.02) {
		s.write(who.ID, at, id, line.Occasion{
			Outcome: line.BeforeSkin, Stopped: choose(h, stops), Operator: line.Operator{Account: who.ID},
		})
		return id, false
	}
	o := line.Occasion{
		Outcome: line.WithoutLine, Asepsis: line.AsepsisFull, PlacedBy: line.OwnStaff, Purposes: line.SetOf(choose(h, purposes)),
	}
	if o.Purposes.Has(line.ForEmergency) && h.chance(0.5) {
		o.Asepsis = line.AsepsisNotFull
	}
	s.try(&o, at, who, fails)
	if o.Outcome == line.WithLine {
		o.Dressing, o.Flush = line.Film, line.FlushEasy
		if h.chance(0.02) {
			o.Dressing = line.Gauze
		}
	}
	author := who.ID
	if h.chance(0.12) {
		author = s.nurse(at).ID // who stood by writes it down
	}
	return id, s.write(author, at, id, o) != nil && o.Outcome == line.WithLine
}

// try makes the attempts. After two that failed mostly somebody else has a go;
// after four nobody does.
func (s *stay) try(o *line.Occasion, at line.Minute, who clinician, fails float64) {
	h := s.h
	by := h.named(who)
	for n := range 4 {
		if n == 2 {
			if h.chance(0.25) {
				break
			}
			if h.chance(0.9) {
				other := one(h, h.doctors[1:]...)
				by, fails = line.Operator{Account: other.ID}, other.fails
			}
		}
		a := line.Attempt{Operator: by}
		a.Site, a.Side, a.Gauge = s.site()
		if a.Failed = h.chance(fails); a.Failed {
			a.Fault = choose(h, faults)
		}
		o.Attempts = append(o.Attempts, a)
		o.Site, o.Side, o.Gauge = a.Site, a.Side, a.Gauge
		if !a.Failed {
			o.Outcome = line.WithLine
			return
		}
	}
}

// brought is a line that came with the patient: from an ambulance, or from
// another hospital, which did not say when it was placed.
func (s *stay) brought(id line.ID, at line.Minute) bool {
	h := s.h
	o := line.Occasion{
		Outcome: line.WithLine, Asepsis: line.AsepsisNotKnown, PlacedBy: line.Ambulance, Dressing: line.Film,
		Operator: line.Operator{Written: "ambulance crew"}, Purposes: line.SetOf(line.ForEmergency),
	}
	o.Site, o.Side, o.Gauge = s.site()
	if !s.child {
		o.Gauge = one(h, line.Gauge(18), 18, 20)
	}
	if h.chance(0.5) {
		o.Count = 1 + h.rng.IntN(2)
	}
	elsewhere := h.chance(0.3)
	if elsewhere {
		o.PlacedBy, o.Asepsis, o.Count, o.Purposes = line.OtherHospital, line.AsepsisFull, 0, line.SetOf(line.ForDrugs)
		o.Operator = line.Operator{Written: "other hospital"}
		if h.chance(0.1) {
			o.Operator = line.Operator{} // nobody can say
		}
	}
	e := s.note(at, id, o)
	if e != nil && elsewhere {
		e.Precision = line.NotKnown // first seen at this moment
	}
	return e != nil
}
