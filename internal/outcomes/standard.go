package outcomes

import (
	"fmt"
	"math"

	"dwellbook/internal/stats"
)

// Terms are the numbers by which a hospital follows how its inserters learn.
type Terms struct {
	Acceptable, Unacceptable float64 // the two rates of failing to be told apart
	Alpha                    float64 // the risk of taking acceptable for unacceptable
	Beta                     float64 // the risk of taking unacceptable for acceptable
	LearningLimit            float64 // of the learning sum; 0: worked out
	WatchLimit               float64 // of the watching sum; 0: worked out
	Restarts                 bool    // both sums begin again after each signal
}

// Standard is terms by which something can be decided, with both limits.
//
// A learning limit that is not given is the smallest by which somebody who
// fails at the unacceptable rate is taken for adequate, within FollowedFor
// trials, with probability Beta or less: as Biau & Porcher 2010 (Stat Med
// 29:1900-9; from memory), who set theirs by the false signals in a number of
// procedures. A watching limit that is not given is the smallest that somebody
// who fails at the acceptable rate trips on average once in FalseAlarmEvery
// trials or more. Both numbers of trials are house rules.
type Standard struct {
	Terms
	rates      stats.FailureRates
	sequential stats.SequentialTest
}

// The trials by which limits are worked out.
const (
	FollowedFor     = 50
	FalseAlarmEvery = 500
)

// NewStandard takes the terms; the error is stats.ErrFailureRates or
// stats.ErrNoLimit.
func NewStandard(t Terms) (s Standard, err error) {
	if s.rates, err = stats.NewFailureRates(t.Acceptable, t.Unacceptable); err != nil {
		return s, err
	}
	if s.sequential, err = s.rates.Sequential(t.Alpha, t.Beta); err != nil {
		return s, err
	}
	for _, limit := range []float64{t.LearningLimit, t.WatchLimit} {
		if !(limit >= 0) || math.IsInf(limit, 1) {
			return s, fmt.Errorf("%w: %v is no limit", stats.ErrNoLimit, limit)
		}
	}
	if t.LearningLimit == 0 {
		if t.LearningLimit, err = s.learning(t.Unacceptable).LimitWithin(FollowedFor, t.Beta); err != nil {
			return s, err
		}
	}
	if t.WatchLimit == 0 {
		if t.WatchLimit, err = s.watching(t.Acceptable).LimitFor(FalseAlarmEvery); err != nil {
			return s, err
		}
	}
	s.Terms = t
	return s, nil
}

// learning and watching are either sum over trials that fail at a rate.
func (s Standard) learning(failureRate float64) stats.Series {
	return stats.Series{Scores: s.rates.Learning(), FailureRate: failureRate}
}

func (s Standard) watching(failureRate float64) stats.Series {
	return stats.Series{Scores: s.rates.Worsening(), FailureRate: failureRate}
}

// Behaviour is what the limits mean: how soon and how often the sums signal,
// rightly or by chance. Numbers of trials are averages.
type Behaviour struct {
	// FalselyAdequate is the probability of being taken for adequate within
	// FollowedFor trials of somebody who fails at the unacceptable rate.
	FalselyAdequate float64
	AdequateIn      float64 // trials until somebody at the acceptable rate is told so
	FalseAlarmIn    float64 // trials until somebody at the acceptable rate trips the watch
	NoticedIn       float64 // trials until somebody at the unacceptable rate trips it
	SequentialIn    float64 // trials until the two-sided sum decides, at the acceptable rate
	FewestTrials    int     // in which the two-sided sum can show the acceptable rate
}

// Behaviour works out what the limits mean, in about a millisecond.
func (s Standard) Behaviour() Behaviour {
	b := Behaviour{
		FalselyAdequate: s.learning(s.Unacceptable).SignalWithin(FollowedFor, s.LearningLimit),
		AdequateIn:      s.learning(s.Acceptable).AverageRunLength(s.LearningLimit),
		FalseAlarmIn:    s.watching(s.Acceptable).AverageRunLength(s.WatchLimit),
		NoticedIn:       s.watching(s.Unacceptable).AverageRunLength(s.WatchLimit),
		FewestTrials:    s.sequential.FewestTrials(),
	}
	b.SequentialIn, _ = s.sequential.AverageTrials()
	return b
}
