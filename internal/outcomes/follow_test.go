package outcomes_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
)

// The period of these tests, in minutes.
const (
	opens  line.Minute = 10_000
	closes line.Minute = 20_000
)

var period = line.Stretch{From: opens, Until: closes}

// lay is a line of the forearm, out for a reason; Far and 0 while it is in.
func lay(placed, out line.Minute, reason line.Reason) line.Course {
	return line.Course{Line: 1, Ward: 1, Placed: placed, Out: out, Precision: line.ToMinute, Site: line.Forearm, Side: line.Left, Gauge: 20,
		Asepsis: line.AsepsisFull, Reason: reason}
}

func follow(t require.TestingT, courses []line.Course, q outcomes.Asked) *outcomes.Courses {
	c, err := outcomes.Follow(courses, q, wards)
	require.NoError(t, err)
	return c
}

// wards are two: 1 is a, 2 is b. Doctors place the lines of even number.
var wards = outcomes.Names{
	Ward: func(k line.Key) outcomes.Name {
		if k == 0 {
			return outcomes.Name{}
		}
		id := string(rune('a' + k - 1))
		return outcomes.Name{ID: id, Label: "Ward " + id}
	},
	Role: func(c line.Course) outcomes.Name {
		switch {
		case c.Line == 0:
			return outcomes.Name{}
		case c.Line%2 == 0:
			return outcomes.Name{ID: "doctor", Label: "doctor"}
		}
		return outcomes.Name{ID: "nurse", Label: "nurse"}
	},
}

// seen is what an answer says of one line.
type seen struct {
	lines, failed int
	enters, exits float64 // minutes of dwell; of a line not followed 0 and -Inf
	days          float64
	ended         int // in the period, of the line's reason
}

func TestFollow_TakesALineAsFarAsThePeriodGoes(t *testing.T) {
	t.Parallel()
	none := math.Inf(-1)
	unseen := seen{exits: none}
	for name, c := range map[string]struct {
		course         line.Course
		placed, inSitu seen
	}{
		"whole inside":                {lay(11_000, 12_440, line.Phlebitis), seen{1, 1, 0, 1440, 1, 1}, seen{1, 1, 0, 1440, 1, 1}},
		"out without failing":         {lay(11_000, 12_440, line.NotNeeded), seen{1, 0, 0, 1440, 1, 1}, seen{1, 0, 0, 1440, 1, 1}},
		"placed in the first minute":  {lay(opens, opens+720, line.Leak), seen{1, 1, 0, 720, 0.5, 1}, seen{1, 1, 0, 720, 0.5, 1}},
		"placed in the last minute":   {lay(closes-1, line.Far, 0), seen{1, 0, 0, 1, 1. / 1440, 0}, seen{1, 0, 0, 1, 1. / 1440, 0}},
		"placed in the minute after":  {lay(closes, line.Far, 0), unseen, unseen},
		"out in the last minute":      {lay(closes-1440, closes-1, line.Leak), seen{1, 1, 0, 1439, 1439. / 1440, 1}, seen{1, 1, 0, 1439, 1439. / 1440, 1}},
		"out in the minute after":     {lay(closes-1440, closes, line.Leak), seen{1, 0, 0, 1440, 1, 0}, seen{1, 0, 0, 1440, 1, 0}},
		"out long after":              {lay(closes-1440, closes+5000, line.Leak), seen{1, 0, 0, 1440, 1, 0}, seen{1, 0, 0, 1440, 1, 0}},
		"still in":                    {lay(closes-1440, line.Far, 0), seen{1, 0, 0, 1440, 1, 0}, seen{1, 0, 0, 1440, 1, 0}},
		"out in the minute it was in": {lay(11_000, 11_000, line.Dislodged), seen{1, 1, 0, 0, 0, 1}, seen{1, 1, 0, 0, 0, 1}},
		"already in, out inside": {
			lay(opens-600, opens+720, line.Occlusion), seen{0, 0, 0, none, 0.5, 1}, seen{1, 1, 600, 1320, 0.5, 1},
		},
		"already in, still in": {
			lay(opens-600, line.Far, 0), seen{0, 0, 0, none, 10_000. / 1440, 0}, seen{1, 0, 600, 10_600, 10_000. / 1440, 0},
		},
		"already in, out in the first minute": {lay(opens-600, opens, line.Occlusion), seen{0, 0, 0, none, 0, 1}, seen{0, 0, 0, none, 0, 1}},
		"out before":                          {lay(opens-600, opens-1, line.Occlusion), unseen, unseen},
		"found gone":                          {lay(11_000, 12_440, line.FoundGone), seen{1, 0, 0, 1440, 1, 0}, seen{1, 0, 0, 1440, 1, 0}},
		"found gone, last seen before":        {lay(opens-600, opens-1, line.FoundGone), unseen, unseen},
		"found gone, last seen after":         {lay(closes-1440, closes+10, line.FoundGone), seen{1, 0, 0, 1440, 1, 0}, seen{1, 0, 0, 1440, 1, 0}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for members, want := range map[outcomes.Members]seen{outcomes.Placed: c.placed, outcomes.InSitu: c.inSitu} {
				answer := follow(t, []line.Course{c.course}, outcomes.Asked{Period: period, Members: members})
				got := unseen
				for _, g := range answer.Groups {
					got = seen{g.Lines, g.Failed, 0, g.Survival.End() * 60, outcomes.DaysOf(g.Dwell), g.Ended[c.course.Reason]}
					require.Equal(t, want.lines == 1 && want.enters < want.exits, g.Cohort.AtRisk((want.enters+1)/60) == 1, "at risk once it entered")
					require.Zero(t, g.Cohort.AtRisk((want.exits+1)/60), "and no longer once it left")
					if want.enters > 0 {
						require.Zero(t, g.Cohort.AtRisk(want.enters/60), "nor before it entered")
						got.enters = want.enters
					}
				}
				require.InDelta(t, want.days, got.days, 1e-12, members)
				got.days = want.days
				require.Equal(t, want, got, members)
			}
		})
	}
}

