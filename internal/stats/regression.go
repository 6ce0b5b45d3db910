package stats

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// EventsPerCovariate is how few events per covariate are too few to trust the
// coefficients (Peduzzi et al. 1995, J Clin Epidemiol 48:1503-10, of Cox's
// regression, and 1996, 49:1373-9, of logistic regression; from memory).
const EventsPerCovariate = 10

// TooFewEventsError is the refusal to fit more covariates than the events bear.
type TooFewEventsError struct{ Events, Covariates int }

func (e *TooFewEventsError) Error() string {
	return fmt.Sprintf("regression: %d events are too few for %d covariates, %d each are needed",
		e.Events, e.Covariates, EventsPerCovariate)
}

// The other reasons why nothing can be fitted.
var (
	// ErrRows is of rows that are none: no covariates, not as many in each, an
	// exit not after its entry, or a number that is none.
	ErrRows = errors.New("regression: rows cannot be read")
	// ErrCollinear is of a covariate that does not vary among those at risk, or
	// follows from the others.
	ErrCollinear = errors.New("regression: a covariate follows from the others")
	// ErrSeparated is of a covariate that parts those who fail from those who do
	// not: the likelihood rises for ever and the ratio has no estimate.
	ErrSeparated = errors.New("regression: a covariate parts failures from the rest")
	// ErrNotConverged is of a likelihood whose maximum was not found.
	ErrNotConverged = errors.New("regression: no maximum was found")
)

// Coefficient is the logarithm of a hazard ratio or of an odds ratio.
type Coefficient struct{ Value, SE float64 }

// Ratio is the ratio for one unit more of the covariate.
func (c Coefficient) Ratio() float64 { return math.Exp(c.Value) }

// Interval is Wald's interval of the ratio.
func (c Coefficient) Interval(confidence float64) Interval {
	if !(confidence > 0 && confidence < 1) {
		return Interval{math.NaN(), math.NaN()}
	}
	half := distuv.UnitNormal.Quantile((1+confidence)/2) * c.SE
	return Interval{math.Exp(c.Value - half), math.Exp(c.Value + half)}
}

// Wald tests that the ratio is 1.
func (c Coefficient) Wald() ChiSquaredTest { return chiSquaredTest(c.Value*c.Value/(c.SE*c.SE), 1) }
