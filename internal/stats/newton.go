package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const (
	newtonSteps    = 50
	newtonHalvings = 30
	smallestStep   = 1e-9 // in a coefficient of a standardised covariate
	// worstCondition is how ill-conditioned the information may be.
	worstCondition = 1e12
)

// derivatives are a log-likelihood and its derivatives.
type derivatives struct {
	logLikelihood float64
	score         []float64
	information   *mat.SymDense
}

// climb finds the maximum of a log-likelihood from all coefficients 0 by
// Newton's steps, halved where they overshoot, and says after how many and
// whether it got there.
func climb(at derivatives, evaluate func(beta []float64) derivatives) (beta []float64, _ derivatives, steps int, converged bool) {
	p := len(at.score)
	beta = make([]float64, p)
	for steps < newtonSteps && !converged {
		inverse, ok := invert(at.information)
		if !ok {
			break
		}
		steps++
		var step mat.VecDense
		step.MulVec(inverse, mat.NewVecDense(p, at.score))
		small := mat.Norm(&step, math.Inf(1)) < smallestStep
		for range newtonHalvings {
			next := make([]float64, p)
			for j := range next {
				next[j] = beta[j] + step.AtVec(j)
			}
			there := evaluate(next)
			// A step down by rounding alone is none.
			if there.logLikelihood >= at.logLikelihood-1e-10*math.Abs(at.logLikelihood) {
				beta, at, converged = next, there, small
				break
			}
			step.ScaleVec(0.5, &step)
		}
	}
	return beta, at, steps, converged
}

// invert inverts a positive definite matrix, and says whether it could.
func invert(m *mat.SymDense) (*mat.SymDense, bool) {
	var c mat.Cholesky
	if !c.Factorize(m) || !(c.Cond() < worstCondition) {
		return nil, false
	}
	inverse := mat.NewSymDense(m.SymmetricDim(), nil)
	return inverse, c.InverseTo(inverse) == nil
}

// quadratic is v'mv.
func quadratic(m mat.Symmetric, v []float64) float64 {
	x := mat.NewVecDense(len(v), v)
	return mat.Inner(x, m, x)
}
