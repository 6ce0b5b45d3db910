package audit

import (
	"slices"
	"time"

	"dwellbook/internal/line"
)

// need-daily: whether the line is still needed is recorded in each 24 h.

type needValues struct{ every time.Duration }

var needDailyRule = rule{
	settings: []setting{
		span("every", func(v *values) *time.Duration { return &v.need.every }, time.Hour, 7*24*time.Hour),
	},
	duties:  needDuties,
	explain: explainNeed,
}

// saysNeed reports whether a review records that the line is needed, or that it is not.
func saysNeed(m *line.Mark) bool { return m.Needed != 0 }

func needDuties(s *scene, l *line.Line) {
	first := len(s.duties)
	ls := looksOf(l, saysNeed)
	for _, stay := range s.stays {
		if stay.Until < l.Placed || stay.From >= l.Out {
			continue
		}
		s.needRun(l, stay, ls)
	}
	s.resolve(l, first, ls)
}

// needRun adds the duties of one stay, up to the first that is still to be
// met. Placement, admission and each answer restart the clock.
func (s *scene) needRun(l *line.Line, stay line.Stretch, ls looks) {
	stop := min(stay.Until, l.Out)
	for last := max(stay.From, l.Placed); last < stop; {
		due, p, ok := s.dueBy(needDaily, func(p *Policy) (line.Minute, bool) { return last.Add(p.need.every), true })
		answer, admitted := line.Far, line.Far
		if k := ls.from(last + 1); k < len(ls) && ls[k].by == ByReview {
			answer = ls[k].at
		}
		if k, _ := slices.BinarySearch(s.admissions, last+1); k < len(s.admissions) {
			admitted = s.admissions[k]
		}
		restart := min(answer, admitted)
		if ok && (due <= min(stop, restart) || answer < due && answer == restart && answer <= stop) {
			d := newDuty(needDaily, p, l, due)
			d.Opens, d.Allowance = last, p.need.every
			if answer < due {
				d.met(MetInTime, answer, ByReview)
			}
			s.duties = append(s.duties, d)
			if d.How == Open && due > s.at {
				return
			}
		}
		last = restart
	}
}

// lastNeed is when the need for the line was last recorded.
func (s *scene) lastNeed(l *line.Line) (at line.Minute, recorded bool) {
	for i := range l.Reviews {
		if saysNeed(&l.Reviews[i]) {
			at, recorded = l.Reviews[i].At, true
		}
	}
	return at, recorded
}

func explainNeed(s *scene, l *line.Line, d *Duty) (why, do line.Message) {
	do = line.Say("audit.need-daily.do", "every", d.Allowance, "due", d.Due)
	if last, ok := s.lastNeed(l); ok {
		return line.Say("audit.need-daily.why", "last", last), do
	}
	return line.Say("audit.need-daily.why-never", "placed", l.Placed), do
}
