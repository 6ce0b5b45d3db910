package outcomes_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
)

// of is attempts of one kind, so many of them failed.
func of(n, failed int, site line.Site, gauge line.Gauge) (tried []line.Tried) {
	for i := range n {
		tried = append(tried, line.Tried{Occasion: line.Key(len(tried) + 1), No: 1, Of: 1, At: line.Minute(i), Site: site, Gauge: gauge, Failed: i < failed})
	}
	return tried
}

func joined(lists ...[]line.Tried) (all []line.Tried) {
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

// One grouping makes a saturated model, whose fitted probabilities are the
// proportions themselves (a property of maximum likelihood: Cox 1958): 20 of 100
// at the forearm and 30 of 60 at the hand.
func TestExpected_IsTheHospitalsProportionWhereOneThingDiffers(t *testing.T) {
	t.Parallel()
	m, err := outcomes.FitCaseMix(joined(of(100, 20, line.Forearm, 20), of(60, 30, line.HandDorsum, 20)), outcomes.PerOccasion)
	require.NoError(t, err)
	require.Equal(t, 160, m.Trials)
	require.Equal(t, 50, m.Failed)
	e := m.Expected(outcomes.Of(joined(of(10, 1, line.Forearm, 20), of(20, 4, line.HandDorsum, 20), of(3, 3, line.Wrist, 20)), 0))
	require.Equal(t, 30, e.Trials)
	require.Equal(t, 5, e.Failed)
	require.Equal(t, 3, e.LeftOut, "nobody knows how often the wrist fails here")
	require.InDelta(t, 10*0.2+20*0.5, e.Failures, 1e-6)
	require.InDelta(t, 5.0/12, e.Ratio, 1e-6)
	// The exact interval of 5 events, 1.6235 to 11.6683 (Garwood 1936; reference
	// sheet), over the 12 expected.
	require.InDelta(t, 1.6235/12, e.Interval.Lower, 1e-5)
	require.InDelta(t, 11.6683/12, e.Interval.Upper, 1e-5)
	require.True(t, e.Tells())
	require.Equal(t, "learning.expected.fewer", m.Reading(e)[0].Key)
}

// Summed over those it was fitted on, what is expected is what was observed: the
// score equation of the intercept.
func TestExpected_OfEverybodyIsWhatWasObserved(t *testing.T) {
	t.Parallel()
	all := invented(3000, 0.15)
	for _, u := range []outcomes.Unit{outcomes.PerOccasion, outcomes.PerAttempt} {
		m, err := outcomes.FitCaseMix(all, u)
		require.NoError(t, err)
		require.Zero(t, m.LeftOut)
		e := m.Expected(outcomes.Of(all, 0))
		require.InDelta(t, e.Failed, e.Failures, 1e-5)
		require.Equal(t, "learning.expected.alike", m.Reading(e)[0].Key)
	}
}

func TestExpected_SaysNothingOfLittle(t *testing.T) {
	t.Parallel()
	m, err := outcomes.FitCaseMix(joined(of(100, 20, line.Forearm, 20), of(60, 30, line.HandDorsum, 20)), outcomes.PerOccasion)
	require.NoError(t, err)
	for name, tried := range map[string][]line.Tried{
		"nothing": nil, "fewer than ten": of(9, 9, line.HandDorsum, 20), "few failures to be expected": of(20, 10, line.Forearm, 20),
	} {
		e := m.Expected(outcomes.Of(tried, 0))
		require.False(t, e.Tells(), name)
		require.Equal(t, "learning.expected.few", m.Reading(e)[0].Key)
	}
	more := m.Expected(outcomes.Of(of(40, 25, line.Forearm, 20), 0))
	require.Equal(t, "learning.expected.more", m.Reading(more)[0].Key)
}

func TestFitCaseMix_RefusesWhatIsTooLittle(t *testing.T) {
	t.Parallel()
	_, err := outcomes.FitCaseMix(joined(of(9, 3, line.Forearm, 20), of(9, 3, line.Wrist, 20)), outcomes.PerOccasion)
	require.Error(t, err)
	_, err = outcomes.FitCaseMix(of(100, 30, line.Forearm, 20), outcomes.PerOccasion)
	require.ErrorIs(t, err, stats.ErrRows, "there is nothing to tell apart")
	var few *stats.TooFewEventsError
	_, err = outcomes.FitCaseMix(joined(of(14, 11, line.Forearm, 20), of(14, 11, line.HandDorsum, 20)), outcomes.PerOccasion)
	require.ErrorAs(t, err, &few, "6 successes are too few for one covariate")
}

func BenchmarkFitCaseMix_OfFiftyThousand(b *testing.B) {
	all := invented(50000, 0.15)
	for b.Loop() {
		_, err := outcomes.FitCaseMix(all, outcomes.PerOccasion)
		require.NoError(b, err)
	}
}
