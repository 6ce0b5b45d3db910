package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Clusters are trials that come in clusters, such as many looks at one line:
// the trials of one cluster tend to end alike. Of each cluster with at least
// one trial, n trials and x successes, the sums are kept.
type Clusters struct {
	N                 int // clusters
	Successes, Trials int // sums of x and of n
	XX, XN, NN        int // sums of x*x, x*n, n*n
}

// Add puts one cluster in; one without trials says nothing.
func (c *Clusters) Add(successes, trials int) {
	if trials <= 0 {
		return
	}
	c.N++
	c.Successes += successes
	c.Trials += trials
	c.XX += successes * successes
	c.XN += successes * trials
	c.NN += trials * trials
}

// Wilson is the score interval of the proportion with the trials brought down
// to as many independent ones as would be as uncertain: the ratio estimator's
// variance over clusters (Cochran, Sampling Techniques, 3rd ed. 1977, section
// 3.12; from memory) gives the design effect by which Rao and Scott 1992
// (Biometrics 48:577-85; from memory) divide. The quantile is Student's t with one degree
// of freedom fewer than clusters.
//
// Conventions: never more trials than there are; where all trials ended alike
// the design effect is not known and each cluster counts as one trial; fewer
// than two clusters tell nothing, [0, 1].
func (c Clusters) Wilson(confidence float64) Interval {
	if !(confidence > 0 && confidence < 1) {
		return Interval{math.NaN(), math.NaN()}
	}
	if c.N < 2 {
		return Interval{0, 1}
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(c.N - 1)}.Quantile((1 + confidence) / 2)
	p := float64(c.Successes) / float64(c.Trials)
	i := score(p, c.effective(p), t)
	if c.Successes == 0 {
		i.Lower = 0
	}
	if c.Successes == c.Trials {
		i.Upper = 1
	}
	return i
}

// effective is the number of independent trials that would be as uncertain.
func (c Clusters) effective(p float64) float64 {
	n, k := float64(c.Trials), float64(c.N)
	if c.Successes == 0 || c.Successes == c.Trials {
		return k
	}
	squares := float64(c.XX) - 2*p*float64(c.XN) + p*p*float64(c.NN)
	variance := k / (k - 1) * max(squares, 0) / (n * n)
	return min(n, p*(1-p)/variance) // all clusters alike: infinite, so n
}
