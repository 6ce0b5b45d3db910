package outcomes

import "dwellbook/internal/stats"

// Clusters are the trials of many lines, each line a cluster.
type Clusters = stats.Clusters

// Duties are the duties that came to an end, met in time or not, of many
// lines, each line a cluster of its own.
type Duties struct {
	Share                 // each duty as a trial of its own: narrower than it should be
	ByLine stats.Interval // the interval that knows that the duties of one line go together
	Lines  int
}

// DutiesOf works both intervals out.
func DutiesOf(c Clusters) Duties {
	return Duties{Share: ShareOf(c.Successes, c.Trials), ByLine: c.Wilson(Confidence), Lines: c.N}
}

// ShareOf is the share of successes among n trials.
func ShareOf(successes, n int) Share {
	return Share{Successes: successes, N: n, Interval: stats.Wilson(successes, n, Confidence)}
}
