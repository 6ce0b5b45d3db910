package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// TimeScale is how time is measured when a coefficient is looked at for change.
type TimeScale int

const (
	// ByKaplanMeier measures time by the share that failed before it, so that few
	// late failures do not weigh too much.
	ByKaplanMeier TimeScale = iota
	// ByTime takes time as it is.
	ByTime
)

// Proportionality is the check of what the regression takes for granted: that
// each hazard ratio stays the same over time.
type Proportionality struct {
	Each      []ChiSquaredTest // for each covariate
	Global    ChiSquaredTest
	Residuals []ScaledResidual // in order of time, to be drawn
}

// ScaledResidual is the coefficients as one failure alone would have them: the
// scaled Schoenfeld residual plus the fitted coefficient.
type ScaledResidual struct {
	Time, Scaled float64 // the time of failure, and on the scale of the test
	Coefficients []float64
}

// Proportionality tests whether coefficients change with time, by the score test
// of a covariate times the scale of time (Grambsch & Therneau 1994, Biometrika
// 81:515-26, with the risk sets' own variances instead of their mean), and gives
// the scaled Schoenfeld residuals. A small p says that the one hazard ratio
// hides a change; a large one does not prove that there is none. Where all
// failures are at one instant nothing can be told: every p is NaN.
func (f *CoxFit) Proportionality(scale TimeScale) Proportionality {
	c := f.problem
	eta := c.predictor(f.standardCoefficients)
	g := c.scaleTimes(eta, scale)
	var (
		score  = make([]float64, c.p)
		cross  = mat.NewSymDense(c.p, nil)
		second = mat.NewSymDense(c.p, nil)
		plain  = mat.NewSymDense(c.p, nil)
		mean   = make([]float64, c.p)
		out    Proportionality
	)
	c.walk(eta, func(s coxDeath) {
		at := g[s.time]
		addVariance(plain, s.weight, s.variance)
		addVariance(cross, s.weight*at.centred, s.variance)
		addVariance(second, s.weight*at.centred*at.centred, s.variance)
		for j, m := range s.mean {
			mean[j] += s.weight * m / float64(len(s.rows))
		}
		if !s.last {
			return
		}
		for _, k := range s.rows {
			residual := make([]float64, c.p)
			for j, v := range c.x[k] {
				residual[j] = v - mean[j]
				score[j] += at.centred * residual[j]
			}
			out.Residuals = append(out.Residuals, ScaledResidual{s.time, at.scaled, f.scaled(residual)})
		}
		clear(mean)
	})
	slices.Reverse(out.Residuals)
	f.test(&out, score, remaining(plain, cross, second))
	return out
}

// remaining is the information on change that is left once the coefficients
// themselves are fitted.
func remaining(plain, cross, second *mat.SymDense) *mat.SymDense {
	p := plain.SymmetricDim()
	left := mat.NewSymDense(p, nil)
	inverse, ok := invert(plain)
	if !ok {
		return left
	}
	var lost mat.Dense
	lost.Product(cross, inverse, cross)
	for j := range p {
		for k := range j + 1 {
			left.SetSym(j, k, second.At(j, k)-lost.At(j, k))
		}
	}
	return left
}

func (f *CoxFit) test(out *Proportionality, score []float64, information *mat.SymDense) {
	nan := math.NaN()
	for j, u := range score {
		t := ChiSquaredTest{nan, 1, nan}
		if v := information.At(j, j); v > 0 {
			t = chiSquaredTest(u*u/v, 1)
		}
		out.Each = append(out.Each, t)
	}
	out.Global = ChiSquaredTest{nan, len(score), nan}
	if inverse, ok := invert(information); ok {
		out.Global = chiSquaredTest(quadratic(inverse, score), len(score))
	}
}

// scaled is a residual in standard deviations made into coefficients.
func (f *CoxFit) scaled(residual []float64) []float64 {
	out := make([]float64, len(residual))
	for j := range out {
		for k, r := range residual {
			out[j] += float64(f.Events) * f.standardCovariance.At(j, k) * r
		}
		out[j] = out[j]/f.problem.sd[j] + f.Coefficients[j].Value
	}
	return out
}

// scaledTime is a failure time on the scale, and about the mean over failures.
type scaledTime struct{ scaled, centred float64 }

func (c *coxProblem) scaleTimes(eta []float64, scale TimeScale) map[float64]scaledTime {
	type failures struct {
		time           float64
		deaths, atRisk int
	}
	var all []failures
	c.walk(eta, func(s coxDeath) {
		if s.last {
			all = append(all, failures{s.time, len(s.rows), s.atRisk})
		}
	})
	slices.Reverse(all)
	out, mean, surviving := map[float64]scaledTime{}, 0.0, 1.0
	for _, f := range all {
		v := f.time
		if scale == ByKaplanMeier {
			v = 1 - surviving // just before this time
			surviving *= 1 - float64(f.deaths)/float64(f.atRisk)
		}
		out[f.time] = scaledTime{scaled: v}
		mean += v * float64(f.deaths) / float64(c.events)
	}
	for t, v := range out {
		v.centred = v.scaled - mean
		out[t] = v
	}
	return out
}
