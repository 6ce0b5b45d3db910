package outcomes

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// Members are the lines that survival, causes and tests are of.
type Members int

// The cohorts.
const (
	Placed Members = iota // in the period, followed from placement
	InSitu                // at some minute of the period; one that was in already enters late
)

// ParseMembers reads a cohort; empty is Placed.
func ParseMembers(text string) (Members, error) {
	switch text {
	case "", "placed":
		return Placed, nil
	case "in-situ":
		return InSitu, nil
	}
	return 0, fmt.Errorf("%q is no cohort", text)
}

// String is the cohort's word.
func (m Members) String() string { return [...]string{"placed", "in-situ"}[m] }

// Ends are the reasons that end a line under observation: all but found gone,
// since nobody knows when and why that line came out.
var Ends = slices.DeleteFunc(line.Reason(0).All(), func(r line.Reason) bool { return r == line.FoundGone })

// failures are those of the ends that are failures.
var failures = func() (list []stats.Ending) {
	for _, r := range Ends {
		if line.Fails(r) {
			list = append(list, stats.Ending(r))
		}
	}
	return list
}()

// follow is a line as an episode in hours of dwell; ok is false for one that
// is not of the cohort. A line that is in at the end of the period, or was
// found gone, is censored when it was last known to be in.
func (m Members) follow(c line.Course, period line.Stretch) (e stats.Episode, ok bool) {
	if c.Placed >= period.Until || m == Placed && c.Placed < period.From {
		return e, false
	}
	exit := min(c.Out, period.Until)
	if m == InSitu && c.Placed < period.From {
		if exit <= period.From {
			return e, false
		}
		e.Entry = hours(c.Placed, period.From)
	}
	e.Exit = hours(c.Placed, exit)
	if c.Out < period.Until && c.Reason != line.FoundGone {
		e.Ending = stats.Ending(c.Reason)
	}
	return e, true
}

func hours(from, until line.Minute) float64 { return until.Sub(from).Hours() }

// dwellIn is the part of a line's dwell inside the period, to the minute.
func dwellIn(c line.Course, period line.Stretch) time.Duration {
	from, until := max(c.Placed, period.From), min(c.Out, period.Until)
	return max(0, until.Sub(from))
}

// endedIn reports whether the line came out in the period, when and why known.
func endedIn(c line.Course, period line.Stretch) bool {
	return period.From <= c.Out && c.Out < period.Until && c.Reason != line.FoundGone
}

// Ended gives the lines that came out in a period for one of the reasons, the
// latest first.
func Ended(courses []line.Course, period line.Stretch, reasons []line.Reason) []line.Course {
	var out []line.Course
	for _, c := range courses {
		if endedIn(c, period) && slices.Contains(reasons, c.Reason) {
			out = append(out, c)
		}
	}
	slices.SortFunc(out, func(a, b line.Course) int { return cmp.Or(cmp.Compare(b.Out, a.Out), cmp.Compare(a.Line, b.Line)) })
	return out
}
