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
	Opens     line.Minute   // from when it can be met
	Due       line.Minute   // a finding from this minute on, unless ended
	Ended     line.Minute   // Far: not ended
	How       How           // as it stands at the moment assessed
	MetBy     MetBy         // set where something met it, in time or late
	Allowance time.Duration // from the cause that set its due moment to that moment; 0: due at once
	Why, Do   line.Message  // only while it is not ended
}

// How says how a duty stands in the counts.
type How uint8

// How a duty stands. Each duty past its due moment is exactly one of the last six.
const (
	Pending   How = iota // its due moment is not reached
	MetInTime            // also where its due moment is not reached yet
	MetLate
	Missed
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

// overdue is the stretch in which the duty is a finding unless a justification
// covers it; empty for a duty met in time or closed as not seen.
func (d *Duty) overdue() line.Stretch {
	if d.How == MetInTime || d.How == NotSeen {
		return line.Stretch{From: d.Due, Until: d.Due}
	}
	return line.Stretch{From: d.Due, Until: d.Ended}
}
