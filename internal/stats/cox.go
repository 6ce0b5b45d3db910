package stats

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// CoxRow is one line under observation: at risk from just after Entry (0 for one
// seen from its start, later for one already in when watching began) up to and
// with Exit, when it failed or was censored. Covariates are numbers, a site or a
// ward as one 0/1 number for each level but the first.
type CoxRow struct {
	Entry, Exit float64
	Failed      bool
	Covariates  []float64
}

// Ties is how failures at one instant are treated.
type Ties int

// Efron's treatment (1977, J Am Stat Assoc 72:557-65) is the better one where
// many tie; Breslow's (1974, Biometrics 30:89-99) is the plainer. Without ties
// both are the same. Times tie if they are exactly equal.
const (
	Efron Ties = iota
	Breslow
)

// EventsPerCovariate is how few failures per covariate are too few to trust the
// coefficients (Peduzzi et al. 1995, J Clin Epidemiol 48:1503-10; from memory).
const EventsPerCovariate = 10

// TooFewEventsError is the refusal to fit more covariates than the failures
// bear.
type TooFewEventsError struct{ Events, Covariates int }

func (e *TooFewEventsError) Error() string {
	return fmt.Sprintf("cox: %d failures are too few for %d covariates, %d each are needed",
		e.Events, e.Covariates, EventsPerCovariate)
}

// The other reasons why nothing can be fitted.
var (
	// ErrCoxRows is of rows that are none: no covariates, not as many in each, an
	// exit not after its entry, or a number that is none.
	ErrCoxRows = errors.New("cox: rows cannot be read")
	// ErrCollinear is of a covariate that does not vary among those at risk, or
	// follows from the others.
	ErrCollinear = errors.New("cox: a covariate follows from the others")
	// ErrSeparated is of a covariate that parts those who fail from those who do
	// not: the likelihood rises for ever and the hazard ratio has no estimate.
	ErrSeparated = errors.New("cox: a covariate parts failures from the rest")
	// ErrNotConverged is of a likelihood whose maximum was not found.
	ErrNotConverged = errors.New("cox: no maximum was found")
)

// CoxCoefficient is the logarithm of a hazard ratio.
type CoxCoefficient struct{ Value, SE float64 }

// HazardRatio is the ratio for one unit more of the covariate.
func (c CoxCoefficient) HazardRatio() float64 { return math.Exp(c.Value) }

// Interval is Wald's interval of the hazard ratio.
func (c CoxCoefficient) Interval(confidence float64) Interval {
	if !(confidence > 0 && confidence < 1) {
		return Interval{math.NaN(), math.NaN()}
	}
	half := distuv.UnitNormal.Quantile((1+confidence)/2) * c.SE
	return Interval{math.Exp(c.Value - half), math.Exp(c.Value + half)}
}

// Wald tests that the hazard ratio is 1.
func (c CoxCoefficient) Wald() ChiSquaredTest { return chiSquaredTest(c.Value*c.Value/(c.SE*c.SE), 1) }

// CoxFit is a fitted regression.
type CoxFit struct {
	Coefficients         []CoxCoefficient
	Covariance           *mat.SymDense // of the coefficients, from the observed information
	Rows, Events         int
	LogLikelihood        float64        // partial, at the maximum
	LogLikelihoodNull    float64        // with every coefficient 0
	LikelihoodRatio      ChiSquaredTest // that all hazard ratios are 1
	Score, Wald          ChiSquaredTest // the same by the other two
	Iterations           int
	problem              *coxProblem
	standardCoefficients []float64
	standardCovariance   *mat.SymDense
}

const (
	coxIterations = 50
	coxHalvings   = 30
	coxStep       = 1e-9 // standard deviations of a covariate
	// coxSpread is the widest the linear predictor may spread over the rows: a
	// hazard ratio of half a thousand million is no estimate.
	coxSpread = 20
	// coxCondition is how ill-conditioned the information may be.
	coxCondition = 1e12
)

