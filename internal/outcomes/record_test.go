package outcomes_test

import (
	"testing"

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
	require.Equal(t, []outcomes.FaultCount{{Fault: line.VeinRolled, N: 1}}, r.Faults)
	require.Len(t, r.BySite, 2)
	require.Equal(t, line.Wrist, r.BySite[0].Site)
	require.Equal(t, 0, r.BySite[0].Successes)
	require.Equal(t, line.Forearm, r.BySite[1].Site)
	require.Equal(t, 1, r.BySite[1].N, "second attempts are no first ones")
	require.Len(t, r.ByGauge, 2)
	require.Equal(t, line.Gauge(20), r.ByGauge[0].Gauge)
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
	require.Empty(t, r.BySite)
	require.Empty(t, r.ByGauge)
	require.Equal(t, 2, r.Attempts.N)
	require.Equal(t, 2, r.Occasions)
}

func TestOf_OrdersFaultsAndWhatIsRecent(t *testing.T) {
	t.Parallel()
	failed := func(occasion line.Key, no int, at line.Minute, fault line.Fault) line.Tried {
		return line.Tried{Occasion: occasion, No: no, Of: 2, At: at, Failed: true, Fault: fault}
	}
	r := outcomes.Of([]line.Tried{
		failed(1, 1, 50, line.Spasm), failed(1, 2, 50, line.Haematoma), failed(2, 1, 90, line.Haematoma), failed(3, 1, 70, line.NoFlashback),
	}, 0)
	require.Equal(t, []outcomes.FaultCount{
		{Fault: line.Haematoma, N: 2}, {Fault: line.NoFlashback, N: 1}, {Fault: line.Spasm, N: 1},
	}, r.Faults, "commonest first; of equals in the order of the codes")
	var order []line.Minute
	for _, tried := range r.Recent {
		order = append(order, tried.At)
	}
	require.Equal(t, []line.Minute{90, 70, 50, 50}, order)
	require.Equal(t, 2, r.Recent[2].No, "of one occasion the last attempt first")
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
		require.Len(t, r.Recent, len(tried))
		require.Equal(t, len(tried), r.Attempts.N)
		require.LessOrEqual(t, r.First.N, r.Attempts.N)
		var sites, gauges outcomes.Share
		for _, s := range r.BySite {
			sites.N, sites.Successes = sites.N+s.N, sites.Successes+s.Successes
		}
		for _, g := range r.ByGauge {
			gauges.N, gauges.Successes = gauges.N+g.N, gauges.Successes+g.Successes
		}
		for _, s := range []outcomes.Share{sites, gauges} {
			require.Equal(t, r.First.N, s.N)
			require.Equal(t, r.First.Successes, s.Successes)
		}
		faults := 0
		for _, f := range r.Faults {
			faults += f.N
		}
		require.Equal(t, r.Attempts.N-r.Attempts.Successes, faults)
	})
}
