package stats

import "math"

// OddsRatio is by how much the odds of failing are multiplied; above 0.
type OddsRatio float64

// Of is the probability of failing of a trial that was expected to fail with
// this probability, 0 to 1.
func (r OddsRatio) Of(expected float64) float64 {
	return float64(r) * expected / (1 - expected + float64(r)*expected)
}

// Scores is what one trial adds to a risk-adjusted sum, which signals when the
// odds of failing have come to be so many times what each trial's own expected
// probability says: below 1 it looks for better than expected. A failure that
// was to be expected adds little, one of an easy trial much (Steiner, Cook,
// Farewell & Treasure 2000, Biostatistics 1:441-52).
func (r OddsRatio) Scores(expected float64) Scores {
	even := -math.Log(1 - expected + float64(r)*expected)
	return Scores{Failure: math.Log(float64(r)) + even, Success: even}
}

// MixedSeries is trials without end whose expected probabilities of failing are
// drawn from those of trials seen, and how a risk-adjusted Cusum behaves over
// them.
type MixedSeries struct {
	Expected []float64 // each 0 to 1
	Tested   OddsRatio // what the sum looks for
	Actual   OddsRatio // what holds: 1 if all is as expected
}

// cells is into how many steps a limit is parted: over mixed risks the run length
// comes out within a hundredth or so.
const cells = 200

// AverageRunLength is the mean number of trials up to and with the one that
// signals at this limit, from a sum of 0, by a Markov chain whose states are the
// sum in steps (Brook & Evans 1972, Biometrika 59:539-49; from memory). It is
// nearly exact, the more so the more the risks differ; if they are all the same,
// a Series is exact. It is infinite where nothing can signal, and NaN where the
// mix, the ratios or the limit are none.
func (s MixedSeries) AverageRunLength(limit float64) float64 {
	return brookEvans(s.scores(), limit, cells)
}

// LimitFor is the limit that gives an average run length, to a thousandth; the
// error is ErrNoLimit.
func (s MixedSeries) LimitFor(averageRunLength float64) (float64, error) {
	scores := s.scores()
	least := 0.0
	for _, a := range scores {
		least = max(least, a.score)
	}
	return limitFor(averageRunLength, least, 1e-3, func(limit float64) float64 {
		return brookEvans(scores, limit, cells)
	})
}

func (s MixedSeries) scores() []chance {
	var out []chance
	for _, expected := range s.Expected {
		w, p := s.Tested.Scores(expected), s.Actual.Of(expected)
		share := 1 / float64(len(s.Expected))
		out = append(out, chance{w.Failure, p * share}, chance{w.Success, (1 - p) * share})
	}
	return out
}
