package demo

import (
	"math"
	"slices"
	"time"

	"dwellbook/internal/line"
)

// stay is one patient's time in one bed.
type stay struct {
	h       *hospital
	w       *ward
	subject line.ID
	child   bool
	until   line.Minute // the discharge
}

// fill puts one patient after another into the bed.
func (h *hospital) fill(w *ward, bed string) {
	at := h.from.Add(h.minutes(0, 3*24*60))
	for at < h.now {
		s := &stay{h: h, w: w, subject: h.id()}
		s.until = at.Add(h.minutes(30*60, 9*24*60))
		nurse := one(h, w.nurses).ID
		h.record(nurse, at, line.Admission{Ward: w.id, Bed: line.Text(bed), Reference: h.reference()}, s.subject, "")
		s.facts(nurse, at)
		if h.chance(0.93) {
			s.lines(at)
		}
		h.record(nurse, s.until, line.Discharge{}, s.subject, "")
		at = s.until.Add(h.minutes(60, 8*60))
	}
}

func (s *stay) facts(nurse line.ID, at line.Minute) {
	h := s.h
	var f line.Facts
	switch h.weighted(90, 3, 3, 2, 2) {
	case 1:
		f.Limits = []line.Limit{{Limb: one(h, []line.Limb{line.LeftArm, line.RightArm}), Why: line.NodeClearance}}
	case 2:
		f.Limits = []line.Limit{{Limb: one(h, []line.Limb{line.LeftArm, line.RightArm}), Why: line.Paralysed}}
	case 3:
		f.Watches = []line.Vigil{{Why: line.WatchSedated}}
	case 4:
		s.child = true
		f.Group, f.Watches = line.Child, []line.Vigil{{Why: line.WatchChild}}
	default:
		return
	}
	h.record(nurse, at, f, s.subject, "")
}

// lines places one line after another while the patient needs one.
func (s *stay) lines(at line.Minute) {
	h := s.h
	at = at.Add(h.minutes(10, 200))
	for at < s.until-240 {
		id, ok := s.place(at)
		if !ok {
			at = at.Add(h.minutes(30, 180))
			continue
		}
		end, in := s.life(id, at)
		if in || !h.chance(0.9) {
			return
		}
		at = end.Add(h.minutes(20, 300))
	}
}

// place is one occasion; ok is false where no line came of it.
func (s *stay) place(at line.Minute) (id line.ID, ok bool) {
	h := s.h
	o := line.Occasion{
		Outcome: line.WithLine, Asepsis: line.AsepsisFull, PlacedBy: line.OwnStaff, Dressing: line.Film, Flush: line.FlushEasy,
		Site: one(h, sites), Side: one(h, []line.Side{line.Left, line.Right}), Gauge: one(h, gauges),
	}
	if h.chance(0.01) {
		o.Site = line.FootDorsum
	}
	o.Purposes = line.SetOf(one(h, []line.Purpose{line.ForFluids, line.ForDrugs, line.ForDrugs, line.ForBlood, line.ForContrast}))
	operator, fails := one(h, s.w.nurses), 0.17
	switch h.weighted(5, 3, 2) {
	case 1:
		operator, fails = one(h, h.doctors), 0.2
	case 2:
		operator = h.trainee
		done := float64(at-h.from) / float64(h.now-h.from)
		fails = 0.55 - 0.42*done
	}
	if operator.ID == h.trainee.ID && fails == 0.2 {
		fails = 0.5 - 0.35*float64(at-h.from)/float64(h.now-h.from)
	}
	if h.chance(0.02) {
		o = line.Occasion{Outcome: line.BeforeSkin, Stopped: line.NoVeinFound, Operator: line.Operator{Account: operator.ID}}
		h.record(operator.ID, at, o, s.subject, h.id())
		return "", false
	}
	for range 3 {
		a := line.Attempt{Operator: line.Operator{Account: operator.ID}, Site: o.Site, Side: o.Side, Gauge: o.Gauge}
		if h.chance(fails) {
			a.Failed, a.Fault = true, one(h, faults)
		}
		o.Attempts = append(o.Attempts, a)
		if !a.Failed {
			break
		}
		o.Side = one(h, []line.Side{line.Left, line.Right})
	}
	if o.Attempts[len(o.Attempts)-1].Failed {
		o.Outcome = line.WithoutLine
	}
	id = h.id()
	_, recorded := h.record(operator.ID, at, o, s.subject, id)
	return id, recorded && o.Outcome == line.WithLine
}

var (
	sites = []line.Site{
		line.Forearm, line.Forearm, line.Forearm, line.Forearm, line.Forearm, line.Forearm, line.HandDorsum, line.HandDorsum,
		line.HandDorsum, line.UpperArm, line.UpperArm, line.Wrist, line.ElbowCrease,
	}
	gauges = []line.Gauge{20, 20, 20, 20, 22, 22, 22, 18, 18, 24}
	faults = []line.Fault{
		line.NoFlashback, line.NoFlashback, line.WouldNotAdvance, line.WouldNotAdvance, line.ThroughBackWall, line.Haematoma,
		line.VeinRolled, line.StoppedAtValve, line.SwelledOnFlush, line.PatientMoved,
	}
)

