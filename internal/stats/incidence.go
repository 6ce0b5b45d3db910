package stats

import (
	"math"
	"slices"
)

// Incidence is how the episodes of a cohort ended over time where one way of
// ending rules out the others: for each cause, which is an ending other than
// Censored, the share that has ended of it, all causes being at work (Aalen &
// Johansen 1978, Scand J Stat 5:141-50; from memory). The shares of all causes
// and the share still going on add up to 1.
//
// One that is censored at the moment of an ending is still at risk of it. With
// late entries, the few who are at risk early may all end: the shares then stay
// as they are, whoever enters later.
type Incidence struct {
	cohort *Cohort
	steps  []IncidenceStep
}

// IncidenceStep is the shares from one moment on.
type IncidenceStep struct {
	Time      float64
	EventFree float64 // the share still going on
	Causes    []Share // the shares ended, that of ending 1 first
}

// Share is an estimated share of episodes, 0 to 1, with its standard error.
type Share struct{ Estimate, SE float64 }

// Interval is the interval of the share; Transform.Interval says when there is
// none, so for LogLog and Log where nothing ended of a cause.
func (s Share) Interval(t Transform, confidence float64) Interval {
	return t.Interval(s.Estimate, s.SE, confidence)
}

// IncidenceError is how the standard error of an incidence is worked out.
type IncidenceError int

const (
	// DeltaMethod has the causes share out those at risk at each moment; with one
	// cause it is Greenwood's error (Allignol, Schumacher & Beyersmann 2010, Biom J
	// 52:126-37; from memory).
	DeltaMethod IncidenceError = iota
	// AalenType has each cause arrive on its own, which mostly gives a little more
	// (Aalen 1978, Ann Stat 6:534-45; from memory).
	AalenType
)

// NewIncidence follows a cohort to every ending it knows. A cause of which
// nothing ended has a share of 0 with an error of 0.
func NewIncidence(c *Cohort, by IncidenceError) *Incidence {
	i := &Incidence{cohort: c}
	curves := make([]causeCurve, c.endings-1)
	shares := make([]Share, len(c.times)*len(curves))
	m := incidenceMoment{after: 1}
	for k, t := range c.times {
		ended := c.causesAt(k)
		m = incidenceMoment{float64(c.atRisk[k]), float64(total(ended)), m.after, m.after}
		if m.ended == 0 || m.before == 0 {
			continue
		}
		m.after *= (m.atRisk - m.ended) / m.atRisk
		here := shares[:len(curves):len(curves)]
		shares = shares[len(curves):]
		for j, own := range ended {
			curves[j].pass(m, float64(own), by)
			here[j] = curves[j].share()
		}
		i.steps = append(i.steps, IncidenceStep{t, m.after, here})
	}
	return i
}

// causesAt counts those that ended at the k-th moment, of ending 1 first.
func (c *Cohort) causesAt(k int) []int { return c.ended[k*c.endings+1 : (k+1)*c.endings] }

func total(counts []int) int {
	sum := 0
	for _, n := range counts {
		sum += n
	}
	return sum
}

// Steps are the moments at which an episode ended of a cause, in order; before
// the first all were going on, between two the shares stay, and they end at the
// last exit of the cohort.
func (i *Incidence) Steps() []IncidenceStep { return slices.Clone(i.steps) }

// At is the share that has ended of a cause by the end of t. After the last exit
// nobody is left to tell: it is NaN, unless all had ended; so it is before 0, in
// a cohort without episodes, and of Censored, which is no cause.
func (i *Incidence) At(cause Ending, t float64) Share {
	s := i.step(t)
	switch {
	case cause == Censored || math.IsNaN(s.EventFree):
		return Share{math.NaN(), math.NaN()}
	case int(cause) > len(s.Causes):
		return Share{}
	}
	return s.Causes[cause-1]
}

// EventFree is the share still going on after t; NaN where At is.
func (i *Incidence) EventFree(t float64) float64 { return i.step(t).EventFree }

// step is what holds at t.
func (i *Incidence) step(t float64) IncidenceStep {
	now := IncidenceStep{EventFree: 1}
	later, _ := slices.BinarySearchFunc(i.steps, t, func(s IncidenceStep, t float64) int {
		if s.Time <= t {
			return -1
		}
		return 1
	})
	if later > 0 {
		now = i.steps[later-1]
	}
	if seen := t >= 0 && t <= i.cohort.last(); !seen && now.EventFree > 0 {
		now.EventFree = math.NaN()
	}
	return now
}

// incidenceMoment is a moment at which some of those at risk ended, of any cause,
// with the share event-free before and after it.
type incidenceMoment struct{ atRisk, ended, before, after float64 }

// causeCurve is the incidence of one cause on its way through time. How far the
// share event-free is off weighs on all that ends later, so its variance and its
// covariance with the incidence go along.
type causeCurve struct {
	incidence, variance      float64
	covariance, varEventFree float64
	competing                bool // something ended of another cause
}

// pass takes a curve through a moment at which own ended of its cause.
func (f *causeCurve) pass(m incidenceMoment, own float64, by IncidenceError) {
	n, q, p := m.atRisk, own/m.atRisk, m.ended/m.atRisk
	varOwn, cov, varAll := q*(1-q)/n, q*(1-p)/n, p*(1-p)/n
	if by == AalenType {
		varOwn = varTied(own, n)
		cov, varAll = varOwn, varOwn+varTied(m.ended-own, n)
	}
	square := m.before * m.before
	f.variance += q*(2*f.covariance+q*f.varEventFree) + square*varOwn
	f.covariance = (1-p)*(f.covariance+q*f.varEventFree) - square*cov
	f.varEventFree = (1-p)*(1-p)*f.varEventFree + square*varAll
	f.competing = f.competing || own < m.ended
	if f.competing {
		f.incidence += m.before * q
	} else {
		f.incidence = 1 - m.after // the same, and 1 in the end to the last digit
	}
}

// varTied is the variance of d/n where d of n at risk end at once.
func varTied(d, n float64) float64 {
	if d <= 1 {
		return d / (n * n)
	}
	return d * (n - d) / (n * n * (n - 1))
}

// share is the curve now, clear of what rounding leaves.
func (f *causeCurve) share() Share {
	return Share{min(1, f.incidence), math.Sqrt(max(0, f.variance))}
}
