package demo

import (
	"time"

	"dwellbook/internal/line"
)

// endings are in proportions that are invented, with the common ones common.
var endings = []share[line.Reason]{
	{line.NotNeeded, 610}, {line.Infiltration, 90}, {line.Phlebitis, 75}, {line.Occlusion, 70}, {line.Dislodged, 55}, {line.Leak, 45},
	{line.Routine, 35}, {line.FaultyPosition, 8}, {line.InfectionSuspected, 8}, {line.FoundGone, 8}, {line.Died, 5}, {line.Extravasation, 3},
	{line.OtherReason, 3},
}

// Where the limb bends or the vein is small, lines last a part as long and fail
// in these ways; invented.
var (
	bent    = map[line.Site]float64{line.Wrist: 0.8, line.ElbowCrease: 0.8, line.FootDorsum: 0.8, line.HandDorsum: 0.95}
	bending = []share[line.Reason]{{line.Occlusion, 40}, {line.Dislodged, 30}, {line.Infiltration, 20}, {line.Leak, 10}}
)

// ending is why the line will come out.
func (h *hospital) ending(withDischarge bool) line.Reason {
	if withDischarge && h.chance(0.9) {
		return line.Discharged
	}
	return choose(h, endings)
}

// finding is what a look shows before a line comes out for the reason, and how
// often there is such a look; removal follows within the hour or two.
func (h *hospital) finding(why line.Reason) (line.Review, bool) {
	r := line.Review{Dressing: line.SetOf(line.Intact)}
	often := 0.7
	switch why {
	case line.Phlebitis:
		r.Signs = line.SetOf(line.Pain, line.Redness)
	case line.Infiltration:
		r.Signs = line.SetOf(line.Swelling, line.CoolOrBlanched)
	case line.Leak:
		r.Signs, r.Dressing = line.SetOf(line.SiteLeak), line.SetOf(line.Damp)
	case line.Occlusion:
		r.Flush = line.FlushNone
	case line.NotNeeded:
		r.Needed, often = line.No, 0.25
	default:
		return r, false
	}
	return r, h.chance(often)
}

// end takes the line out at the moment, where that is not ahead.
func (s *stay) end(id line.ID, at line.Minute, why line.Reason) {
	h := s.h
	if why == line.Discharged && h.chance(0.006) {
		s.leftIn = append(s.leftIn, id)
		return
	}
	if r, ok := h.finding(why); ok {
		s.note(at.Add(-h.minutes(8, 75)), id, r)
	}
	r := line.Removal{Reason: why, Complete: line.Yes}
	switch why {
	case line.Phlebitis:
		r.Signs = line.SetOf(line.Pain, line.Redness)
	case line.InfectionSuspected:
		r.Signs = line.SetOf(line.Redness, line.Pus)
	case line.FoundGone:
		r.Complete = 0
	case line.Died:
		s.until = at + 10
	}
	s.note(at, id, r)
	switch why {
	case line.Phlebitis, line.Extravasation, line.InfectionSuspected:
		s.aftercare(id, at)
	}
	if why == line.InfectionSuspected {
		s.write(h.lead.ID, at.Add(h.minutes(24*60, 72*60)), id, line.InfectionOutcome{Outcome: choose(h, []share[line.Infection]{
			{line.InfectionNotConfirmed, 70}, {line.InfectionConfirmed, 25}, {line.InfectionBloodstream, 5},
		})})
	}
}

// aftercare looks at the site each shift for two days, or until discharge.
func (s *stay) aftercare(id line.ID, out line.Minute) {
	until := min(out.Add(48*time.Hour), s.until)
	for _, part := range s.segments(out, until) {
		for _, shift := range s.shifts(part.ward, part.Stretch) {
			if m, ok := s.inShift(part.ward, shift, false); ok && m > out && m < part.Until {
				s.note(m, id, line.SiteCheck{})
			}
		}
	}
}
