package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// LogisticRow is one trial, such as an attempt at a cannula. Covariates are
// numbers, a site or a ward as one 0/1 number for each level but the first.
type LogisticRow struct {
	Failed     bool
	Covariates []float64
}

// LogisticFit is a fitted regression: the log odds of failing as a sum over
// covariates.
type LogisticFit struct {
	Intercept         Coefficient // log odds of failing where every covariate is 0
	Coefficients      []Coefficient
	Covariance        *mat.SymDense // of the intercept and the coefficients
	Rows, Failures    int
	LogLikelihood     float64
	LogLikelihoodNull float64        // of the intercept alone
	LikelihoodRatio   ChiSquaredTest // that all odds ratios are 1
	Iterations        int
}

// FitLogistic fits a logistic regression with an intercept by maximum
// likelihood (Cox 1958, J R Stat Soc B 20:215-42; from memory). It refuses with
// *TooFewEventsError when failures, or successes if there are fewer of them,
// are fewer than EventsPerCovariate for each covariate, and with one of the
// errors beside that when there is no maximum to find.
func FitLogistic(rows []LogisticRow) (*LogisticFit, error) {
	return fitLogistic(rows, EventsPerCovariate)
}

func fitLogistic(rows []LogisticRow, eventsPerCovariate int) (*LogisticFit, error) {
	d, err := newDesign(len(rows), func(k int) []float64 { return rows[k].Covariates })
	if err != nil {
		return nil, err
	}
	l := logisticProblem{d, rows}
	f := &LogisticFit{Rows: len(rows)}
	for _, r := range rows {
		if r.Failed {
			f.Failures++
		}
	}
	rarer := min(f.Failures, f.Rows-f.Failures)
	if rarer < eventsPerCovariate*d.p || rarer == 0 {
		return nil, &TooFewEventsError{rarer, d.p}
	}
	start := l.evaluate(make([]float64, 1+d.p))
	if _, ok := invert(start.information); !ok {
		return nil, ErrCollinear
	}
	beta, found, steps, converged := climb(start, l.evaluate)
	err = d.refuse(beta[1:], converged)
	if err != nil {
		return nil, err
	}
	inverse, ok := invert(found.information)
	if !ok {
		return nil, ErrNotConverged
	}
	failed := float64(f.Failures) / float64(f.Rows)
	f.LogLikelihoodNull = float64(f.Rows) * (failed*math.Log(failed) + (1-failed)*math.Log(1-failed))
	f.LogLikelihood, f.Iterations = found.logLikelihood, steps
	f.LikelihoodRatio = chiSquaredTest(2*(f.LogLikelihood-f.LogLikelihoodNull), d.p)
	f.rescale(d, beta, inverse)
	return f, nil
}

// rescale takes the coefficients back from standard deviations to the
// covariates' own units, and the intercept from their means to 0.
func (f *LogisticFit) rescale(d design, beta []float64, covariance *mat.SymDense) {
	back := mat.NewDense(1+d.p, 1+d.p, nil)
	back.Set(0, 0, 1)
	for j, sd := range d.sd {
		back.Set(0, 1+j, -d.mean[j]/sd)
		back.Set(1+j, 1+j, 1/sd)
	}
	var values mat.VecDense
	values.MulVec(back, mat.NewVecDense(len(beta), beta))
	var full mat.Dense
	full.Product(back, covariance, back.T())
	f.Covariance = mat.NewSymDense(1+d.p, nil)
	all := make([]Coefficient, 1+d.p)
	for j := range all {
		for k := range j + 1 {
			f.Covariance.SetSym(j, k, full.At(j, k))
		}
		all[j] = Coefficient{values.AtVec(j), math.Sqrt(full.At(j, j))}
	}
	f.Intercept, f.Coefficients = all[0], all[1:]
}

// Probability is how probably a trial with these covariates fails; summed over
// trials, the failures to be expected of them. It is NaN if there are not as many
// covariates as were fitted.
func (f *LogisticFit) Probability(covariates []float64) float64 {
	if len(covariates) != len(f.Coefficients) {
		return math.NaN()
	}
	eta := f.Intercept.Value
	for j, v := range covariates {
		eta += f.Coefficients[j].Value * v
	}
	return logistic(eta)
}

func logistic(eta float64) float64 { return 1 / (1 + math.Exp(-eta)) }

type logisticProblem struct {
	design
	rows []LogisticRow
}

// evaluate takes the intercept first.
func (l logisticProblem) evaluate(beta []float64) derivatives {
	d := derivatives{score: make([]float64, len(beta)), information: mat.NewSymDense(len(beta), nil)}
	x := make([]float64, len(beta))
	x[0] = 1
	row := mat.NewVecDense(len(x), x)
	for k, eta := range l.predictor(beta[1:]) {
		eta += beta[0]
		p := logistic(eta)
		residual := -p
		if l.rows[k].Failed {
			residual = 1 - p
			eta = -eta
		}
		d.logLikelihood -= math.Log1p(math.Exp(-math.Abs(eta))) + max(0, eta)
		copy(x[1:], l.x[k])
		for j, v := range x {
			d.score[j] += residual * v
		}
		d.information.SymRankOne(d.information, p*(1-p), row)
	}
	return d
}
