package stats

import (
	"fmt"
	"math"
)

// SequentialTest is the cumulative sum between two boundaries that has been used
// to follow trainees: it falls with every success, rises with every failure and
// has no floor (Kestin 1995, Br J Anaesth 75:805-9; Wald's sequential
// probability ratio test, 1945, Ann Math Stat 16:117-86; both from memory).
type SequentialTest struct {
	Scores Scores
	// Lower is h0: a sum at -Lower or below shows the acceptable rate. Upper is h1:
	// one at Upper or above shows the unacceptable rate.
	Lower, Upper float64
	rates        FailureRates
	alpha, beta  float64
}

// Sequential is the test that takes acceptable performance for unacceptable with
// probability alpha, and unacceptable for acceptable with probability beta; the
// error is ErrFailureRates.
func (r FailureRates) Sequential(alpha, beta float64) (SequentialTest, error) {
	if !(alpha > 0 && beta > 0 && alpha+beta < 1) {
		return SequentialTest{}, fmt.Errorf("%w: alpha %v, beta %v", ErrFailureRates, alpha, beta)
	}
	w := r.Worsening()
	scale := w.Failure - w.Success
	return SequentialTest{
		Scores: Scores{Failure: w.Failure / scale, Success: w.Success / scale},
		Lower:  math.Log((1-alpha)/beta) / scale,
		Upper:  math.Log((1-beta)/alpha) / scale,
		rates:  r, alpha: alpha, beta: beta,
	}, nil
}

// SequentialPath is the sum drawn over a series of trials. It runs on beyond the
// boundaries; only the first crossing of all keeps to alpha and beta.
type SequentialPath struct {
	Sums []float64
	// The first trial, counted from 1, at which each boundary was reached; 0 if it
	// was not.
	Acceptable, Unacceptable int
}

// Run adds up a series of trials.
func (s SequentialTest) Run(failures []bool) SequentialPath {
	p := SequentialPath{Sums: make([]float64, len(failures))}
	sum := 0.0
	for k, score := range s.Scores.Of(failures) {
		sum += score
		p.Sums[k] = sum
		if p.Acceptable == 0 && sum <= reached-s.Lower {
			p.Acceptable = k + 1
		}
		if p.Unacceptable == 0 && sum >= s.Upper-reached {
			p.Unacceptable = k + 1
		}
	}
	return p
}

// FewestTrials is how many successes in a row show the acceptable rate; no
// series shows it in fewer trials.
func (s SequentialTest) FewestTrials() int {
	return int(math.Ceil(-s.Lower/s.Scores.Success - reached))
}

// AverageTrials is about how many trials it takes to reach either boundary, at
// the acceptable and at the unacceptable rate (Wald's approximation, which
// leaves out how far the last trial oversteps).
func (s SequentialTest) AverageTrials() (acceptable, unacceptable float64) {
	drift := func(failureRate float64) float64 {
		return failureRate*s.Scores.Failure + (1-failureRate)*s.Scores.Success
	}
	acceptable = (s.alpha*s.Upper - (1-s.alpha)*s.Lower) / drift(s.rates.acceptable)
	unacceptable = ((1-s.beta)*s.Upper - s.beta*s.Lower) / drift(s.rates.unacceptable)
	return acceptable, unacceptable
}
