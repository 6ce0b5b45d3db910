package outcomes

import (
	"errors"
	"maps"
	"slices"
	"time"

	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// Asked is what is asked about the lines of a period.
type Asked struct {
	Period  line.Stretch
	By      By
	Members Members
}

// Courses is what became of the lines of a period, in groups.
type Courses struct {
	Asked
	Groups []Group // by name, in byte order
	// LogRank tests that all groups fail alike; nil where there are not two
	// groups to compare, or nothing failed.
	LogRank *stats.LogRankTest
	LeftOut LeftOut
}

// LeftOut counts the lines of the cohort that are not told of in full.
type LeftOut struct {
	FoundGone     int // censored at the last look
	StartNotKnown int // start not known: counted from when they were first seen
	DateOnly      int // start known to the day: counted from the day's start
}

// Group is what became of the lines of one group.
type Group struct {
	Name
	Lines     int // in the cohort
	Failed    int // of these, while followed
	Survival  *stats.Survival
	Incidence *stats.Incidence
	Cohort    *stats.Cohort
	Dwell     time.Duration // of every line in situ, inside the period
	Ended     map[line.Reason]int
}

// DaysOf is a dwell in days.
func DaysOf(dwell time.Duration) float64 { return dwell.Hours() / 24 }

// PerThousand is the exposure of the rates: a thousand cannula-days.
const PerThousand = 1000

// Rate is how often lines ended for the reasons in the period, per thousand
// cannula-days.
func (g *Group) Rate(reasons ...line.Reason) stats.Rate {
	r := stats.Rate{Exposure: DaysOf(g.Dwell) / PerThousand}
	for _, reason := range reasons {
		r.Events += g.Ended[reason]
	}
	return r
}

// FailureReasons are the reasons that are failures.
func FailureReasons() []line.Reason {
	return slices.DeleteFunc(slices.Clone(Ends), func(r line.Reason) bool { return !line.Fails(r) })
}

// Follow works out what became of lines. It keeps nothing of what it is given.
func Follow(courses []line.Course, q Asked, names Names) (*Courses, error) {
	answer, err := follow(courses, q, func(c line.Course) Name { return q.By.groupOf(c, names) })
	if err != nil {
		return nil, err
	}
	return answer, answer.compare()
}

func follow(courses []line.Course, q Asked, groupOf func(line.Course) Name) (*Courses, error) {
	type gathered struct {
		Group
		episodes []stats.Episode
	}
	groups := map[string]*gathered{}
	answer := &Courses{Asked: q}
	for _, c := range courses {
		e, followed := q.Members.follow(c, q.Period)
		dwell := dwellIn(c, q.Period)
		if !followed && dwell == 0 && !endedIn(c, q.Period) {
			continue
		}
		name := groupOf(c)
		g := groups[name.ID]
		if g == nil {
			g = &gathered{Group: Group{Name: name, Ended: map[line.Reason]int{}}}
			groups[name.ID] = g
		}
		if g.Dwell += dwell; endedIn(c, q.Period) {
			g.Ended[c.Reason]++
		}
		if followed {
			g.episodes = append(g.episodes, e)
			answer.LeftOut.note(c, q.Period)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(groups)) {
		g := groups[id]
		var err error
		if g.Cohort, err = stats.NewCohort(g.episodes); err != nil {
			return nil, err
		}
		g.Lines, g.Failed = g.Cohort.N(), g.Cohort.Ended(failures...)
		g.Survival = stats.NewSurvival(g.Cohort, failures...)
		g.Incidence = stats.NewIncidence(g.Cohort, stats.DeltaMethod)
		answer.Groups = append(answer.Groups, g.Group)
	}
	return answer, nil
}

// compare tests the groups against each other.
func (c *Courses) compare() error {
	cohorts := make([]*stats.Cohort, len(c.Groups))
	for i := range c.Groups {
		cohorts[i] = c.Groups[i].Cohort
	}
	test, err := stats.LogRank(cohorts, failures...)
	if errors.Is(err, stats.ErrNothingToCompare) {
		return nil
	}
	c.LogRank = test
	return err
}

func (l *LeftOut) note(c line.Course, period line.Stretch) {
	if c.Reason == line.FoundGone && c.Out < period.Until {
		l.FoundGone++
	}
	switch c.Precision {
	case line.NotKnown:
		l.StartNotKnown++
	case line.ToDay:
		l.DateOnly++
	}
}
