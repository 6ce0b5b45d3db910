package audit

import "fmt"

// Learning is how a hospital follows how its inserters learn.
type Learning struct {
	// Acceptable and Unacceptable are the rates of failing, 0 to 1, that are to be
	// told apart; Alpha is the risk of taking acceptable for unacceptable, Beta the
	// reverse.
	Acceptable, Unacceptable, Alpha, Beta float64
	// LearningLimit and WatchLimit are where the sums signal; 0: to be worked out.
	LearningLimit, WatchLimit float64
	SupervisedSuccesses       int  // asked for before independent practice; 0: none
	Difficulty                bool // the difficulty of the vein is asked at an attempt
}

// Learning is what the policy says of it.
func (p *Policy) Learning() Learning { return p.learning }

// The widest limits taken: beyond them a sum signals at once, or in no working life.
const leastLimit, mostLimit = 0.1, 20

var learningSettings = []setting{
	decimal("learning.acceptable", func(v *values) *float64 { return &v.learning.Acceptable }, 0.01, 0.9),
	decimal("learning.unacceptable", func(v *values) *float64 { return &v.learning.Unacceptable }, 0.02, 0.95),
	decimal("learning.alpha", func(v *values) *float64 { return &v.learning.Alpha }, 0.001, 0.4),
	decimal("learning.beta", func(v *values) *float64 { return &v.learning.Beta }, 0.001, 0.4),
	optionalDecimal("learning.learning_limit", func(v *values) *float64 { return &v.learning.LearningLimit }, leastLimit, mostLimit),
	optionalDecimal("learning.watch_limit", func(v *values) *float64 { return &v.learning.WatchLimit }, leastLimit, mostLimit),
	number("learning.supervised_successes", func(v *values) *int { return &v.learning.SupervisedSuccesses }, 0, 500),
	flag("learning.difficulty", func(v *values) *bool { return &v.learning.Difficulty }),
}

// learning refuses rates that cannot be told apart, where the file says one.
func (r *reader) learning() {
	l := r.values.learning
	if l.Unacceptable-l.Acceptable >= leastApart-1e-9 {
		return
	}
	for _, key := range []string{"learning.unacceptable", "learning.acceptable"} {
		if r.lines[key] > 0 {
			r.fail(key, fmt.Sprintf("acceptable is %v, unacceptable %v", l.Acceptable, l.Unacceptable), fmt.Sprintf("unacceptable at least %v above acceptable", leastApart))
			return
		}
	}
}

// leastApart is how far apart two rates are that some hundreds of trials tell
// apart (house rule).
const leastApart = 0.05
