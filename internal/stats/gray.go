package stats

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrLateEntry is of a cohort with late entries where a method takes none.
var ErrLateEntry = errors.New("episodes enter late")

// Gray tests that the cumulative incidence of a cause is the same in all groups,
// all other endings competing (Gray 1988, Ann Stat 16:1141-54; from memory). The
// cause is the endings named, each once. A group without episodes takes no part;
// the degrees of freedom count the groups that do, less one. The error is
// ErrNothingToCompare or ErrLateEntry.
func Gray(groups []*Cohort, cause ...Ending) (ChiSquaredTest, error) {
	return WeightedGray(0, [][]*Cohort{groups}, cause...)
}

// WeightedGray tests within strata, each stratum holding the cohorts of all
// groups in the same order. A moment weighs as the share of its stratum that had
// not ended of the cause just before it to the power rho: 0 is Gray's test, with
// 1 early endings count more. Once the incidence common to the groups comes to 1
// the rest tells nothing and is left out. The error is that of Gray, or says
// what is wrong with rho or the strata.
func WeightedGray(rho float64, strata [][]*Cohort, cause ...Ending) (ChiSquaredTest, error) {
	var none ChiSquaredTest
	if !(rho >= 0) || math.IsInf(rho, 1) {
		return none, fmt.Errorf("gray: rho is %v", rho)
	}
	if len(strata) == 0 {
		return none, ErrNothingToCompare
	}
	k := len(strata[0])
	score := grayScore{excess: make([]float64, k), covariance: squareMatrix(k)}
	for s, groups := range strata {
		if len(groups) != k {
			return none, fmt.Errorf("gray: stratum %d has %d groups, the first %d", s+1, len(groups), k)
		}
		for g, c := range groups {
			if len(c.entries) > 0 {
				return none, fmt.Errorf("gray: stratum %d, group %d: %w", s+1, g+1, ErrLateEntry)
			}
		}
		score.add(grayMoments(groups, cause), rho)
	}
	chi, df := mahalanobis(score.covariance, score.excess)
	if df == 0 {
		return none, ErrNothingToCompare
	}
	return chiSquaredTest(chi, df), nil
}

func squareMatrix(k int) [][]float64 {
	m := make([][]float64, k)
	for j := range m {
		m[j] = make([]float64, k)
	}
	return m
}

// grayMoment is a moment at which episodes of a stratum ended, of the cause or
// otherwise.
type grayMoment struct {
	groups          []grayGroup
	ended, exposure float64 // of all groups
	// before and after are the share not ended of the cause, were it the same in
	// all groups.
	before, after float64
}

// grayGroup is one group at a moment.
type grayGroup struct {
	atRisk        float64
	ended, others float64 // of the cause, and otherwise
	before, after float64 // the share event-free
	incidence     float64 // of the cause, before
}

// exposure is those at risk per share event-free: had only censoring been at
// work, as many would be.
func (g grayGroup) exposure() float64 {
	if g.atRisk == 0 {
		return 0
	}
	return g.atRisk / g.before
}

// at takes a group on to t, k being its first moment from t on.
func (g grayGroup) at(t float64, c *Cohort, k int, cause []Ending) grayGroup {
	if g.atRisk > 0 {
		g.incidence += g.before * g.ended / g.atRisk
	}
	g = grayGroup{before: g.after, after: g.after, incidence: g.incidence}
	if k == len(c.times) {
		return g
	}
	g.atRisk = float64(c.atRisk[k])
	if c.times[k] == t {
		all := float64(total(c.causesAt(k)))
		g.ended = float64(c.endedAt(k, cause))
		g.others = all - g.ended
		g.after *= (g.atRisk - all) / g.atRisk
	}
	return g
}

// grayMoments walks the groups of a stratum.
func grayMoments(groups []*Cohort, cause []Ending) []grayMoment {
	const rounding = 1e-10
	next := make([]int, len(groups)) // the moment of each group still to come
	now := slices.Repeat([]grayGroup{{after: 1}}, len(groups))
	var moments []grayMoment
	for left := 1.0; left > rounding; {
		t := math.Inf(1)
		for g, c := range groups {
			if next[g] < len(c.times) {
				t = min(t, c.times[next[g]])
			}
		}
		if math.IsInf(t, 1) {
			break
		}
		m := grayMoment{before: left}
		for g, c := range groups {
			now[g] = now[g].at(t, c, next[g], cause)
			m.ended += now[g].ended
			m.exposure += now[g].exposure()
			if next[g] < len(c.times) && c.times[next[g]] == t {
				next[g]++
			}
		}
		left -= m.ended / m.exposure
		m.after, m.groups = left, slices.Clone(now)
		moments = append(moments, m)
	}
	return moments
}

// grayScore is, for each group, the episodes seen to end of the cause beyond
// those expected, weighted, with its covariance.
type grayScore struct {
	excess     []float64
	covariance [][]float64
}

// add adds a stratum. It goes back in time, for what happens at a moment moves
// the scores at all later ones too.
func (s *grayScore) add(moments []grayMoment, rho float64) {
	ahead := squareMatrix(len(s.excess)) // how the scores follow the incidence later on
	for _, m := range slices.Backward(moments) {
		weight := math.Pow(m.before, rho)
		s.observe(m, weight)
		for k := range m.groups {
			s.vary(m, k, weight, ahead)
		}
		for j := range m.groups {
			for k := range m.groups {
				ahead[j][k] += m.pull(j, k) * weight * m.ended / m.exposure / m.before
			}
		}
	}
}

// pull is how far the score of group j follows the incidence of group k.
func (m grayMoment) pull(j, k int) float64 {
	share := -m.groups[k].exposure() / m.exposure
	if j == k {
		share++
	}
	return share * m.groups[j].exposure()
}

// observe adds a moment to the excess.
func (s *grayScore) observe(m grayMoment, weight float64) {
	free := 0.0 // those at risk of the cause, counting those gone otherwise
	for _, g := range m.groups {
		free += g.exposure() * (1 - g.incidence)
	}
	for j, g := range m.groups {
		s.excess[j] += weight * (g.ended - m.ended*g.exposure()*(1-g.incidence)/free)
	}
}

// vary adds what chance does in group k at a moment. One more that ends of the
// cause raises the incidence of the group now, and is not there to raise it
// later; one more that ends otherwise only lowers it later.
func (s *grayScore) vary(m grayMoment, k int, weight float64, ahead [][]float64) {
	g := m.groups[k]
	if g.atRisk == 0 {
		return
	}
	later := 0.0 // the share of all that follows that is lost with one who ends
	if g.after > 0 {
		later = m.after / g.after
	}
	byCause, otherwise := make([]float64, len(m.groups)), make([]float64, len(m.groups))
	for j := range m.groups {
		byCause[j] = weight*m.pull(j, k) + (1-later)*ahead[j][k]
		otherwise[j] = -later * ahead[j][k]
	}
	variance := g.before / g.atRisk * m.ended / m.exposure
	if m.ended > 1 {
		// A group of which little is left can have fewer to end than ended at once
		// in all; chance must not take from the variance then.
		variance *= max(0, 1-(m.ended-1)/(m.exposure*g.before-1))
	}
	s.spread(variance, byCause)
	s.spread(g.before*g.before*varTied(g.others, g.atRisk), otherwise)
}

// spread adds the covariance of what moves the scores together.
func (s *grayScore) spread(variance float64, by []float64) {
	for i, a := range by {
		for j, b := range by {
			s.covariance[i][j] += variance * a * b
		}
	}
}
