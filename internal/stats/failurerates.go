package stats

import (
	"errors"
	"fmt"
	"math"
)

// FailureRates are the two rates of failing between which a series of trials is
// to decide: 0 < acceptable < unacceptable < 1.
type FailureRates struct{ acceptable, unacceptable float64 }

// ErrFailureRates is of rates, or risks of deciding wrongly, between which
// nothing can be decided.
var ErrFailureRates = errors.New("failure rates cannot be told apart")

// NewFailureRates takes the two rates; the error is ErrFailureRates.
func NewFailureRates(acceptable, unacceptable float64) (FailureRates, error) {
	if !(0 < acceptable && acceptable < unacceptable && unacceptable < 1) {
		return FailureRates{}, fmt.Errorf("%w: acceptable %v, unacceptable %v", ErrFailureRates, acceptable, unacceptable)
	}
	return FailureRates{acceptable, unacceptable}, nil
}

// Acceptable is the lower rate, of one who does well.
func (r FailureRates) Acceptable() float64 { return r.acceptable }

// Unacceptable is the higher rate.
func (r FailureRates) Unacceptable() float64 { return r.unacceptable }

// Scores is what one trial adds to a cumulative sum.
type Scores struct{ Failure, Success float64 }

// Of is the score of each of a series of trials.
func (s Scores) Of(failures []bool) []float64 {
	out := make([]float64, len(failures))
	for k, failed := range failures {
		out[k] = s.Success
		if failed {
			out[k] = s.Failure
		}
	}
	return out
}

// Worsening is the scores of a sum that signals when performance has become
// unacceptable: the log-likelihood ratio of the unacceptable rate to the
// acceptable (Steiner, Cook, Farewell & Treasure 2000, Biostatistics 1:441-52,
// where every trial is as hard).
func (r FailureRates) Worsening() Scores {
	return Scores{
		Failure: math.Log(r.unacceptable / r.acceptable),
		Success: math.Log((1 - r.unacceptable) / (1 - r.acceptable)),
	}
}

// Learning is the scores of the learning-curve sum, which takes performance to
// be unacceptable until it signals that it has become adequate (LC-CUSUM: Biau &
// Porcher 2010, Stat Med 29:1900-9; the formula from memory).
func (r FailureRates) Learning() Scores {
	w := r.Worsening()
	return Scores{Failure: -w.Failure, Success: -w.Success}
}
