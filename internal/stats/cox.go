package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
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

// CoxFit is a fitted regression.
type CoxFit struct {
	Coefficients         []Coefficient
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

// FitCox fits Cox's regression by maximum partial likelihood (Cox 1972, J R
// Stat Soc B 34:187-220; Therneau & Grambsch, Modeling Survival Data, 2000).
// It refuses with *TooFewEventsError when failures are fewer than
// EventsPerCovariate for each covariate, and with one of the errors beside that
// when there is no maximum to find. Left truncation: a row counts at a failure time t
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
	beta, found, steps, converged := climb(null, c.evaluate)
	err = c.refuse(beta, converged)
	if err != nil {
		return nil, err
	}
	inverse, ok = invert(found.information)
	if !ok {
		return nil, ErrNotConverged
	}
	f.Iterations = steps
	f.standardCoefficients, f.standardCovariance = beta, inverse
	f.LogLikelihood = found.logLikelihood
	f.LikelihoodRatio = chiSquaredTest(2*(found.logLikelihood-null.logLikelihood), c.p)
	f.Wald = chiSquaredTest(quadratic(found.information, beta), c.p)
	f.rescale()
	return f, nil
}

// rescale takes the coefficients back from standard deviations to the
// covariates' own units.
func (f *CoxFit) rescale() {
	p, sd := f.problem.p, f.problem.sd
	f.Covariance = mat.NewSymDense(p, nil)
	f.Coefficients = make([]Coefficient, p)
	for j := range p {
		for k := range j + 1 {
			f.Covariance.SetSym(j, k, f.standardCovariance.At(j, k)/(sd[j]*sd[k]))
		}
		f.Coefficients[j] = Coefficient{f.standardCoefficients[j] / sd[j], math.Sqrt(f.Covariance.At(j, j))}
	}
}
