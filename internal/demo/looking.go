package demo

import (
	"math"
	"time"

	"dwellbook/internal/line"
)

// longest dwell anybody lets happen.
const longest = 9 * 24 * hour

// life follows a line to its end, and gives when that is. It may lie ahead.
func (s *stay) life(id line.ID, placed line.Minute) (end line.Minute) {
	h := s.h
	o := h.out.Entries[len(h.out.Entries)-1].Body.(line.Occasion) // written last
	dwell := 8*hour + line.Minute((h.rng.ExpFloat64()+h.rng.ExpFloat64())/2*s.wardAt(placed).dwell*float64(hour))
	short, ill := bent[o.Site], 0.0
	if short != 0 {
		dwell, ill = line.Minute(float64(dwell)*short), 0.2
	}
	if o.Asepsis != line.AsepsisFull && h.chance(0.9) {
		dwell = min(dwell, line.Minute(h.minutes(16*60, 46*60)/time.Minute)) // sited again in time
	}
	end = min(placed+min(dwell, longest), s.until-1)
	way := h.ending(end == s.until-1)
	if way == line.NotNeeded && h.chance(ill) {
		way = choose(h, bending)
	}
	if moved := s.held[len(s.held)-1].from; way == line.Died && end <= moved {
		way = line.NotNeeded // nobody who is moved later
	}
	d := &dressing{since: placed, limit: 7 * 24 * hour}
	if o.Dressing == line.Gauze {
		d.limit = 48 * hour
	}
	for _, at := range s.looks(placed, end-2*hour) {
		s.look(id, at, d)
	}
	s.end(id, end, way)
	return end
}

// dressing is what is known of the one that is on.
type dressing struct {
	since, limit line.Minute
	spoiled      bool
}

// look is a review, with a new dressing where that wants changing and the ward
// does it, or the note that nobody could look.
func (s *stay) look(id line.ID, at line.Minute, d *dressing) {
	h := s.h
	if h.chance(0.012) {
		back := at.Add(h.minutes(60, 150))
		s.note(at, id, line.NotSeen{Why: line.OffWard, Returns: back})
		return
	}
	r := line.Review{Dressing: line.SetOf(line.Intact)}
	if !d.spoiled && h.chance(0.02) {
		d.spoiled = true
		r.Dressing = line.SetOf(one(h, line.Loose, line.Damp, line.Soiled))
	}
	if h.chance(0.95) {
		r.Needed = line.Yes
	}
	if h.chance(0.5) {
		r.Used = line.Yes
	}
	if h.chance(0.4) {
		r.Flush = line.FlushEasy
	}
	if h.chance(0.02) {
		r.Signs = line.SetOf(one(h, line.Pain, line.Redness))
	}
	s.note(at, id, r)
	change := s.wardAt(at).newDressing
	if d.spoiled {
		change = max(change, 0.8) // what falls off is changed everywhere
	}
	if (d.spoiled || at-d.since > d.limit-24*hour) && h.chance(change) {
		after := at.Add(h.minutes(3, 20))
		s.note(after, id, line.Dressing{Material: line.Film})
		*d = dressing{since: after, limit: 7 * 24 * hour}
	}
}

// looks are the moments at which the wards look: about one each shift, in
// clock wards and at children by the clock.
func (s *stay) looks(placed, until line.Minute) []line.Minute {
	var at []line.Minute
	for _, part := range s.segments(placed, until) {
		pace := part.every
		if s.child {
			pace = 230
		}
		if pace > 0 {
			at = append(at, s.byClock(part, pace)...)
			continue
		}
		for _, shift := range s.shifts(part.ward, part.Stretch) {
			if m, ok := s.inShift(part.ward, shift, shift.From == placed); ok && m < part.Until {
				at = append(at, m)
			}
		}
	}
	return at
}

func (s *stay) byClock(part holdingStretch, pace int) []line.Minute {
	var at []line.Minute
	for m := part.From; ; {
		m = m.Add(s.h.minutes(pace*8/10, pace-15))
		if m >= part.Until {
			return at
		}
		if s.h.chance(part.dayLook) {
			at = append(at, m)
		}
	}
}

// inShift is when a shift looks, if it does: rather early in it, but never all
// at once. A line just placed is often left for the next shift.
func (s *stay) inShift(w *ward, shift line.Stretch, fresh bool) (line.Minute, bool) {
	left := float64(shift.Until - shift.From)
	chance := w.dayLook
	if s.night(shift.Until - 2*hour) {
		chance = w.nightLook
	}
	if left < 60 || fresh && left < float64(6*hour) && s.h.chance(0.6) || !s.h.chance(chance) {
		return 0, false
	}
	part := 0.05 + 0.85*math.Pow(s.h.rng.Float64(), 1.4)
	return shift.From + max(15, line.Minute(left*part)), true
}
