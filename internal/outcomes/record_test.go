package outcomes_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
)

func TestOf_CountsFirstAttemptsByOccasion(t *testing.T) {
	t.Parallel()
	r := outcomes.Of([]line.Tried{
		{Occasion: 1, No: 1, Of: 2, At: 10, Site: line.Wrist, Gauge: 20, Failed: true, Fault: line.VeinRolled},
		{Occasion: 1, No: 2, Of: 2, At: 10, Site: line.Forearm, Gauge: 20},
		{Occasion: 2, No: 1, Of: 1, At: 20, Site: line.Forearm, Gauge: 22},
		{Occasion: 3, No: 2, Of: 2, At: 30, Site: line.Forearm, Gauge: 22}, // somebody else began
	}, 1)
	require.Equal(t, 3, r.Occasions)
	require.Equal(t, 1, r.First.Successes)
	require.Equal(t, 2, r.First.N)
	require.Equal(t, 3, r.Attempts.Successes)
	require.Equal(t, 4, r.Attempts.N)
	require.True(t, r.First.Few())
	require.Equal(t, 1, r.Stopped)
	require.Equal(t, []string{"wrist 0/1", "forearm 1/1"}, shares(r.By(outcomes.BySite, outcomes.PerOccasion, outcomes.Names{})), "second attempts are no first ones")
	require.Equal(t, []string{"wrist 0/1", "forearm 3/3"}, shares(r.By(outcomes.BySite, outcomes.PerAttempt, outcomes.Names{})))
	require.Equal(t, []string{"20 0/1", "22 1/1"}, shares(r.By(outcomes.ByGauge, outcomes.PerOccasion, outcomes.Names{})))
	p, ok := r.First.Proportion()
	require.True(t, ok)
	require.Equal(t, 0.5, p)
}

func TestOf_KnowsNoFirstAttemptWhereNobodyCounted(t *testing.T) {
	t.Parallel()
	r := outcomes.Of([]line.Tried{
		{Occasion: 1, No: 1, Of: 0, Site: line.Forearm, Gauge: 20}, // attempts not counted
		{Occasion: 2, No: 3, Of: 3, Site: line.Forearm, Gauge: 20}, // of three only the last is known
	}, 0)
	require.Zero(t, r.First.N)
	require.Empty(t, r.By(outcomes.BySite, outcomes.PerOccasion, outcomes.Names{}))
	require.Equal(t, 2, r.Attempts.N)
	require.Equal(t, 2, r.Occasions)
}

// shares is groups as "id successes/trials".
func shares(parts []outcomes.Part) (list []string) {
	for _, p := range parts {
		list = append(list, fmt.Sprintf("%s %d/%d", p.ID, p.Successes, p.N))
	}
	return list
}

func TestOf_GoesByPlacementThenByTheLinesID(t *testing.T) {
	t.Parallel()
	r := outcomes.Of([]line.Tried{
		{Occasion: 1, LineID: "b", No: 2, At: 50}, {Occasion: 1, LineID: "b", No: 1, At: 50}, {Occasion: 2, LineID: "c", No: 1, At: 40}, {Occasion: 3, LineID: "a", No: 1, At: 50},
	}, 0)
	var order []string
	for _, tried := range r.Tried {
		order = append(order, fmt.Sprint(tried.LineID, tried.No))
	}
	require.Equal(t, []string{"c1", "a1", "b1", "b2"}, order)
}

// 30 April 2026: the clocks of Europe/London are an hour ahead of UTC (IANA
// time zone database), so that half past five there is an hour of the morning.
func TestBy_PartsBySideHourWardAndDifficulty(t *testing.T) {
	t.Parallel()
	london, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	at := func(clock string) line.Minute {
		moment, err := time.Parse("2006-01-02 15:04", "2026-04-30 "+clock)
		require.NoError(t, err)
		return line.MinuteOf(moment)
	}
	r := outcomes.Of([]line.Tried{
		{Occasion: 1, No: 1, Of: 1, At: at("05:30"), Precision: line.ToMinute, Side: line.Left, Ward: 2, Assessed: true},
		{Occasion: 2, No: 1, Of: 1, At: at("04:59"), Precision: line.ToMinute, Side: line.Right, Ward: 1, Failed: true,
			Assessed: true, Difficulty: line.SetOf(line.VeinSmall, line.VeinNotVisible)},
		{Occasion: 3, No: 1, Of: 1, At: at("22:59"), Precision: line.ToMinute, Ward: 2, Assessed: true,
			Difficulty: line.SetOf(line.VeinNotVisible, line.VeinNotPalpable, line.DifficultBefore, line.DifficultyExpected, line.VeinSmall)},
		{Occasion: 4, No: 1, Of: 1, At: at("12:00"), Precision: line.ToDay, Ward: 2, Site: line.Neck},
	}, 0)
	names := outcomes.Names{
		Ward: func(k line.Key) outcomes.Name { return outcomes.Name{ID: fmt.Sprint("ward-", k)} },
		Zone: func(line.Key) *time.Location { return london },
	}
	require.Equal(t, []string{"none 1/1", "not-known 1/1", "left 1/1", "right 0/1"}, shares(r.By(outcomes.BySide, outcomes.PerOccasion, names)))
	require.Equal(t, []string{"ward-1 0/1", "ward-2 3/3"}, shares(r.By(outcomes.ByWard, outcomes.PerOccasion, names)))
	require.Equal(t, []string{"00-06 0/1", "06-12 1/1", "18-24 1/1", "not-known 1/1"}, shares(r.By(outcomes.ByHour, outcomes.PerOccasion, names)))
	require.Equal(t, []string{"low 1/1", "moderate 0/1", "high 1/1", "not-known 1/1"}, shares(r.By(outcomes.ByDifficulty, outcomes.PerOccasion, names)))
}

