package outcomes_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

func london(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	return zone
}

// Parts begin at midnight on the ward's clock, across both clock changes of 2026
// (IANA time zone database: 29 March and 25 October).
func TestWatch_CutsAtMidnightOnTheWardsClock(t *testing.T) {
	t.Parallel()
	zone := london(t)
	minute := func(text string) line.Minute {
		at, err := time.ParseInLocation("2006-01-02 15:04", text, zone)
		require.NoError(t, err)
		return line.MinuteOf(at)
	}
	starts := func(from, until, first string) (list []string, weekly bool) {
		courses := []line.Course{lay(minute(first), line.Far, 0)}
		w := outcomes.Watch(courses, outcomes.PhlebitisAtRemoval, line.Stretch{From: minute(from), Until: minute(until)}, zone)
		for i, p := range w.Periods {
			list = append(list, p.From.Time().In(zone).Format("2006-01-02 15:04"))
			require.InDelta(t, outcomes.DaysOf(p.Until.Sub(p.From)), w.Samples[i].Size*outcomes.PerThousand, 1e-9, "one line in, to the minute")
		}
		return list, w.Weekly
	}
	weeks, weekly := starts("2026-03-20 00:00", "2026-04-14 00:00", "2026-01-01 10:00")
	require.True(t, weekly)
	require.Equal(t, []string{"2026-03-20 00:00", "2026-03-27 00:00", "2026-04-03 00:00", "2026-04-10 00:00"}, weeks)
	weeks, _ = starts("2026-03-20 00:00", "2026-04-14 00:00", "2026-03-25 10:40")
	require.Equal(t, []string{"2026-03-25 10:40", "2026-04-01 00:00", "2026-04-08 00:00"}, weeks, "from the first line on")
	months, weekly := starts("2026-03-20 00:00", "2026-11-02 00:00", "2026-01-01 10:00")
	require.False(t, weekly)
	require.Equal(t, []string{
		"2026-03-20 00:00", "2026-04-01 00:00", "2026-05-01 00:00", "2026-06-01 00:00", "2026-07-01 00:00", "2026-08-01 00:00",
		"2026-09-01 00:00", "2026-10-01 00:00", "2026-11-01 00:00",
	}, months)
	none, _ := starts("2026-03-20 00:00", "2026-04-14 00:00", "2026-04-14 00:00")
	require.Empty(t, none)
}

func TestWatch_TellsEventsApart(t *testing.T) {
	t.Parallel()
	suspected, confirmed, blood, cleared := lay(11_000, 12_000, line.InfectionSuspected), lay(11_000, 12_000, line.InfectionSuspected),
		lay(11_000, 12_000, line.Routine), lay(11_000, 12_000, line.InfectionSuspected)
	confirmed.Infection, blood.Infection, cleared.Infection = line.InfectionConfirmed, line.InfectionBloodstream, line.InfectionNotConfirmed
	courses := []line.Course{
		suspected, confirmed, blood, cleared, lay(11_000, 12_000, line.Phlebitis), lay(11_000, closes, line.Phlebitis), lay(opens-10, opens-1, line.Phlebitis),
	}
	for event, want := range map[outcomes.Event]int{outcomes.PhlebitisAtRemoval: 1, outcomes.InfectionSuspected: 3, outcomes.InfectionConfirmed: 2} {
		require.Equal(t, want, outcomes.Watch(courses, event, period, time.UTC).Events, event)
	}
}

// Parts cover what they are cut from, and their days and events are those of
// the rates.
func TestWatch_PartsAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		courses := someCourses(t)
		w := outcomes.Watch(courses, outcomes.PhlebitisAtRemoval, period, time.UTC)
		days, events := 0.0, 0.0
		for i, p := range w.Periods {
			require.Less(t, p.From, p.Until)
			if i > 0 {
				require.Equal(t, w.Periods[i-1].Until, p.From)
			}
			days, events = days+w.Samples[i].Size*outcomes.PerThousand, events+w.Samples[i].Count
		}
		if len(w.Periods) > 0 {
			require.Equal(t, period.Until, w.Periods[len(w.Periods)-1].Until)
		}
		groups := follow(t, courses, outcomes.Asked{Period: period}).Groups
		if len(groups) == 0 {
			require.Zero(t, w.Events)
			return
		}
		require.InDelta(t, outcomes.DaysOf(groups[0].Dwell), days, 1e-6)
		require.Equal(t, groups[0].Ended[line.Phlebitis], w.Events)
		require.Equal(t, float64(w.Events), events)
		require.False(t, w.Rates != nil && w.Gaps != nil, "one chart at most")
	})
}

// Lines out, in order: other, phlebitis, other, other, phlebitis, phlebitis,
// other. The gaps are 2 and 0; what came before the first event and after the
// last is none.
func TestWatch_CountsLinesBetweenRareEvents(t *testing.T) {
	t.Parallel()
	zone := time.UTC
	var courses []line.Course
	for i, reason := range []line.Reason{line.Routine, line.Phlebitis, line.Leak, line.NotNeeded, line.Phlebitis, line.Phlebitis, line.Died} {
		c := lay(opens, opens+line.Minute(i+1)*1000, reason)
		c.Line = line.Key(20 - i)
		if i == 3 { // in one minute with the next, and of an earlier line
			c.Out, c.Line = c.Out+1000, 1
		}
		courses = append(courses, c)
	}
	gone := lay(opens, opens+3500, line.FoundGone)
	w := outcomes.Watch(append(courses, gone), outcomes.PhlebitisAtRemoval, period, zone)
	require.Nil(t, w.Rates, "3 events in 2 weeks")
	require.Equal(t, []int{2, 0}, w.Gaps.Gaps)
	require.Equal(t, []line.Minute{opens + 5000, opens + 6000}, w.When)
	require.Empty(t, w.Signals)
	require.True(t, w.Few())
}
