package stats

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Ending is how an episode ended: Censored, or one of the caller's causes from 1.
type Ending uint8

// Censored is the ending of an episode that was still going on when it was last
// seen.
const Censored Ending = 0

// Episode is one line, patient or thing under observation from Entry (0 for one
// seen from its start, later for one that was already going on when watching
// began) to Exit, in the unit the caller chooses.
type Episode struct {
	Entry, Exit float64
	Ending      Ending
}

// ErrEpisode is of an episode that cannot be: an entry before 0, an exit before
// its entry, or a time that is no finite number.
var ErrEpisode = errors.New("no episode")

// Cohort is episodes laid out along time, so that everything worked out from
// them walks the moments at which one ended.
//
// Left truncation: an episode is at risk at t if Entry < t <= Exit; one seen from
// its start is at risk at 0 as well. One that enters and leaves late at the same
// moment is never at risk.
type Cohort struct {
	n       int       // episodes that are at risk at some moment
	entries []float64 // the late ones, ascending
	times   []float64 // the distinct exits, ascending
	atRisk  []int     // at each of times
	ended   []int     // for each of times, how many ended as each ending
	endings int       // endings known, Censored included
}

// NewCohort lays episodes out; the error is ErrEpisode, with its place.
func NewCohort(episodes []Episode) (*Cohort, error) {
	c := &Cohort{endings: 1}
	type exit struct {
		at     float64
		ending Ending
	}
	exits := make([]exit, 0, len(episodes))
	for k, e := range episodes {
		if !(e.Entry >= 0 && e.Exit >= e.Entry) || math.IsInf(e.Exit, 1) {
			return nil, fmt.Errorf("%w: number %d from %v to %v", ErrEpisode, k+1, e.Entry, e.Exit)
		}
		if e.Entry > 0 {
			if e.Entry == e.Exit {
				continue
			}
			c.entries = append(c.entries, e.Entry)
		}
		exits = append(exits, exit{e.Exit, e.Ending})
		c.endings = max(c.endings, int(e.Ending)+1)
	}
	slices.SortFunc(exits, func(a, b exit) int { return cmp.Compare(a.at, b.at) })
	slices.Sort(c.entries)
	c.n = len(exits)

	entered, gone, entries := len(exits)-len(c.entries), 0, c.entries
	for k := 0; k < len(exits); {
		at := exits[k].at
		for len(entries) > 0 && entries[0] < at {
			entries = entries[1:]
			entered++
		}
		c.times = append(c.times, at)
		c.atRisk = append(c.atRisk, entered-gone)
		c.ended = append(c.ended, make([]int, c.endings)...)
		here := c.ended[len(c.ended)-c.endings:]
		for ; k < len(exits) && exits[k].at == at; k++ {
			here[exits[k].ending]++
			gone++
		}
	}
	return c, nil
}

// N is how many episodes are at risk at some moment.
func (c *Cohort) N() int { return c.n }

// last is the last exit; -Inf without episodes.
func (c *Cohort) last() float64 {
	if len(c.times) == 0 {
		return math.Inf(-1)
	}
	return c.times[len(c.times)-1]
}

// AtRisk counts the episodes at risk at t.
func (c *Cohort) AtRisk(t float64) int {
	k, _ := slices.BinarySearch(c.times, t)
	return c.atRiskBefore(k, t)
}

// atRiskBefore counts those at risk at t, k being the first moment from t on: as
// many as then, but for those who had not entered yet.
func (c *Cohort) atRiskBefore(k int, t float64) int {
	if k == len(c.times) || !(t >= 0) {
		return 0
	}
	from, _ := slices.BinarySearch(c.entries, t)
	until, _ := slices.BinarySearch(c.entries[from:], c.times[k])
	return c.atRisk[k] - until
}

// Ended counts the episodes that ended in one of the ways named.
func (c *Cohort) Ended(as ...Ending) int {
	n := 0
	for k := range c.times {
		n += c.endedAt(k, as)
	}
	return n
}

// endedAt counts those that ended in one of the ways named at the k-th moment.
func (c *Cohort) endedAt(k int, as []Ending) int {
	n := 0
	for _, e := range as {
		if int(e) < c.endings {
			n += c.ended[k*c.endings+int(e)]
		}
	}
	return n
}

// FollowedBy is the last exit up to which at least n are at risk; 0 where they
// never are.
func (c *Cohort) FollowedBy(n int) float64 {
	for k, t := range slices.Backward(c.times) {
		if c.atRisk[k] >= n {
			return t
		}
	}
	return 0
}
