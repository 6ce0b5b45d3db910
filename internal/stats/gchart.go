package stats

import "math"

// GChart is a control chart of the number of cases between events that are
// rare, such as lines removed between two infections (Benneyan 2001, Health
// Care Management Science 4:305-18; Kaminsky et al. 1992, J Qual Technol
// 24:63-9). A long gap is good news: only the upper limit can be passed.
type GChart struct {
	Center       float64 // mean gap
	SD           float64 // of a geometric gap, sqrt(g(g+1))
	Lower, Upper float64 // three-sigma limits, the lower no lower than 0
	Chance       float64 // of an event at each case, 1/(g+1)
	Gaps         []int
}

// NewGChart charts gaps, each the number of cases without the event between one
// event and the next, 0 where two follow at once. (Counted up to and with the
// event, every gap, the centre and the upper limit are 1 more.) Without gaps
// the centre and the limits are NaN: one event has no gap.
func NewGChart(gaps []int) GChart {
	sum := 0.0
	for _, g := range gaps {
		sum += float64(g)
	}
	mean := sum / float64(len(gaps))
	sd := math.Sqrt(mean * (mean + 1))
	return GChart{
		Center: mean,
		SD:     sd,
		Lower:  max(0, mean-sigmas*sd),
		Upper:  mean + sigmas*sd,
		Chance: 1 / (mean + 1),
		Gaps:   gaps,
	}
}

// Quantile is the shortest gap that a gap is no longer than with chance q, for
// the limits of equal chance and the median that the skewed gaps call for.
func (g GChart) Quantile(q float64) float64 {
	if g.Chance == 1 {
		return 0
	}
	// P(gap <= k) = 1 - (1 - p)^(k+1).
	return max(0, math.Ceil(math.Log1p(-q)/math.Log1p(-g.Chance)-1))
}

// Outside is the indices of the gaps strictly beyond the three-sigma limits.
func (g GChart) Outside() []int {
	out := []int{}
	for k, gap := range g.Gaps {
		if float64(gap) > g.Upper || float64(gap) < g.Lower {
			out = append(out, k)
		}
	}
	return out
}
