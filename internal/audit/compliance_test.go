package audit_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// at is a moment of a winter day in London, on ward A's clock (shifts from 07:30 and 19:30).
func winter(day, hour, minute int) line.Minute {
	return line.MinuteOf(time.Date(2026, 1, day, hour, minute, 0, 0, london))
}

// watched is a patient of ward A whose line was placed on 12 January at 08:00
// and looked at as given; no look follows.
func looked(at ...line.Minute) []line.Mark {
	h := &history{start: winter(12, 8, 0)}
	h.add(line.Mark{Kind: line.KindAdmission, At: h.start, Ward: wardA})
	h.add(line.Mark{Kind: line.KindOccasion, Line: 101, At: h.start, Detail: line.Detail{
		Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Score: line.NoScore,
	}})
	for _, m := range at {
		h.add(line.Mark{Kind: line.KindReview, Line: 101, At: m, Detail: line.Detail{States: line.SetOf(line.Intact)}})
	}
	return h.marks
}

func reviews(t *testing.T, marks []line.Mark, c audit.Counting, at line.Minute) []audit.Count {
	t.Helper()
	a := audit.AssessDuties(generatedBook(), marks, at)
	tally := audit.NewTally(generatedBook(), c)
	tally.Add(&a)
	var list []audit.Count
	for _, g := range tally.Counts() {
		if g.Rule == audit.ReviewOverdue {
			list = append(list, g)
		}
	}
	return list
}

// Worked by hand from the definitions. The shifts end at 19:30 (placed at
// 08:00: too early to count), 07:30 and 19:30. Looks: 12 January 18:00, 13
// January 09:10; so the first duty is met in time, the second late by 100
// minutes, by a look that meets the third as well; the fourth, due on 14
// January at 07:30, by nothing.
func TestTally_CountsAWorkedExample(t *testing.T) {
	t.Parallel()
	marks := looked(winter(12, 18, 0), winter(13, 9, 10))
	whole := line.Stretch{From: winter(12, 0, 0), Until: winter(15, 0, 0)}
	for _, c := range []struct {
		name                            string
		period                          line.Stretch
		at                              line.Minute
		due, inTime, late, missed, open int
		overdue                         time.Duration
		latest                          float64 // minutes
	}{
		{"all, judged as the last has just fallen due", whole, winter(14, 7, 30), 4, 2, 1, 0, 1, 100 * time.Minute, 100},
		{"an hour later: open, and an hour of it overdue", whole, winter(14, 8, 30), 4, 2, 1, 0, 1, 160 * time.Minute, 100},
		{"a minute before it fell due: it is not there yet", whole, winter(14, 7, 29), 3, 2, 1, 0, 0, 100 * time.Minute, 100},
		{"after the next fell due: missed", whole, winter(14, 19, 30), 5, 2, 1, 1, 1, 100*time.Minute + 12*time.Hour, 720},
		{"a period ends where a duty falls due: not in it, nor its minutes", line.Stretch{From: winter(12, 0, 0), Until: winter(13, 7, 30)}, winter(14, 8, 30), 1, 1, 0, 0, 0, 0, -1},
		{"a period starts where a duty falls due: in it", line.Stretch{From: winter(13, 7, 30), Until: winter(13, 7, 31)}, winter(14, 8, 30), 1, 0, 1, 0, 0, time.Minute, 100},
		{"a period inside an overdue stretch: its minutes, no duty", line.Stretch{From: winter(13, 8, 0), Until: winter(13, 9, 0)}, winter(14, 8, 30), 0, 0, 0, 0, 0, time.Hour, -1},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := reviews(t, marks, audit.Counting{Period: c.period}, c.at)
			require.Len(t, got, 1)
			g := got[0]
			require.Equal(t, []int{c.due, c.inTime, c.late, c.missed, c.open}, []int{g.Due(), g.MetInTime, g.MetLate, g.Missed, g.Open})
			require.Equal(t, c.overdue, g.Overdue)
			if late, ok := g.LateAt(1); c.latest >= 0 && g.MetLate+g.Missed > 0 {
				require.True(t, ok)
				require.InDelta(t, c.latest, late, 1e-9)
			}
		})
	}
}

