package outcomes_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// someCourses are lines about the period, some out in the very minutes at which
// it begins and ends.
func someCourses(t *rapid.T) []line.Course {
	one := rapid.Custom(func(t *rapid.T) line.Course {
		placed := rapid.OneOf(
			rapid.Custom(func(t *rapid.T) line.Minute { return line.Minute(rapid.Int64Range(8000, 22_000).Draw(t, "placed")) }),
			rapid.SampledFrom([]line.Minute{opens - 1, opens, closes - 1, closes}),
		).Draw(t, "placed")
		c := line.Course{
			Line: line.Key(rapid.IntRange(0, 3).Draw(t, "line")), Ward: line.Key(rapid.IntRange(0, 2).Draw(t, "ward")), Placed: placed, Out: line.Far,
			Precision: rapid.SampledFrom([]line.Precision{line.ToMinute, line.ToDay, line.NotKnown}).Draw(t, "precision"),
			Site:      line.Site(rapid.IntRange(0, 9).Draw(t, "site")), Side: line.Side(rapid.IntRange(0, 2).Draw(t, "side")),
			Gauge: rapid.SampledFrom([]line.Gauge{0, 18, 20, 22}).Draw(t, "gauge"), Asepsis: line.Asepsis(rapid.IntRange(0, 2).Draw(t, "asepsis")),
		}
		if rapid.Bool().Draw(t, "out") {
			c.Out = placed + line.Minute(rapid.Int64Range(0, 8000).Draw(t, "dwell"))
			if edge := rapid.SampledFrom([]line.Minute{0, opens, closes - 1, closes}).Draw(t, "edge"); edge >= placed {
				c.Out = edge
			}
			c.Reason = rapid.SampledFrom(line.Reason(0).All()).Draw(t, "reason")
		}
		return c
	})
	return rapid.SliceOfN(one, 0, 40).Draw(t, "courses")
}

func someQuestion(t *rapid.T) outcomes.Asked {
	return outcomes.Asked{
		Period:  period,
		By:      rapid.SampledFrom(append(outcomes.Bys(), outcomes.ByNothing)).Draw(t, "by"),
		Members: rapid.SampledFrom([]outcomes.Members{outcomes.Placed, outcomes.InSitu}).Draw(t, "members"),
	}
}

// sums is what adds up over groups and over periods.
type sums struct {
	lines, failed int
	dwell         time.Duration
	ended         map[line.Reason]int
}

func sum(answers ...*outcomes.Courses) sums {
	s := sums{ended: map[line.Reason]int{}}
	for _, a := range answers {
		for i := range a.Groups {
			g := &a.Groups[i]
			s.lines, s.failed, s.dwell = s.lines+g.Lines, s.failed+g.Failed, s.dwell+g.Dwell
			for reason, n := range g.Ended {
				s.ended[reason] += n
			}
		}
	}
	return s
}

func TestFollow_GroupsAddUpToTheWhole(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		courses, q := someCourses(t), someQuestion(t)
		parts := follow(t, courses, q)
		q.By = outcomes.ByNothing
		whole := follow(t, courses, q)
		require.Equal(t, sum(whole), sum(parts))
		require.Equal(t, whole.LeftOut, parts.LeftOut)
		require.LessOrEqual(t, len(whole.Groups), 1)
		ids := make([]string, len(parts.Groups))
		for i, g := range parts.Groups {
			ids[i] = g.ID
			require.NotEmpty(t, g.ID)
			require.NotNil(t, g.Label)
		}
		require.IsIncreasing(t, append([]string{""}, ids...), "each once, in byte order")
	})
}

// A line placed in one half and out in the other counts a part of its dwell in
// each, and its end once.
func TestFollow_HalvesOfAPeriodAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		courses, q := someCourses(t), someQuestion(t)
		cut := line.Minute(rapid.Int64Range(int64(opens)+1, int64(closes)-1).Draw(t, "cut"))
		first, second := q, q
		first.Period.Until, second.Period.From = cut, cut
		whole, halves := sum(follow(t, courses, q)), sum(follow(t, courses, first), follow(t, courses, second))
		require.Equal(t, whole.dwell, halves.dwell)
		require.Equal(t, whole.ended, halves.ended)
		if q.Members == outcomes.Placed {
			require.Equal(t, whole.lines, halves.lines, "each line is placed once")
			require.LessOrEqual(t, halves.failed, whole.failed, "one placed in the first half may fail in the second")
		}
	})
}

func TestFollow_DoesNotDependOnTheOrderOfLines(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		courses, q := someCourses(t), someQuestion(t)
		before := slices.Clone(courses)
		straight := follow(t, courses, q)
		require.Equal(t, before, courses, "nor changes what it is given")
		shuffled := follow(t, rapid.Permutation(courses).Draw(t, "shuffled"), q)
		require.Equal(t, straight.LogRank, shuffled.LogRank)
		require.Equal(t, straight.LeftOut, shuffled.LeftOut)
		for _, answer := range []*outcomes.Courses{straight, shuffled} {
			for i := range answer.Groups { // both follow from the cohort, and hold what is no number
				answer.Groups[i].Survival, answer.Groups[i].Incidence = nil, nil
			}
		}
		require.Equal(t, straight.Groups, shuffled.Groups)
	})
}

func TestFollow_EveryLinePlacedWasInSitu(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		courses, q := someCourses(t), someQuestion(t)
		q.Members = outcomes.Placed
		placed := follow(t, courses, q)
		q.Members = outcomes.InSitu
		in := follow(t, courses, q)
		require.Len(t, in.Groups, len(placed.Groups))
		for i := range placed.Groups {
			p, s := &placed.Groups[i], &in.Groups[i]
			require.Equal(t, p.ID, s.ID)
			require.LessOrEqual(t, p.Lines, s.Lines)
			require.LessOrEqual(t, p.Failed, s.Failed)
			require.Equal(t, p.Dwell, s.Dwell, "rates do not depend on the cohort")
			require.Equal(t, p.Ended, s.Ended)
			for _, hours := range []float64{1, 24, 72} {
				require.LessOrEqual(t, p.Cohort.AtRisk(hours), s.Cohort.AtRisk(hours))
			}
		}
	})
}

// Of lines that never leave the cohort but at their end, the rates' failures are
// the curve's.
func TestFollow_CountsTheFailuresOfRatesAndCurvesAlike(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		courses := someCourses(t)
		for _, g := range follow(t, courses, outcomes.Asked{Period: period, Members: outcomes.InSitu}).Groups {
			first := 0 // out in the first minute: an end in the period, of a line in at no minute of it
			for _, c := range courses {
				if c.Placed < opens && c.Out == opens && line.Fails(c.Reason) {
					first++
				}
			}
			require.Equal(t, g.Rate(outcomes.FailureReasons()...).Events, g.Failed+first)
		}
	})
}