// life follows a line to its end; in is true where it is still in now.
func (s *stay) life(id line.ID, placed line.Minute) (end line.Minute, in bool) {
	h := s.h
	dwell := time.Duration((8 + h.rng.ExpFloat64()*s.w.dwellHours) * float64(time.Hour))
	end = min(placed.Add(min(dwell, 9*24*time.Hour)), s.until-1)
	dressed := placed
	for _, at := range s.looks(placed, end) {
		nurse := one(h, s.w.nurses).ID
		if at-dressed > 6*24*60 && h.chance(s.w.newDressing) {
			h.record(nurse, at, line.Dressing{Material: line.Film}, s.subject, id)
			dressed = at
		}
		h.record(nurse, at, s.review(), s.subject, id)
	}
	if end > h.now {
		return end, true
	}
	s.remove(id, end)
	return end, false
}

func (s *stay) review() line.Review {
	h := s.h
	r := line.Review{Dressing: line.SetOf(line.Intact)}
	if h.chance(0.92) {
		r.Needed = line.Yes
	}
	if h.chance(0.5) {
		r.Used = line.Yes
	}
	if h.chance(0.4) {
		r.Flush = line.FlushEasy
	}
	if h.chance(0.02) {
		r.Signs = line.SetOf(one(h, []line.Sign{line.Pain, line.Redness}))
	}
	return r
}

// looks are the moments at which the ward looks: about one each shift.
func (s *stay) looks(placed, end line.Minute) []line.Minute {
	h := s.h
	var at []line.Minute
	pace := s.w.every
	if s.child {
		pace = 230
	}
	if pace > 0 {
		for m := placed; m < end; {
			m = m.Add(h.minutes(pace*7/10, pace-15))
			if m < end {
				at = append(at, m)
			}
		}
		return at
	}
	for _, shift := range s.shifts(placed, end) {
		if shift.night && !h.chance(s.w.nightLook) || !shift.night && !h.chance(0.985) {
			continue
		}
		length := int(shift.Until - shift.From)
		m := shift.From.Add(h.minutes(length/20, length*6/10))
		if m > placed && m < end {
			at = append(at, m)
		}
	}
	slices.SortFunc(at, byTime)
	return at
}

type shift struct {
	line.Stretch
	night bool
}

// shifts are the ward's, on its own clock, from placed to end.
func (s *stay) shifts(placed, end line.Minute) []shift {
	starts := s.w.habit.shifts
	if starts == nil {
		starts = []line.ShiftTime{7*60 + 30, 19*60 + 30}
	}
	var bounds []shift
	for day := placed.Time().In(s.h.zone).AddDate(0, 0, -1); line.MinuteOf(day) < end+2*24*60; day = day.AddDate(0, 0, 1) {
		for _, m := range starts {
			from := line.MinuteOf(time.Date(day.Year(), day.Month(), day.Day(), int(m)/60, int(m)%60, 0, 0, s.h.zone))
			bounds = append(bounds, shift{Stretch: line.Stretch{From: from}, night: m >= 18*60})
		}
	}
	var in []shift
	for i := range len(bounds) - 1 {
		b := bounds[i]
		b.Until = bounds[i+1].From
		if b.Until > placed && b.From < end {
			in = append(in, b)
		}
	}
	return in
}

// remove takes the line out, for a reason in proportions that are invented.
func (s *stay) remove(id line.ID, at line.Minute) {
	h := s.h
	nurse := one(h, s.w.nurses).ID
	r := line.Removal{Complete: line.Yes}
	reasons := []line.Reason{
		line.NotNeeded, line.Phlebitis, line.Infiltration, line.Occlusion, line.Leak, line.Dislodged, line.InfectionSuspected, line.Routine,
	}
	r.Reason = reasons[h.weighted(60, 7, 10, 7, 5, 6, 1, 4)]
	if at == s.until-1 {
		r.Reason = line.Discharged
	}
	if r.Reason == line.Phlebitis {
		r.Signs = line.SetOf(line.Pain, line.Redness)
	}
	h.record(nurse, at, r, s.subject, id)
	if r.Reason != line.Phlebitis && r.Reason != line.InfectionSuspected {
		return
	}
	checks := s.shifts(at, at.Add(48*time.Hour))
	for _, c := range checks {
		m := c.From.Add(h.minutes(20, int(math.Max(21, float64(c.Until-c.From)*0.5))))
		if m > at && m < s.until {
			h.record(one(h, s.w.nurses).ID, m, line.SiteCheck{}, s.subject, id)
		}
	}
	if r.Reason == line.InfectionSuspected {
		h.record(h.lead.ID, at.Add(h.minutes(24*60, 72*60)), line.InfectionOutcome{Outcome: line.InfectionNotConfirmed}, s.subject, id)
	}
}
