package stats

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// coxProblem is the rows made ready: their design, and the orders in which they
// come to be and cease to be at risk, as time runs backwards.
type coxProblem struct {
	design
	rows            []CoxRow
	events          int
	ties            Ties
	byExit, byEntry []int
}

func newCoxProblem(rows []CoxRow, ties Ties) (*coxProblem, error) {
	c := &coxProblem{rows: rows, ties: ties}
	for k, r := range rows {
		if !(r.Entry < r.Exit) || math.IsInf(r.Exit, 1) {
			return nil, fmt.Errorf("%w: row %d", ErrRows, k)
		}
		if r.Failed {
			c.events++
		}
		c.byExit, c.byEntry = append(c.byExit, k), append(c.byEntry, k)
	}
	slices.SortFunc(c.byExit, func(a, b int) int { return cmp.Compare(rows[b].Exit, rows[a].Exit) })
	slices.SortFunc(c.byEntry, func(a, b int) int { return cmp.Compare(rows[b].Entry, rows[a].Entry) })
	var err error
	c.design, err = newDesign(len(rows), func(k int) []float64 { return rows[k].Covariates })
	return c, err
}

// coxSums are the sums over a set of rows of r, rx and rxx', r being a row's
// relative hazard.
type coxSums struct {
	n   int
	s0  float64
	s1  []float64
	s2  []float64 // p by p, the lower half
	own []float64 // scratch for the mean
}

func newCoxSums(p int) *coxSums {
	return &coxSums{s1: make([]float64, p), s2: make([]float64, p*p), own: make([]float64, p)}
}

// add puts a row in, or with sign -1 takes it out.
func (s *coxSums) add(sign int, hazard float64, x []float64) {
	p, r := len(x), float64(sign)*hazard
	s.n += sign
	if s.n == 0 { // exactly none, whatever rounding left behind
		s.clear()
		return
	}
	s.s0 += r
	for j, v := range x {
		s.s1[j] += r * v
		for k := range j + 1 {
			s.s2[j*p+k] += r * v * x[k]
		}
	}
}

func (s *coxSums) clear() {
	s.n, s.s0 = 0, 0
	clear(s.s1)
	clear(s.s2)
}

// coxDeath is what happens at one failure time, or at one of the steps into
// which Efron's treatment parts it.
type coxDeath struct {
	time     float64
	rows     []int // that fail then
	atRisk   int
	weight   float64   // 1, or all the deaths at once where the steps are the same
	logTotal float64   // of the relative hazards at risk
	mean     []float64 // of the covariates at risk, weighted by relative hazard
	variance []float64 // the same way, p by p, the lower half
	last     bool      // of this time's steps
}

// walk calls at for every step of every failure time, latest first; what it is
// given is valid during the call.
func (c *coxProblem) walk(eta []float64, at func(coxDeath)) {
	highest := slices.Max(eta)
	hazard := func(k int) float64 { return math.Exp(eta[k] - highest) }
	risk, dying := newCoxSums(c.p), newCoxSums(c.p)
	in, out := 0, 0
	var rows []int
	for in < len(c.byExit) {
		t := c.rows[c.byExit[in]].Exit
		rows = rows[:0]
		dying.clear()
		for ; in < len(c.byExit) && c.rows[c.byExit[in]].Exit == t; in++ {
			k := c.byExit[in]
			risk.add(1, hazard(k), c.x[k])
			if c.rows[k].Failed {
				rows = append(rows, k)
				dying.add(1, hazard(k), c.x[k])
			}
		}
		if len(rows) == 0 {
			continue
		}
		for ; out < len(c.byEntry) && c.rows[c.byEntry[out]].Entry >= t; out++ {
			k := c.byEntry[out]
			risk.add(-1, hazard(k), c.x[k])
		}
		c.steps(coxDeath{time: t, rows: rows, atRisk: risk.n}, highest, risk, dying, at)
	}
}

// steps parts one failure time as the treatment of ties asks.
func (c *coxProblem) steps(d coxDeath, highest float64, risk, dying *coxSums, at func(coxDeath)) {
	deaths := len(d.rows)
	n := deaths
	if c.ties == Breslow {
		n = 1
	}
	d.weight, d.mean, d.variance = float64(deaths)/float64(n), risk.own, make([]float64, c.p*c.p)
	for l := range n {
		part := float64(l) / float64(deaths)
		total := risk.s0 - part*dying.s0
		d.logTotal, d.last = math.Log(total)+highest, l == n-1
		for j := range c.p {
			d.mean[j] = (risk.s1[j] - part*dying.s1[j]) / total
			for k := range j + 1 {
				jk := j*c.p + k
				d.variance[jk] = (risk.s2[jk]-part*dying.s2[jk])/total - d.mean[j]*d.mean[k]
			}
		}
		at(d)
	}
}

func (c *coxProblem) evaluate(beta []float64) derivatives {
	d := derivatives{score: make([]float64, c.p), information: mat.NewSymDense(c.p, nil)}
	eta := c.predictor(beta)
	c.walk(eta, func(s coxDeath) {
		if s.last {
			for _, k := range s.rows {
				d.logLikelihood += eta[k]
				for j, v := range c.x[k] {
					d.score[j] += v
				}
			}
		}
		d.logLikelihood -= s.weight * s.logTotal
		for j, m := range s.mean {
			d.score[j] -= s.weight * m
		}
		addVariance(d.information, s.weight, s.variance)
	})
	return d
}

func addVariance(to *mat.SymDense, weight float64, variance []float64) {
	p := to.SymmetricDim()
	for j := range p {
		for k := range j + 1 {
			to.SetSym(j, k, to.At(j, k)+weight*variance[j*p+k])
		}
	}
}