// Failing is what the word means on every page.
func TestFollow_CountsAsFailuresTheReasonsThatAre(t *testing.T) {
	t.Parallel()
	fails := map[line.Reason]bool{
		line.Phlebitis: true, line.Infiltration: true, line.Extravasation: true, line.Occlusion: true, line.Leak: true, line.Dislodged: true,
		line.InfectionSuspected: true, line.FaultyPosition: true,
	}
	for _, reason := range line.Reason(0).All() {
		g := follow(t, []line.Course{lay(11_000, 12_440, reason)}, outcomes.Asked{Period: period}).Groups[0]
		want := 0
		if fails[reason] {
			want = 1
		}
		require.Equal(t, want, g.Failed, reason)
		require.Equal(t, want, g.Rate(outcomes.FailureReasons()...).Events, reason)
		require.Equal(t, reason != line.FoundGone, g.Ended[reason] == 1, reason)
		// What failed steps the curve down; every other end but found gone competes.
		require.Equal(t, 1-float64(want), g.Survival.At(24).Estimate, reason)
		if reason != line.FoundGone {
			require.Equal(t, 1., g.Incidence.At(stats.Ending(reason), 1440).Estimate, reason)
		}
	}
}

func TestFollow_CountsWhatIsNotToldInFull(t *testing.T) {
	t.Parallel()
	unknown, dated := lay(11_000, 12_000, line.Leak), lay(11_000, 12_000, line.Leak)
	unknown.Precision, dated.Precision = line.NotKnown, line.ToDay
	before := unknown
	before.Placed = opens - 10
	courses := []line.Course{
		unknown, dated, dated, before, lay(11_000, 12_000, line.FoundGone), lay(11_000, closes, line.FoundGone), lay(opens-10, 12_000, line.FoundGone),
	}
	require.Equal(t, outcomes.LeftOut{FoundGone: 1, StartNotKnown: 1, DateOnly: 2},
		follow(t, courses, outcomes.Asked{Period: period}).LeftOut, "what went after the period is censored at its end anyhow")
	require.Equal(t, outcomes.LeftOut{FoundGone: 2, StartNotKnown: 2, DateOnly: 2},
		follow(t, courses, outcomes.Asked{Period: period, Members: outcomes.InSitu}).LeftOut)
}

func TestFollow_TellsLinesApart(t *testing.T) {
	t.Parallel()
	whole := lay(11_000, 12_000, line.Leak)
	bare := line.Course{Placed: 11_000, Out: 12_000, Precision: line.ToMinute, Reason: line.Leak}
	neck := bare
	neck.Site = line.Neck
	for by, want := range map[outcomes.By][3]string{
		outcomes.ByNothing:      {"all", "all", "all"},
		outcomes.BySite:         {"forearm", "not-known", "neck"},
		outcomes.ByGauge:        {"20", "not-known", "not-known"},
		outcomes.ByWard:         {"a", "not-known", "not-known"},
		outcomes.BySide:         {"left", "not-known", "none"},
		outcomes.ByOperatorRole: {"nurse", "not-known", "not-known"},
		outcomes.ByAsepsis:      {"full", "not-known", "not-known"},
	} {
		for i, c := range []line.Course{whole, bare, neck} {
			groups := follow(t, []line.Course{c}, outcomes.Asked{Period: period, By: by}).Groups
			require.Len(t, groups, 1)
			require.Equal(t, want[i], groups[0].ID, "by %s", by)
		}
	}
	neck.Side = line.Right
	require.Equal(t, "right", follow(t, []line.Course{neck}, outcomes.Asked{Period: period, By: outcomes.BySide}).Groups[0].ID, "said is said")
}