func TestOf_NothingIsNoProportion(t *testing.T) {
	t.Parallel()
	r := outcomes.Of(nil, 3)
	for _, s := range []outcomes.Share{r.First, r.Attempts} {
		_, ok := s.Proportion()
		require.False(t, ok)
		require.True(t, s.Few())
		require.Equal(t, stats.Interval{Lower: 0, Upper: 1}, s.Interval)
	}
	require.Zero(t, r.Occasions)
	require.Equal(t, 3, r.Stopped)
}

func TestShare_SaysWhenItIsFew(t *testing.T) {
	t.Parallel()
	var tried []line.Tried
	for n := range 10 {
		require.True(t, outcomes.Of(tried, 0).First.Few(), "%d trials", n)
		tried = append(tried, line.Tried{Occasion: line.Key(n + 1), No: 1, Of: 1})
	}
	require.False(t, outcomes.Of(tried, 0).First.Few(), "10 trials")
}

// 15 successes of 148: an example of Newcombe RG, Stat Med 1998;17:857-72,
// table I, method 3: 0.0624 to 0.1605.
func TestOf_GivesThePublishedInterval(t *testing.T) {
	t.Parallel()
	var tried []line.Tried
	for n := range 148 {
		tried = append(tried, line.Tried{Occasion: line.Key(n + 1), No: 1, Of: 1, Failed: n >= 15})
	}
	first := outcomes.Of(tried, 0).First
	require.InDelta(t, 0.0624, first.Lower, 0.00005)
	require.InDelta(t, 0.1605, first.Upper, 0.00005)
}

func TestOf_AddsUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		tried := rapid.SliceOf(rapid.Custom(func(t *rapid.T) line.Tried {
			of := rapid.IntRange(0, 4).Draw(t, "of")
			one := line.Tried{
				Occasion: line.Key(rapid.IntRange(1, 20).Draw(t, "occasion")), Of: of, No: rapid.IntRange(1, max(1, of)).Draw(t, "no"),
				At: line.Minute(rapid.IntRange(0, 1000).Draw(t, "at")), Site: rapid.SampledFrom(line.Site(0).All()).Draw(t, "site"),
				Gauge: rapid.SampledFrom(line.Gauges).Draw(t, "gauge"), Failed: rapid.Bool().Draw(t, "failed"),
			}
			if one.Failed {
				one.Fault = rapid.SampledFrom(line.Fault(0).All()).Draw(t, "fault")
			}
			return one
		})).Draw(t, "tried")
		before := append([]line.Tried(nil), tried...)
		r := outcomes.Of(tried, 0)
		require.Equal(t, before, append([]line.Tried(nil), tried...), "what was given stays as it was")
		require.Len(t, r.Tried, len(tried))
		require.Equal(t, len(tried), r.Attempts.N)
		require.LessOrEqual(t, r.First.N, r.Attempts.N)
		names := outcomes.Names{Ward: func(line.Key) outcomes.Name { return outcomes.Name{} }}
		for u, all := range map[outcomes.Unit]outcomes.Share{outcomes.PerOccasion: r.First, outcomes.PerAttempt: r.Attempts} {
			for _, by := range outcomes.AttemptBys() {
				var sum outcomes.Share
				for _, p := range r.By(by, u, names) {
					sum.N, sum.Successes = sum.N+p.N, sum.Successes+p.Successes
				}
				require.Equal(t, all.N, sum.N, "%s by %s", u, by)
				require.Equal(t, all.Successes, sum.Successes)
			}
		}
		faults := 0
		for _, f := range r.Faults() {
			earlier, later := f.Halves()
			require.Equal(t, f.N, earlier.Successes+later.Successes)
			require.Equal(t, len(tried), earlier.Trials+later.Trials)
			faults += f.N
		}
		require.Equal(t, r.Attempts.N-r.Attempts.Successes, faults)
	})
}
