package outcomes

import (
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// Adjusted compares how fast lines fail, like for like: each level of a
// grouping against the commonest one, the other groupings being equal.
type Adjusted struct {
	Lines, Failed int
	LeftOut       int // lines in levels with too few failures
	Levels        []Level
	// Proportional tests that the hazard ratios are the same early and late.
	Proportional stats.ChiSquaredTest
}

// Level is one level of one grouping.
type Level struct {
	By        By
	Name      Name
	Lines     int
	Failed    int
	Reference bool // the others of its grouping are compared with it
	Hazard    float64
	Interval  stats.Interval
	// Drifts tests that this ratio is the same early and late.
	Drifts stats.ChiSquaredTest
}

// Adjust fits Cox's regression with the groupings as covariates. The error is
// one of stats.FitCox's refusals: too few failures, or nothing to compare.
func Adjust(courses []line.Course, q Asked, by []By, names Names) (*Adjusted, error) {
	var kept []line.Course
	var episodes []stats.Episode
	for _, c := range courses {
		if e, ok := q.Members.follow(c, q.Period); ok && e.Exit > e.Entry {
			kept, episodes = append(kept, c), append(episodes, e)
		}
	}
	group := func(i int, b By) Name { return b.groupOf(kept[i], names) }
	levels := newCoding(by, len(kept), group, func(i int) bool { return fails(episodes[i]) })
	a := &Adjusted{}
	var rows []stats.CoxRow
	for i, e := range episodes {
		covariates, ok := levels.covariates(func(b By) Name { return group(i, b) })
		if !ok {
			a.LeftOut++
			continue
		}
		rows = append(rows, stats.CoxRow{Entry: e.Entry, Exit: e.Exit, Failed: fails(e), Covariates: covariates})
		if a.Lines++; fails(e) {
			a.Failed++
		}
	}
	fit, err := stats.FitCox(rows, stats.Efron)
	if err != nil {
		return a, err
	}
	proportional := fit.Proportionality(stats.ByKaplanMeier)
	a.Proportional = proportional.Global
	for k, b := range by {
		for i, l := range levels.levels[k] {
			level := Level{By: b, Name: l.Name, Lines: l.n, Failed: l.failed, Reference: i == 0, Hazard: 1}
			if at := levels.column[k][l.ID]; at != reference {
				level.Hazard, level.Interval = fit.Coefficients[at].Ratio(), fit.Coefficients[at].Interval(Confidence)
				level.Drifts = proportional.Each[at]
			}
			a.Levels = append(a.Levels, level)
		}
	}
	return a, nil
}

func fails(e stats.Episode) bool { return slices.Contains(failures, e.Ending) }
