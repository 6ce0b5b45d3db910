package stats

import (
	"cmp"
	"math"
	"slices"
)

// Survival is the share of a cohort that has not failed yet, over time (Kaplan &
// Meier 1958, J Am Stat Assoc 53:457-81), with Greenwood's errors, and the
// cumulative hazard (Nelson 1972, Technometrics 14:945-66; Aalen 1978, Ann Stat
// 6:701-26; all from memory).
//
// One that is censored at the moment of a failure is still at risk of it. With
// late entries, the few who are at risk early may all fail: the curve is then 0
// for good, whoever enters later. Where that happens, ask for survival from a
// moment on with episodes that enter there.
type Survival struct {
	cohort *Cohort
	steps  []SurvivalPoint
}

// SurvivalPoint is survival at one moment.
type SurvivalPoint struct {
	Time     float64
	AtRisk   int // at Time, before those who fail at it
	Failures int // up to Time, with those at it
	// Estimate is the share that has not failed by the end of Time, 0 to 1; SE is
	// NaN once it is 0.
	Estimate, SE float64
	// Hazard is the cumulative hazard, which may pass 1.
	Hazard, HazardSE float64
}

// Interval is the interval of the estimate; Transform.Interval says when there
// is none, so for LogLog before the first failure and, whatever the transform,
// once everybody failed.
func (p SurvivalPoint) Interval(t Transform, confidence float64) Interval {
	return t.Interval(p.Estimate, p.SE, confidence)
}

// NewSurvival follows a cohort to the endings named, each once, which count as
// failures; every other ending censors.
func NewSurvival(c *Cohort, failures ...Ending) *Survival {
	s := &Survival{cohort: c}
	now := SurvivalPoint{Estimate: 1}
	greenwood, hazardVariance := 0.0, 0.0
	for k, t := range c.times {
		failed := c.endedAt(k, failures)
		if failed == 0 {
			continue
		}
		n, d := float64(c.atRisk[k]), float64(failed)
		greenwood += d / (n * (n - d)) // infinite once all failed
		hazardVariance += d / (n * n)
		now.Time, now.AtRisk = t, c.atRisk[k]
		now.Failures += failed
		now.Estimate *= (n - d) / n
		now.SE = now.Estimate * math.Sqrt(greenwood)
		now.Hazard += d / n
		now.HazardSE = math.Sqrt(hazardVariance)
		s.steps = append(s.steps, now)
	}
	return s
}

// Steps are the moments of failure, in order; the curve is 1 before the first,
// flat between two, and ends at End.
func (s *Survival) Steps() []SurvivalPoint { return slices.Clone(s.steps) }

// End is the last exit of the cohort, to which the curve is known; -Inf without
// episodes.
func (s *Survival) End() float64 { return s.cohort.last() }

// At is survival at any moment. After End nobody is left to tell: the
// estimates are NaN, unless everybody had failed; so they are before 0 and in a
// cohort without episodes.
func (s *Survival) At(t float64) SurvivalPoint {
	now := SurvivalPoint{Estimate: 1}
	k, here := slices.BinarySearchFunc(s.steps, t, func(p SurvivalPoint, t float64) int { return cmp.Compare(p.Time, t) })
	switch {
	case here:
		now = s.steps[k]
	case k > 0:
		now = s.steps[k-1]
	}
	now.Time, now.AtRisk = t, s.cohort.AtRisk(t)
	if seen := t >= 0 && t <= s.cohort.last(); !seen && now.Estimate > 0 {
		nan := math.NaN()
		now.Estimate, now.SE, now.Hazard, now.HazardSE = nan, nan, nan, nan
	}
	return now
}

// Median is the moment by which half failed; see Quantile.
func (s *Survival) Median(t Transform, confidence float64) (float64, Interval) {
	return s.Quantile(0.5, t, confidence)
}

// Quantile is the moment by which a share of the cohort failed, the share
// between 0 and 1, both excluded; where the curve rests on exactly that share,
// the middle of the rest. The interval holds the moments at which the curve's
// own interval holds the share (Brookmeyer & Crowley 1982, Biometrics 38:29-41;
// from memory).
//
// What the curve does not come down to is not reached: +Inf, often the upper end
// alone. Where it falls to 0 at once the lower end is NaN. Arguments out of
// range give NaN throughout.
func (s *Survival) Quantile(failed float64, t Transform, confidence float64) (float64, Interval) {
	if !(failed > 0 && failed < 1 && confidence > 0 && confidence < 1) {
		return math.NaN(), Interval{math.NaN(), math.NaN()}
	}
	level := 1 - failed
	estimate := s.crosses(level, func(p SurvivalPoint) float64 { return p.Estimate })
	i := Interval{
		Lower: s.crosses(level, func(p SurvivalPoint) float64 { return p.Interval(t, confidence).Lower }),
		Upper: s.crosses(level, func(p SurvivalPoint) float64 { return p.Interval(t, confidence).Upper }),
	}
	if i.Lower > estimate {
		i.Lower = math.NaN()
	}
	return estimate, i
}

// crosses is where a curve over the steps first comes down to a level.
func (s *Survival) crosses(level float64, curve func(SurvivalPoint) float64) float64 {
	const flat = 1e-8 // a product of fractions seldom comes exactly to rest on a level
	for k, p := range s.steps {
		v := curve(p)
		if !(v <= level+flat) {
			continue
		}
		if v >= level-flat {
			for _, next := range s.steps[k+1:] {
				if curve(next) < level-flat {
					return (p.Time + next.Time) / 2
				}
			}
		}
		return p.Time
	}
	return math.Inf(1)
}

// RestrictedMean is the mean time without failure up to a limit, the area under
// the curve, in the unit of the episodes, with its standard error (Klein &
// Moeschberger, Survival Analysis, 2nd ed. 2003, section 4.5; from memory). Both
// are NaN where the curve is not known as far as the limit, as At says. Once
// everybody failed the limit may be +Inf.
func (s *Survival) RestrictedMean(until float64) (mean, se float64) {
	if math.IsNaN(s.At(until).Estimate) {
		return math.NaN(), math.NaN()
	}
	area, variance, end := 0.0, 0.0, until
	for k, p := range slices.Backward(s.steps) {
		if p.Time >= until || p.Estimate == 0 {
			end = min(p.Time, until)
			continue
		}
		area += p.Estimate * (end - p.Time)
		end = p.Time
		n, d := float64(p.AtRisk), float64(p.Failures)
		if k > 0 {
			d -= float64(s.steps[k-1].Failures)
		}
		variance += area * area * d / (n * (n - d))
	}
	return area + end, math.Sqrt(variance)
}
