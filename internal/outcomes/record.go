// Package outcomes says what became of lines and attempts. It is pure.
package outcomes

import (
	"cmp"
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// Confidence of all intervals.
const Confidence = 0.95

// few is the number of trials below which a proportion says next to nothing.
const few = 10

// Share is a number of successes among trials, with its Wilson interval at
// Confidence; without trials the interval is [0, 1]. A success is an attempt
// that was not recorded as failed.
type Share struct {
	Successes, N int
	stats.Interval
}

// Few reports whether there are too few trials, under 10, for the share to tell
// anything (house rule: no source gives the figure).
func (s Share) Few() bool { return s.N < few }

// Proportion of successes; ok is false where there were no trials.
func (s Share) Proportion() (p float64, ok bool) {
	if s.N == 0 {
		return 0, false
	}
	return float64(s.Successes) / float64(s.N), true
}

// sharing is the share of trials that did not fail.
func sharing(trials []line.Tried) Share {
	successes := 0
	for _, t := range trials {
		if !t.Failed {
			successes++
		}
	}
	return ShareOf(successes, len(trials))
}

// Record is one operator's attempts.
type Record struct {
	Occasions int          // in which the operator held a cannula
	First     Share        // attempts that were the first of their occasion
	Attempts  Share        // every attempt
	Stopped   int          // occasions stopped before skin: apart, never a failure
	Tried     []line.Tried // every attempt, oldest first
}

// Of counts an operator's attempts. stopped is the number of the operator's
// occasions that ended before skin.
func Of(tried []line.Tried, stopped int) *Record {
	r := &Record{Stopped: stopped, Tried: inOrder(tried)}
	occasions := map[line.Key]bool{}
	for _, t := range tried {
		occasions[t.Occasion] = true
	}
	r.Occasions = len(occasions)
	r.First, r.Attempts = sharing(r.Trials(PerOccasion)), sharing(r.Tried)
	return r
}

// inOrder is attempts in order of placement, then of the line's id.
func inOrder(tried []line.Tried) []line.Tried {
	sorted := slices.Clone(tried)
	slices.SortStableFunc(sorted, func(a, b line.Tried) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.LineID, b.LineID), cmp.Compare(a.Occasion, b.Occasion), cmp.Compare(a.No, b.No))
	})
	return sorted
}

// Trials are the attempts that the unit counts, oldest first.
func (r *Record) Trials(u Unit) []line.Tried { return u.of(r.Tried) }

// Part is the trials of one group.
type Part struct {
	Name
	Share
}

// By parts the trials into groups: sites and sides in the order of their codes,
// gauges widest first, one not known before all, hours and difficulty from
// least to most, wards by id.
func (r *Record) By(b By, u Unit, names Names) []Part {
	type grouped struct {
		Name
		place  int
		trials []line.Tried
	}
	var groups []*grouped
	byID := map[string]*grouped{}
	for _, t := range r.Trials(u) {
		name, place := b.groupOfTried(t, names)
		g := byID[name.ID]
		if g == nil {
			g = &grouped{Name: name, place: place}
			byID[name.ID], groups = g, append(groups, g)
		}
		g.trials = append(g.trials, t)
	}
	slices.SortFunc(groups, func(a, b *grouped) int { return cmp.Or(cmp.Compare(a.place, b.place), cmp.Compare(a.ID, b.ID)) })
	parts := make([]Part, len(groups))
	for i, g := range groups {
		parts[i] = Part{g.Name, sharing(g.trials)}
	}
	return parts
}
