package stats

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrNothingToCompare is of groups of which no two were ever at risk at one
// failure: one group alone, no episodes in the others, or no failures.
var ErrNothingToCompare = errors.New("no two groups can be compared")

// LogRankTest is the test that groups fail alike at every moment.
type LogRankTest struct {
	ChiSquaredTest
	Groups     []LogRankGroup // in the order given
	covariance [][]float64    // of observed less expected
}

// LogRankGroup is the failures seen in a group and those it would have had, had
// all failed alike; with weights, both weighted.
type LogRankGroup struct {
	N                  int // episodes, of all strata
	Observed, Expected float64
}

// Trend is the test that failures rise or fall with the scores of the groups.
type Trend struct {
	ChiSquaredTest
	Z float64 // above 0 where higher scores fail sooner
}

// LogRank compares groups (Mantel 1966, Cancer Chemother Rep 50:163-70; Peto &
// Peto 1972, J R Stat Soc A 135:185-207; from memory). The endings named, each
// once, are failures; every other ending censors. A group without episodes takes
// no part; the degrees of freedom count the groups that do, less one. The error
// is ErrNothingToCompare.
func LogRank(groups []*Cohort, failures ...Ending) (*LogRankTest, error) {
	return FlemingHarrington(0, [][]*Cohort{groups}, failures...)
}

// FlemingHarrington compares groups within strata, each stratum holding the
// cohorts of all groups in the same order (Harrington & Fleming 1982, Biometrika
// 69:553-66; from memory). A failure weighs as the survival of its stratum just
// before it to the power rho: 0 is the log-rank test, 1 the Peto-Peto one, in
// which early failures count more. The error is ErrNothingToCompare, or says
// what is wrong with rho or the strata.
func FlemingHarrington(rho float64, strata [][]*Cohort, failures ...Ending) (*LogRankTest, error) {
	if !(rho >= 0) || math.IsInf(rho, 1) {
		return nil, fmt.Errorf("log-rank: rho is %v", rho)
	}
	if len(strata) == 0 {
		return nil, ErrNothingToCompare
	}
	k := len(strata[0])
	test := &LogRankTest{Groups: make([]LogRankGroup, k), covariance: make([][]float64, k)}
	for j := range test.covariance {
		test.covariance[j] = make([]float64, k)
	}
	for s, groups := range strata {
		if len(groups) != k {
			return nil, fmt.Errorf("log-rank: stratum %d has %d groups, the first %d", s+1, len(groups), k)
		}
		test.add(groups, rho, failures)
	}
	chi, df := mahalanobis(test.covariance, test.excess())
	if df == 0 {
		return nil, ErrNothingToCompare
	}
	test.ChiSquaredTest = chiSquaredTest(chi, df)
	return test, nil
}

// add walks the moments of one stratum.
func (l *LogRankTest) add(groups []*Cohort, rho float64, failures []Ending) {
	next := make([]int, len(groups)) // the moment of each group still to come
	atRisk := make([]float64, len(groups))
	surviving := 1.0
	for j, c := range groups {
		l.Groups[j].N += c.n
	}
	for {
		t := math.Inf(1)
		for j, c := range groups {
			if next[j] < len(c.times) {
				t = min(t, c.times[next[j]])
			}
		}
		if math.IsInf(t, 1) {
			return
		}
		weight := math.Pow(surviving, rho)
		n, d := 0.0, 0.0
		for j, c := range groups {
			atRisk[j] = float64(c.atRiskBefore(next[j], t))
			n += atRisk[j]
			if next[j] < len(c.times) && c.times[next[j]] == t {
				failed := float64(c.endedAt(next[j], failures))
				d += failed
				l.Groups[j].Observed += weight * failed
				next[j]++
			}
		}
		if d == 0 {
			continue
		}
		surviving *= (n - d) / n
		for j, a := range atRisk {
			l.Groups[j].Expected += weight * d * a / n
		}
		if n > d {
			l.vary(weight*weight*d*(n-d)/(n-1), n, atRisk)
		}
	}
}

// vary adds the multinomial covariance of who among those at risk fails.
func (l *LogRankTest) vary(scale, n float64, atRisk []float64) {
	for j, a := range atRisk {
		p := a / n // 1 for a group alone, which leaves exactly no variance
		l.covariance[j][j] += scale * p
		for i, b := range atRisk {
			l.covariance[j][i] -= scale * p * (b / n)
		}
	}
}

// excess is the failures seen beyond those expected, for each group.
func (l *LogRankTest) excess() []float64 {
	out := make([]float64, len(l.Groups))
	for j, g := range l.Groups {
		out[j] = g.Observed - g.Expected
	}
	return out
}

// Trend tests for a rise over the groups (Tarone 1975, Biometrika 62:679-82;
// from memory), with a score for each; only their distances matter. Groups that
// have the same score are one. The error is ErrNothingToCompare, or of scores
// that are not as many as the groups.
func (l *LogRankTest) Trend(scores []float64) (Trend, error) {
	if len(scores) != len(l.Groups) {
		return Trend{}, fmt.Errorf("log-rank: %d scores for %d groups", len(scores), len(l.Groups))
	}
	sum, variance, apart := 0.0, 0.0, 0.0
	for j, u := range l.excess() {
		a := scores[j] - scores[0]
		sum += a * u
		apart += a * a * l.covariance[j][j]
		for i, v := range l.covariance[j] {
			variance += a * v * (scores[i] - scores[0])
		}
	}
	if !(variance > rounding*apart) {
		return Trend{}, ErrNothingToCompare
	}
	z := sum / math.Sqrt(variance)
	return Trend{chiSquaredTest(z*z, 1), z}, nil
}

// rounding is the part of a variance that is none.
const rounding = 1e-10

// mahalanobis is u'V⁻u with the rank of V, whose rows add up to 0 as u does. It
// eliminates, the largest variance last: the one left of groups that were at
// risk together follows from the others and has no variance of its own.
func mahalanobis(covariance [][]float64, u []float64) (chi float64, rank int) {
	order := make([]int, len(u))
	v := make([][]float64, len(u))
	for j := range order {
		order[j], v[j] = j, slices.Clone(covariance[j])
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(covariance[a][a], covariance[b][b]) })
	u = slices.Clone(u)
	for k, j := range order {
		if v[j][j] <= rounding*covariance[j][j] {
			continue
		}
		chi += u[j] * u[j] / v[j][j]
		rank++
		for _, i := range order[k+1:] {
			f := v[i][j] / v[j][j]
			u[i] -= f * u[j]
			for _, l := range order[k+1:] {
				v[i][l] -= f * v[j][l]
			}
		}
	}
	return chi, rank
}
