package audit

import (
	"slices"
	"time"

	"dwellbook/internal/line"
)

// watch-after-removal: after removal for phlebitis, extravasation or suspected
// infection, the site is looked at each shift for 48 h.

type watchValues struct{ lasts time.Duration }

var watchAfterRemovalRule = rule{
	settings: []setting{
		span("for", func(v *values) *time.Duration { return &v.watch.lasts }, 8*time.Hour, 7*24*time.Hour),
	},
	duties:  watchDuties,
	explain: explainWatch,
}

func watched(r line.Reason) bool {
	return r == line.Phlebitis || r == line.Extravasation || r == line.InfectionSuspected
}

func watchDuties(s *scene, l *line.Line) {
	if l.Removal == nil || !watched(l.Removal.Reason) || s.leftAfter(l.Removal) {
		return
	}
	first := len(s.duties)
	ls := make(looks, 0, len(l.Checks))
	for i := range l.Checks {
		ls = append(ls, look{l.Checks[i].At, l.Checks[i].Seq, BySiteCheck})
	}
	from := l.Removal.At
	last := from.Add(s.book.PolicyAt(from).watch.lasts)
	for _, stay := range s.stays {
		if stay.Until > from && stay.From <= last {
			in := line.Stretch{From: max(from, stay.From), Until: stay.Until}
			c := chain{scene: s, no: watchAfterRemoval, line: l, starts: from, ends: line.Far, last: last, looks: ls}
			c.run(in)
			break // discharge closes the watch
		}
	}
	s.resolve(l, first, ls)
	s.closeWatch(first, last)
}

// leftAfter reports whether the patient was discharged in the minute of the
// mark, but after it.
func (s *scene) leftAfter(m *line.Mark) bool {
	return slices.ContainsFunc(s.h.Discharges, func(d line.Mark) bool { return d.At == m.At && marksBefore(m, &d) })
}

// closeWatch closes as missed what is still unmet when the watch is over, or
// its last shift's grace, if that is later. The watch belongs to the ward that
// has the patient.
func (s *scene) closeWatch(first int, over line.Minute) {
	for i := first; i < len(s.duties); i++ {
		d := &s.duties[i]
		d.Ward = s.h.LastWardAt(d.Due)
		if closes := max(over, d.Due.Add(d.policy.review.grace)); d.How == Open || closes <= d.Ended && d.How != MetInTime {
			s.until(closes)
			if closes <= s.at {
				d.How, d.Ended, d.MetBy = Missed, closes, ByNothing
			}
		}
	}
}

func explainWatch(_ *scene, l *line.Line, d *Duty) (why, do line.Message) {
	return line.Say("audit.watch-after-removal.why", "reason", l.Removal.Reason, "removed", l.Removal.At),
		line.Say("audit.watch-after-removal.do", "for", d.policy.watch.lasts, "due", d.Due)
}

// Watch is the longest time for which any of the policies has the site of a
// line watched after its removal.
func (b *Rulebook) Watch() time.Duration {
	longest := time.Duration(0)
	for i := range b.policies {
		longest = max(longest, b.policies[i].watch.lasts)
	}
	return longest
}
