package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// chance is a score and how probable it is.
type chance struct{ score, probability float64 }

// brookEvans is the average run length of a one-sided sum whose scores are
// drawn independently. The sum keeps to multiples of a step, the last of them
// half a step below the limit; a score between two is shared out over the three
// nearest so that mean and variance stay what they are.
func brookEvans(scores []chance, limit float64, cells int) float64 {
	if !(limit > 0) || math.IsInf(limit, 1) || len(scores) == 0 {
		return math.NaN()
	}
	moves, rises := shareOut(scores, limit/(float64(cells)-0.5), cells)
	switch {
	case moves == nil:
		return math.NaN()
	case !rises:
		return math.Inf(1)
	}
	leaves, ones := mat.NewDense(cells, cells, nil), mat.NewVecDense(cells, nil)
	for from := range cells {
		ones.SetVec(from, 1)
		leaves.Set(from, from, 1)
		for k, probability := range moves {
			to := max(0, from+k-cells)
			if to < cells {
				leaves.Set(from, to, leaves.At(from, to)-probability)
			}
		}
	}
	var runs mat.VecDense // until a signal, from each multiple
	err := runs.SolveVec(leaves, ones)
	if err != nil { // too long to be told from never
		return math.Inf(1)
	}
	return runs.AtVec(0)
}

// shareOut is the probability of moving by -cells to cells steps, farther moves
// counted there, and whether any goes up; nil for scores that are none.
func shareOut(scores []chance, step float64, cells int) (moves []float64, rises bool) {
	moves = make([]float64, 2*cells+1)
	for _, s := range scores {
		by := s.score / step
		if math.IsNaN(by) || math.IsInf(by, 0) || !(s.probability >= 0) {
			return nil, false
		}
		rises = rises || s.score > 0 && s.probability > 0
		farthest := float64(cells)
		by = max(-farthest, min(farthest, by))
		whole := math.Round(by)
		part := by - whole
		for k, share := range [3]float64{part * (part - 1) / 2, 1 - part*part, part * (part + 1) / 2} {
			to := cells + int(whole) + k - 1
			moves[max(0, min(2*cells, to))] += s.probability * share
		}
	}
	return moves, rises
}