// FitCox fits Cox's regression by maximum partial likelihood (Cox 1972, J R
// Stat Soc B 34:187-220; Therneau & Grambsch, Modeling Survival Data, 2000).
// It refuses with *TooFewEventsError when failures are fewer than
// EventsPerCovariate for each covariate, and with one of the errors above when
// there is no maximum to find. Left truncation: a row counts at a failure time t
// if Entry < t <= Exit.
func FitCox(rows []CoxRow, ties Ties) (*CoxFit, error) {
	return fitCox(rows, ties, EventsPerCovariate)
}

func fitCox(rows []CoxRow, ties Ties, eventsPerCovariate int) (*CoxFit, error) {
	c, err := newCoxProblem(rows, ties)
	if err != nil {
		return nil, err
	}
	if c.events < eventsPerCovariate*c.p || c.events == 0 {
		return nil, &TooFewEventsError{c.events, c.p}
	}
	null := c.evaluate(make([]float64, c.p))
	inverse, ok := invert(null.information)
	if !ok {
		return nil, ErrCollinear
	}
	f := &CoxFit{
		Rows: len(rows), Events: c.events, LogLikelihoodNull: null.logLikelihood,
		Score: chiSquaredTest(quadratic(inverse, null.score), c.p), problem: c,
	}
	beta, found, err := f.climb(null)
	if err != nil {
		return nil, err
	}
	inverse, ok = invert(found.information)
	if !ok {
		return nil, ErrNotConverged
	}
	f.standardCoefficients, f.standardCovariance = beta, inverse
	f.LogLikelihood = found.logLikelihood
	f.LikelihoodRatio = chiSquaredTest(2*(found.logLikelihood-null.logLikelihood), c.p)
	f.Wald = chiSquaredTest(quadratic(found.information, beta), c.p)
	f.rescale()
	return f, nil
}

// climb finds the maximum by Newton's steps, halved where they overshoot.
func (f *CoxFit) climb(at coxDerivatives) ([]float64, coxDerivatives, error) {
	beta, converged := make([]float64, f.problem.p), false
	for f.Iterations = 1; f.Iterations <= coxIterations && !converged; f.Iterations++ {
		inverse, ok := invert(at.information)
		if !ok {
			break
		}
		var step mat.VecDense
		step.MulVec(inverse, mat.NewVecDense(f.problem.p, at.score))
		small := mat.Norm(&step, math.Inf(1)) < coxStep
		for range coxHalvings {
			next := make([]float64, len(beta))
			for j := range next {
				next[j] = beta[j] + step.AtVec(j)
			}
			there := f.problem.evaluate(next)
			// A step down by rounding alone is none.
			if there.logLikelihood >= at.logLikelihood-1e-10*math.Abs(at.logLikelihood) {
				beta, at, converged = next, there, small
				break
			}
			step.ScaleVec(0.5, &step)
		}
	}
	f.Iterations--
	switch {
	case f.problem.spread(beta) > coxSpread:
		return nil, at, ErrSeparated
	case !converged:
		return nil, at, ErrNotConverged
	}
	return beta, at, nil
}

// rescale takes the coefficients back from standard deviations to the
// covariates' own units.
func (f *CoxFit) rescale() {
	p, sd := f.problem.p, f.problem.sd
	f.Covariance = mat.NewSymDense(p, nil)
	f.Coefficients = make([]CoxCoefficient, p)
	for j := range p {
		for k := range j + 1 {
			f.Covariance.SetSym(j, k, f.standardCovariance.At(j, k)/(sd[j]*sd[k]))
		}
		f.Coefficients[j] = CoxCoefficient{f.standardCoefficients[j] / sd[j], math.Sqrt(f.Covariance.At(j, j))}
	}
}

// invert inverts a positive definite matrix, and says whether it could.
func invert(m *mat.SymDense) (*mat.SymDense, bool) {
	var c mat.Cholesky
	if !c.Factorize(m) || !(c.Cond() < coxCondition) {
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
