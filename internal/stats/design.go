package stats

import (
	"fmt"
	"math"
	"slices"
)

// design is the covariates of a regression in standard deviations about their
// means, so that nothing depends on the units they came in.
type design struct {
	x        [][]float64
	mean, sd []float64
	p        int
}

// widestSpread is the widest the linear predictor may spread over the rows: a
// ratio of half a thousand million is no estimate.
const widestSpread = 20

// newDesign standardises the covariates of so many rows; the errors are ErrRows
// and ErrCollinear.
func newDesign(rows int, covariates func(row int) []float64) (design, error) {
	if rows == 0 || len(covariates(0)) == 0 {
		return design{}, fmt.Errorf("%w: no rows or no covariates", ErrRows)
	}
	p := len(covariates(0))
	d := design{x: make([][]float64, rows), mean: make([]float64, p), sd: make([]float64, p), p: p}
	for k := range rows {
		d.x[k] = slices.Clone(covariates(k))
		if len(d.x[k]) != p {
			return design{}, fmt.Errorf("%w: row %d", ErrRows, k)
		}
		for j, v := range d.x[k] {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return design{}, fmt.Errorf("%w: row %d", ErrRows, k)
			}
			d.mean[j] += v / float64(rows)
		}
	}
	for j := range p {
		largest := 0.0
		for _, x := range d.x {
			largest = max(largest, math.Abs(x[j]))
			x[j] -= d.mean[j]
			d.sd[j] += x[j] * x[j] / float64(rows)
		}
		d.sd[j] = math.Sqrt(d.sd[j])
		if !(d.sd[j] > 1e-12*largest) {
			return design{}, ErrCollinear
		}
		for _, x := range d.x {
			x[j] /= d.sd[j]
		}
	}
	return d, nil
}

// predictor is the linear predictor of each row.
func (d design) predictor(beta []float64) []float64 {
	eta := make([]float64, len(d.x))
	for k, x := range d.x {
		for j, v := range x {
			eta[k] += beta[j] * v
		}
	}
	return eta
}

// refuse says why no estimate stands where the climb ended, if none does.
func (d design) refuse(beta []float64, converged bool) error {
	eta := d.predictor(beta)
	switch {
	case slices.Max(eta)-slices.Min(eta) > widestSpread:
		return ErrSeparated
	case !converged:
		return ErrNotConverged
	}
	return nil
}
