// Package outcomes says what became of attempts. It is pure.
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

func (s *Share) add(success bool) {
	s.N++
	if success {
		s.Successes++
	}
	s.Interval = stats.Wilson(s.Successes, s.N, Confidence)
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

// First attempts by site and by gauge, and failures by fault.
type (
	// SiteShare is the first attempts at one site.
	SiteShare struct {
		Site line.Site
		Share
	}
	// GaugeShare is the first attempts with one gauge.
	GaugeShare struct {
		Gauge line.Gauge
		Share
	}
	// FaultCount is how often an attempt failed for a reason.
	FaultCount struct {
		Fault line.Fault
		N     int
	}
)

// Record is one operator's attempts.
type Record struct {
	Occasions int          // in which the operator held a cannula
	First     Share        // attempts that were the first of their occasion
	Attempts  Share        // every attempt
	BySite    []SiteShare  // of first attempts, in the order of the sites' codes
	ByGauge   []GaugeShare // of first attempts, widest gauge first; one not known before all
	Faults    []FaultCount // of every attempt that failed, commonest first
	Stopped   int          // occasions stopped before skin: apart, never a failure
	Recent    []line.Tried // every attempt, newest first
}

// Of counts an operator's attempts. A first attempt is attempt number 1 of its
// occasion; an occasion that another person began has none of this operator's.
// Where nobody counted an occasion's attempts (Of is 0), no attempt of it is
// known to be the first; it counts among the attempts only. stopped is the
// number of the operator's occasions that ended before skin.
func Of(tried []line.Tried, stopped int) Record {
	none := Share{Interval: stats.Wilson(0, 0, Confidence)}
	r := Record{First: none, Attempts: none, Stopped: stopped, Recent: slices.Clone(tried)}
	slices.SortStableFunc(r.Recent, func(a, b line.Tried) int {
		return cmp.Or(cmp.Compare(b.At, a.At), cmp.Compare(b.Occasion, a.Occasion), cmp.Compare(b.No, a.No))
	})
	occasions := map[line.Key]bool{}
	sites, gauges, faults := map[line.Site]*Share{}, map[line.Gauge]*Share{}, map[line.Fault]int{}
	for _, t := range tried {
		occasions[t.Occasion] = true
		r.Attempts.add(!t.Failed)
		if t.Failed {
			faults[t.Fault]++
		}
		if t.No == 1 && t.Of > 0 {
			r.First.add(!t.Failed)
			shareOf(sites, t.Site).add(!t.Failed)
			shareOf(gauges, t.Gauge).add(!t.Failed)
		}
	}
	r.Occasions = len(occasions)
	for site, s := range sites {
		r.BySite = append(r.BySite, SiteShare{site, *s})
	}
	for gauge, s := range gauges {
		r.ByGauge = append(r.ByGauge, GaugeShare{gauge, *s})
	}
	for fault, n := range faults {
		r.Faults = append(r.Faults, FaultCount{fault, n})
	}
	slices.SortFunc(r.BySite, func(a, b SiteShare) int { return cmp.Compare(a.Site, b.Site) })
	slices.SortFunc(r.ByGauge, func(a, b GaugeShare) int { return cmp.Compare(a.Gauge, b.Gauge) })
	slices.SortFunc(r.Faults, func(a, b FaultCount) int {
		return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Fault, b.Fault))
	})
	return r
}

func shareOf[K comparable](m map[K]*Share, k K) *Share {
	if m[k] == nil {
		m[k] = &Share{}
	}
	return m[k]
}
