package audit

import (
	"time"

	"dwellbook/internal/line"
)

// Duty is something that must be done by a moment.
type Duty struct {
	Rule      line.Rule
	Severity  Severity // by the policy in force when it falls due
	Line      line.Key
	Ward      line.Key      // the ward it counts for
	Opens     line.Minute   // from when it can be met; of a pending duty it may lie ahead
	Due       line.Minute   // a finding from this minute on, unless ended
	Ended     line.Minute   // Far: not ended; before Opens where an earlier look counted, after a shift too short to ask for one
	How       How           // as it stands at the moment assessed
	MetBy     MetBy         // set where something met it, in time or late
	Allowance time.Duration // from the cause that set its due moment to that moment
	Why, Do   line.Message  // set only while it is not ended
	policy    *Policy
	cause     *line.Mark // the entry that set its due moment, where one did
	no        ruleNo
	kind      dutyKind
}

// How says how a duty stands in the counts.
type How uint8

// How a duty stands. A duty past its due moment is one of the last six.
const (
	Pending   How = iota // not met, and its due moment is not reached
	MetInTime            // its due moment may still lie ahead
	MetLate
	Missed   // of a one-off duty: it may still go on
	Open     // past due, and neither met nor missed so far
	NotSeen  // the shift closed with a not-seen and no look
	Accepted // not met in time, with a justification for some of its overdue minutes
)

var howNames = [...]string{"pending", "met-in-time", "met-late", "missed", "open", "not-seen", "accepted"}

// String is the name in files.
func (h How) String() string { return howNames[h] }

// MetBy says what met a duty.
type MetBy uint8

// What met a duty.
const (
	ByNothing MetBy = iota
	ByReview
	ByPlacement
	ByRemoval
	ByDressing
	BySiteCheck
)

var metByNames = [...]string{"", "review", "placement", "removal", "dressing", "site-check"}

// String is the name in files.
func (m MetBy) String() string { return metByNames[m] }

// dutyKind tells apart the duties of one rule that are explained differently.
type dutyKind uint8

const (
	plain    dutyKind = iota
	ofShift           // a look in a shift
	ofClock           // a look an interval after the last
	ofReturn          // a look after the patient's return
)

// newDuty is a duty not met so far.
func newDuty(no ruleNo, p *Policy, l *line.Line, due line.Minute) Duty {
	return Duty{
		Rule: ruleIDs[no], Severity: p.rules[no].severity, Line: l.Key, Due: due, Ended: line.Far, How: Open, policy: p, no: no,
	}
}

// met notes what met the duty, and when.
func (d *Duty) met(how How, at line.Minute, by MetBy) { d.How, d.Ended, d.MetBy = how, at, by }

// overdue is the stretch in which the duty is a finding unless a justification
// covers it; empty for a duty met in time or closed as not seen.
func (d *Duty) overdue() line.Stretch {
	if d.How == MetInTime || d.How == NotSeen {
		return line.Stretch{From: d.Due, Until: d.Due}
	}
	return line.Stretch{From: d.Due, Until: d.Ended}
}

// conclude takes one rule's duties on one line, from first on, to their end:
// those that never count are dropped, the rest get their ward, their place in
// the counts and, while they stand, their words.
func (s *scene) conclude(no ruleNo, l *line.Line, first int) {
	kept := s.duties[:first]
	for i := first; i < len(s.duties); i++ {
		d := s.duties[i]
		// Of a line found gone, what was not yet due at the last look never counts.
		if l.Gone() && d.Due > l.Out {
			continue
		}
		if d.Ward == 0 {
			d.Ward = s.h.LastWardAt(d.Due)
		}
		if d.Ended > s.at {
			d.Ended = line.Far
		}
		if d.How == Open && d.Due > s.at {
			d.How = Pending
		}
		if d.How >= MetLate && d.How <= Open && s.covered(d.overdue(), ruleTags[no], l.Key) {
			d.How = Accepted
		}
		kept = append(kept, d)
	}
	s.duties = kept
	for i := first; i < len(s.duties); i++ {
		if d := &s.duties[i]; d.Ended == line.Far {
			d.Why, d.Do = registry[no].explain(s, l, d)
		}
	}
}
