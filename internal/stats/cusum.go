package stats

// Cusum is a one-sided cumulative sum: it begins at 0, adds each trial's score,
// never falls below 0 and signals where it reaches its limit, which is above 0
// (Page 1954, Biometrika 41:100-15).
type Cusum struct {
	Limit float64
	// Restarts says that the sum begins again at 0 after each signal. One that does
	// not signals once and runs on.
	Restarts bool
}

// CusumPath is a cumulative sum drawn over a series of trials.
type CusumPath struct {
	Sums    []float64 // after each trial; one that signals shows what it reached
	Signals []int     // the trials at which it signalled, the first trial being 1
}

// reached is how near to a limit counts as on it: the same scores added in
// another order round differently.
const reached = 1e-12

// Run adds up the scores of a series of trials.
func (c Cusum) Run(scores []float64) CusumPath {
	p := CusumPath{Sums: make([]float64, len(scores))}
	sum := 0.0
	for k, score := range scores {
		sum = max(0, sum+score)
		p.Sums[k] = sum
		if sum < c.Limit-reached || len(p.Signals) > 0 && !c.Restarts {
			continue
		}
		p.Signals = append(p.Signals, k+1)
		if c.Restarts {
			sum = 0
		}
	}
	return p
}