func TestParse_ReadsWhatItWrites(t *testing.T) {
	t.Parallel()
	for _, by := range append(outcomes.Bys(), outcomes.ByNothing) {
		read, err := outcomes.ParseBy(by.String())
		require.NoError(t, err)
		require.Equal(t, by, read)
	}
	for _, m := range []outcomes.Members{outcomes.Placed, outcomes.InSitu} {
		read, err := outcomes.ParseMembers(m.String())
		require.NoError(t, err)
		require.Equal(t, m, read)
	}
	for _, text := range []string{"Site", "sites", "all", " ", "nurse"} {
		_, err := outcomes.ParseBy(text)
		require.Error(t, err, text)
		_, err = outcomes.ParseMembers(text)
		require.Error(t, err, text)
	}
}

// Six lines of one ward, in hours of dwell: phlebitis 10, not needed 20,
// occlusion 30 and 30, in at 40 (the period ends), discharged 50 but placed
// before the period, of whose dwell 5 h lie in it.
//
// Kaplan-Meier: at 10 h 5 are at risk and 1 fails, 4/5; at 20 h one leaves; at
// 30 h 3 are at risk and 2 fail, 4/5 * 1/3 = 4/15. Greenwood at 30 h:
// 1/(5*4) + 2/(3*1) = 43/60. The median is 30 h. Aalen-Johansen: phlebitis 1/5,
// not needed 4/5 * 1/4 = 1/5, occlusion 3/5 * 2/3 = 2/5, still in 1/5. Rates:
// 10 + 20 + 30 + 30 + 40 + 5 h are 5.625 days; 3 failures in them are 533.3
// per 1000 days.
func TestFollow_AgreesWithAHandWorkedWard(t *testing.T) {
	t.Parallel()
	const h = 60 // minutes
	courses := []line.Course{
		lay(opens, opens+10*h, line.Phlebitis), lay(11_000, 11_000+20*h, line.NotNeeded), lay(12_000, 12_000+30*h, line.Occlusion),
		lay(13_000, 13_000+30*h, line.Occlusion), lay(closes-40*h, line.Far, 0), lay(opens-45*h, opens+5*h, line.Discharged),
	}
	g := follow(t, courses, outcomes.Asked{Period: period}).Groups[0]
	require.Equal(t, 5, g.Lines)
	require.Equal(t, 3, g.Failed)
	for hours, want := range map[float64]float64{0: 1, 9.99: 1, 10: 0.8, 29.9: 0.8, 30: 4. / 15, 40: 4. / 15} {
		require.InDelta(t, want, g.Survival.At(hours).Estimate, 1e-15, "at %v h", hours)
	}
	require.True(t, math.IsNaN(g.Survival.At(40.1).Estimate), "nobody was followed so far")
	require.InDelta(t, 4./15*math.Sqrt(43./60), g.Survival.At(30).SE, 1e-15)
	require.Equal(t, 3, g.Survival.At(30).AtRisk)
	median, _ := g.Survival.Median(stats.LogLog, outcomes.Confidence)
	require.Equal(t, 30., median)
	for reason, want := range map[line.Reason]float64{line.Phlebitis: 0.2, line.NotNeeded: 0.2, line.Occlusion: 0.4, line.Discharged: 0, line.Leak: 0} {
		require.InDelta(t, want, g.Incidence.At(stats.Ending(reason), 30).Estimate, 1e-15, reason)
	}
	require.InDelta(t, 0.2, g.Incidence.EventFree(30), 1e-15)
	require.Equal(t, 135*time.Hour, g.Dwell)
	rate := g.Rate(outcomes.FailureReasons()...)
	require.Equal(t, 3, rate.Events)
	require.InDelta(t, 3000/5.625, rate.Estimate(), 1e-9)
	require.Equal(t, 1, g.Ended[line.Discharged], "rates are of every line in situ")

	in := follow(t, courses, outcomes.Asked{Period: period, Members: outcomes.InSitu}).Groups[0]
	require.Equal(t, 6, in.Lines)
	require.Equal(t, 0, in.Cohort.AtRisk(45), "watched from 45 h of dwell on, so not yet at risk in that minute")
	require.Equal(t, 1, in.Cohort.AtRisk(50))
	require.Equal(t, rate, in.Rate(outcomes.FailureReasons()...), "rates do not depend on the cohort")
}