// A duty counts for the shift whose look it asks for and for the day on which
// that shift starts; its overdue minutes for the shift and the day they lie in.
func TestTally_GivesDutiesAndMinutesToTheirShift(t *testing.T) {
	t.Parallel()
	marks := looked(winter(12, 18, 0), winter(13, 9, 10)) // the night of Monday 12 January is met late, on Tuesday
	c := audit.Counting{Period: line.Stretch{From: winter(12, 0, 0), Until: winter(13, 12, 0)}, By: audit.ByShift}
	byShift := reviews(t, marks, c, winter(13, 12, 0))
	require.Len(t, byShift, 2)
	day, night := byShift[0], byShift[1]
	require.Equal(t, "07:30-19:30", day.Shift.String())
	require.Equal(t, []int{1, 1, 0}, []int{day.Due(), day.MetInTime, day.MetLate})
	require.Equal(t, 100*time.Minute, day.Overdue)
	require.Equal(t, "19:30-07:30", night.Shift.String())
	require.True(t, night.Shift.Night())
	require.Equal(t, []int{1, 0, 1}, []int{night.Due(), night.MetInTime, night.MetLate})
	require.Zero(t, night.Overdue)

	c.By = audit.ByWeekday
	byDay := reviews(t, marks, c, winter(13, 12, 0))
	require.Len(t, byDay, 2)
	require.Equal(t, []int{1, 2}, []int{byDay[0].Weekday, byDay[0].Due()}, "Monday has its day and its night")
	require.Equal(t, []int{2, 0}, []int{byDay[1].Weekday, byDay[1].Due()})
	require.Equal(t, 100*time.Minute, byDay[1].Overdue)
}

// The share of duties past due under which lateness lies, against R's
// quantile(c(10, 20, 40, 100), c(0.5, 0.9)), type 7, worked by hand: 30 and 82.
func TestCount_LateAt(t *testing.T) {
	t.Parallel()
	c := audit.Count{Late: []line.Minute{10, 20, 40, 100}}
	for q, want := range map[float64]float64{0: 10, 0.5: 30, 0.9: 82, 1: 100} {
		got, ok := c.LateAt(q)
		require.True(t, ok)
		require.InDelta(t, want, got, 1e-9)
	}
	_, ok := (&audit.Count{}).LateAt(0.5)
	require.False(t, ok)
}

// Groups of any kind add up to the total, and so do the stretches of a period.
func TestTally_GroupsAndPeriodsAddUp(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, true, true)
		at := h.moment("judged")
		from := h.moment("from")
		whole := line.Stretch{From: from, Until: from + line.Minute(rapid.IntRange(2, 4*24*60).Draw(t, "length"))}
		cut := line.Minute(rapid.Int64Range(int64(whole.From+1), int64(whole.Until-1)).Draw(t, "cut"))
		a := audit.AssessDuties(book, h.marks, at)
		sums := func(by audit.By, periods ...line.Stretch) map[line.Rule][8]int64 {
			sum := map[line.Rule][8]int64{}
			for _, p := range periods {
				tally := audit.NewTally(book, audit.Counting{Period: p, By: by})
				tally.Add(&a)
				for _, g := range tally.Counts() {
					s := sum[g.Rule]
					for i, n := range []int64{int64(g.MetInTime), int64(g.MetLate), int64(g.Missed), int64(g.Open), int64(g.Accepted), int64(g.NotSeen), int64(g.Overdue), int64(g.Unaccounted)} {
						s[i] += n
					}
					sum[g.Rule] = s
				}
			}
			return sum
		}
		total := sums(audit.ByRule, whole)
		for _, by := range []audit.By{audit.ByWard, audit.ByShift, audit.ByWeekday, audit.ByCell} {
			require.Equal(t, total, sums(by, whole), "by %s", by)
		}
		require.Equal(t, total, sums(audit.ByRule, line.Stretch{From: whole.From, Until: cut}, line.Stretch{From: cut, Until: whole.Until}))
	})
}

// A trial of the policy in force against itself changes nothing; switching a
// rule off loses exactly its findings.
func TestTrial_FindsWhatAPolicyChanges(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	p, err := audit.ParsePolicy("off", []byte("[review-overdue]\non = false\n"))
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, true, false)
		at := h.moment("judged")
		same, off := audit.NewTrial(line.Stretch{From: h.start, Until: at}), audit.NewTrial(line.Stretch{From: h.start, Until: at})
		before, after := audit.Assess(book, h.marks, at), audit.Assess(book.WithPolicy(p), h.marks, at)
		same.Add(&before, &before)
		off.Add(&before, &after)
		lost := map[line.Key]int{}
		for _, c := range same.Changes() {
			require.Zero(t, c.Gained+c.Lost+len(c.Examples))
			require.Equal(t, c.Before, c.After)
			require.Equal(t, c.DutiesBefore, c.DutiesAfter)
			if c.Rule == audit.ReviewOverdue {
				lost[c.Ward] = c.Before
			}
		}
		for _, c := range off.Changes() {
			if c.Rule == audit.ReviewOverdue {
				require.Equal(t, lost[c.Ward], c.Lost)
				require.Zero(t, c.After+c.Gained+c.DutiesAfter)
				require.LessOrEqual(t, len(c.Examples), 3)
			}
		}
	})
}
