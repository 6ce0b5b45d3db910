package audit

import "dwellbook/internal/line"

// The shifts of a line are a chain: the first starts with the placement (or
// with whatever else starts the chain), each next where the one before ended.

// shiftEnd is when the shift of the chain that starts at from ends: at its own
// end, or at the first shift boundary of the ward then holding the line,
// whichever is sooner. Some ward must have the line at from. Where the patient
// goes once it is out no longer matters: the end stays as it was then.
func (s *scene) shiftEnd(from, out line.Minute) line.Minute {
	end := line.Far
	for i := range s.h.Stays {
		stay := &s.h.Stays[i]
		switch {
		case stay.Until <= from:
		case stay.From <= from:
			end = s.calendar(stay.Ward).after(from)
		case stay.From < min(end, out):
			if b := s.calendar(stay.Ward).after(stay.From - 1); b < stay.Until || stay.Until >= out {
				end = min(end, b)
			}
		default:
			return end
		}
	}
	return end
}

// longest is the ward that had the patient longest in the stretch; of equals the later.
func (s *scene) longest(in line.Stretch) line.Key {
	var ward line.Key
	var most line.Minute
	for i := range s.h.Stays {
		if stay := &s.h.Stays[i]; stay.From <= in.From && in.Until <= stay.Until {
			return stay.Ward
		}
		var sum line.Minute
		for _, stay := range s.h.Stays[:i+1] {
			if both := clip(stay.Stretch, in); stay.Ward == s.h.Stays[i].Ward && both.From < both.Until {
				sum += both.Until - both.From
			}
		}
		if held := clip(s.h.Stays[i].Stretch, in); held.From < held.Until && sum >= most {
			ward, most = s.h.Stays[i].Ward, sum
		}
	}
	return ward
}

// chain walks the shifts of one line and finds which of them a look met.
type chain struct {
	*scene
	no     ruleNo
	line   *line.Line
	starts line.Minute // the placement, or the removal after which the site is watched
	ends   line.Minute // when the line came out, Far while it is in
	last   line.Minute // no shift that ends later makes a duty
	looks  looks
	used   int // the looks before it have met a shift, or lie before the chain
}

// run adds the duties of the shifts in a stretch, up to the first that is
// still to be met. It reports whether it went to the end of the stretch.
func (c *chain) run(in line.Stretch) bool {
	since := in.From // looks since then count in the shift
	for from := in.From; from < min(c.ends, in.Until); {
		if from > c.at+2*day {
			return false // no shift since the moment asked for a look, so none will
		}
		end := c.shiftEnd(from, c.ends)
		out := c.ends < end // it came out in this shift
		if end > c.last || end > in.Until && !(out && c.ends <= in.Until) {
			return true
		}
		shift := line.Stretch{From: from, Until: min(end, c.ends)}
		p := c.book.PolicyAt(end)
		from = end
		if shift.Until.Sub(shift.From) < p.review.leastInSitu {
			continue
		}
		if p.rules[c.no].on {
			d := newDuty(c.no, p, c.line, end)
			d.Opens, d.kind, d.Allowance = shift.From, ofShift, end.Sub(shift.From)
			d.Ward = c.longest(shift)
			c.meet(&d, line.Stretch{From: since, Until: shift.Until}, out)
			c.duties = append(c.duties, d)
			if d.How == Open && end > c.at {
				return false
			}
		}
		since = end
	}
	return true
}

// meet looks for what met the duty of a shift: in it, or within the grace
// after it. since holds the looks that count in the shift.
func (c *chain) meet(d *Duty, counts line.Stretch, out bool) {
	review := &d.policy.review
	if c.no == reviewOverdue && counts.From <= c.starts && c.starts >= d.Due.Add(-review.placementWithin) {
		d.met(MetInTime, c.starts, ByPlacement)
		return
	}
	c.used = max(c.used, c.looks.from(counts.From))
	if c.used < len(c.looks) {
		l := c.looks[c.used]
		if l.at < counts.Until || out && l.at == counts.Until {
			d.met(MetInTime, l.at, l.by)
			return
		}
	}
	if c.notSeen(line.Stretch{From: d.Opens, Until: d.Due}) {
		if d.Due <= c.at {
			d.How, d.Ended = NotSeen, d.Due
		}
		return
	}
	if c.used < len(c.looks) && c.looks[c.used].at < d.Due.Add(review.grace) {
		d.met(MetInTime, c.looks[c.used].at, c.looks[c.used].by)
		c.used++
	}
}

func (c *chain) notSeen(in line.Stretch) bool {
	if c.no != reviewOverdue {
		return false
	}
	for i := range c.line.NotSeen {
		if in.Holds(c.line.NotSeen[i].At) {
			return true
		}
	}
	return false
}
