package outcomes

import (
	"cmp"
	"maps"
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

// leveled counts what a level has.
type leveled struct {
	Name
	lines, failed int
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
	levels := make([][]leveled, len(by))
	for k, b := range by {
		levels[k] = levelsOf(b, kept, episodes, names)
	}
	a := &Adjusted{}
	column := map[By]map[string]int{}
	columns := 0
	for k, b := range by {
		column[b] = map[string]int{}
		for i, l := range levels[k] {
			column[b][l.ID] = reference
			if i > 0 {
				column[b][l.ID] = columns
				columns++
			}
		}
	}
	rows := a.rows(kept, episodes, by, column, columns, names)
	fit, err := stats.FitCox(rows, stats.Efron)
	if err != nil {
		return a, err
	}
	proportional := fit.Proportionality(stats.ByKaplanMeier)
	a.Proportional = proportional.Global
	for k, b := range by {
		for i, l := range levels[k] {
			level := Level{By: b, Name: l.Name, Lines: l.lines, Failed: l.failed, Reference: i == 0, Hazard: 1}
			if at := column[b][l.ID]; at != reference {
				level.Hazard, level.Interval = fit.Coefficients[at].Ratio(), fit.Coefficients[at].Interval(Confidence)
				level.Drifts = proportional.Each[at]
			}
			a.Levels = append(a.Levels, level)
		}
	}
	return a, nil
}

// reference is the column of a level that has none.
const reference = -1

// levelsOf are the levels with enough failures to be compared, the commonest
// first.
func levelsOf(b By, courses []line.Course, episodes []stats.Episode, names Names) []leveled {
	all := map[string]*leveled{}
	for i, c := range courses {
		name := b.groupOf(c, names)
		l := all[name.ID]
		if l == nil {
			l = &leveled{Name: name}
			all[name.ID] = l
		}
		l.lines++
		if fails(episodes[i]) {
			l.failed++
		}
	}
	var levels []leveled
	for _, id := range slices.Sorted(maps.Keys(all)) {
		if all[id].failed >= stats.EventsPerCovariate {
			levels = append(levels, *all[id])
		}
	}
	slices.SortStableFunc(levels, func(a, b leveled) int { return cmp.Compare(b.lines, a.lines) })
	return levels
}

func fails(e stats.Episode) bool { return slices.Contains(failures, e.Ending) }

// rows are the lines all of whose levels are compared.
func (a *Adjusted) rows(courses []line.Course, episodes []stats.Episode, by []By, column map[By]map[string]int, columns int, names Names) []stats.CoxRow {
	var rows []stats.CoxRow
	for i, c := range courses {
		covariates, whole := make([]float64, columns), true
		for _, b := range by {
			at, ok := column[b][b.groupOf(c, names).ID]
			whole = whole && ok
			if ok && at != reference {
				covariates[at] = 1
			}
		}
		if !whole {
			a.LeftOut++
			continue
		}
		e := episodes[i]
		rows = append(rows, stats.CoxRow{Entry: e.Entry, Exit: e.Exit, Failed: fails(e), Covariates: covariates})
		if a.Lines++; fails(e) {
			a.Failed++
		}
	}
	return rows
}
