package stats

import (
	"errors"
	"fmt"
	"iter"
	"math"

	"gonum.org/v1/gonum/floats"
)

// Series is trials without end that each fail with the same probability, one of
// the two scores being above 0 and the other below. From it follows how a Cusum
// behaves: how long it runs before it signals, rightly or by chance.
type Series struct {
	Scores      Scores
	FailureRate float64 // 0 to 1
}

// AverageRunLength is the mean number of trials up to and with the one that
// signals at this limit, from a sum of 0. It is exact: the sum is a Markov chain
// that begins anew each time it returns to 0, and between two returns its state
// after n trials is how many of them went up (Reynolds & Stoumbos 1999, J Qual
// Technol 31:87-108, give the chain on a lattice; from memory). It is infinite
// where nothing can signal, and NaN for what is no Series or no limit.
func (s Series) AverageRunLength(limit float64) float64 {
	if !s.known(limit) {
		return math.NaN()
	}
	trials, signals := 1.0, 0.0
	for e := range s.excursion(limit) {
		trials += e.going
		signals += e.signals
		if e.going <= 1e-16*signals {
			break
		}
	}
	return trials / signals
}

// SignalWithin is the probability that the sum signals in so many trials or
// fewer; NaN as AverageRunLength.
func (s Series) SignalWithin(trials int, limit float64) float64 {
	if !s.known(limit) {
		return math.NaN()
	}
	ends := []ending{{}}
	for e := range s.excursion(limit) {
		if len(ends) > trials {
			break
		}
		ends = append(ends, e)
	}
	// After a return to 0 all is as at the beginning.
	within := make([]float64, len(ends))
	for n := range within {
		for k, e := range ends[:n+1] {
			within[n] += e.signals + e.returns*within[n-k]
		}
	}
	return within[len(within)-1]
}

// ErrNoLimit is of an average run length that no limit gives.
var ErrNoLimit = errors.New("no limit gives that average run length")

// LimitFor is the smallest limit whose average run length is at least the one
// wanted, to nine digits, and no smaller than one score; the error is ErrNoLimit.
// Its work grows with the run length only where the sum drifts towards its limit.
func (s Series) LimitFor(averageRunLength float64) (float64, error) {
	return limitFor(averageRunLength, max(s.Scores.Failure, s.Scores.Success), 1e-9, s.AverageRunLength)
}

// LimitWithin is the smallest limit at which the sum signals in so many trials or
// fewer with at most this probability, above 0 to 1, to nine digits, and no
// smaller than one score; the error is ErrNoLimit.
func (s Series) LimitWithin(trials int, probability float64) (float64, error) {
	return limitFor(1/probability, max(s.Scores.Failure, s.Scores.Success), 1e-9, func(limit float64) float64 {
		return 1 / s.SignalWithin(trials, limit)
	})
}

// limitFor looks from the least limit on, to a share of it.
func limitFor(wanted, least, precision float64, average func(limit float64) float64) (float64, error) {
	if !(wanted > 0) || math.IsInf(wanted, 1) || math.IsNaN(average(least)) {
		return 0, fmt.Errorf("%w: %v", ErrNoLimit, wanted)
	}
	if average(least) >= wanted {
		return least, nil
	}
	low, high := least, 2*least
	for average(high) < wanted {
		low, high = high, 2*high
	}
	for high-low > precision*high {
		middle := (low + high) / 2
		if average(middle) < wanted {
			low = middle
		} else {
			high = middle
		}
	}
	return high, nil
}

func (s Series) known(limit float64) bool {
	up, down := max(s.Scores.Failure, s.Scores.Success), min(s.Scores.Failure, s.Scores.Success)
	return limit > 0 && up > 0 && down < 0 && s.FailureRate >= 0 && s.FailureRate <= 1 &&
		!math.IsInf(limit, 1) && !math.IsInf(up-down, 1)
}

// ending is how probably an excursion from 0 ends at one trial, by a signal or
// by a return to 0, and goes on after it.
type ending struct{ signals, returns, going float64 }

// excursion is the trials of one excursion from 0, for as long as is asked.
func (s Series) excursion(limit float64) iter.Seq[ending] {
	up, down, rising := s.Scores.Failure, s.Scores.Success, s.FailureRate
	if up < 0 {
		up, down, rising = down, up, 1-rising
	}
	return func(yield func(ending) bool) {
		// The probability of having gone up so often, from fewest on, without having
		// ended.
		fewest, going := 0, []float64{1}
		for n := 1; ; n++ {
			going = append(going, 0)
			for k := len(going) - 1; k > 0; k-- {
				going[k] = going[k]*(1-rising) + going[k-1]*rising
			}
			going[0] *= 1 - rising
			sum := func(k int) float64 { return float64(fewest+k)*up + float64(n-fewest-k)*down }
			var e ending
			for len(going) > 0 && sum(len(going)-1) >= limit-reached {
				e.signals += going[len(going)-1]
				going = going[:len(going)-1]
			}
			for len(going) > 0 && sum(0) <= reached {
				e.returns += going[0]
				fewest, going = fewest+1, going[1:]
			}
			e.going = floats.Sum(going)
			if !yield(e) {
				return
			}
		}
	}
}
