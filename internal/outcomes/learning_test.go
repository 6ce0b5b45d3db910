package outcomes_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
)

// usual is the terms of the default policy.
var usual = outcomes.Terms{Acceptable: 0.20, Unacceptable: 0.40, Alpha: 0.1, Beta: 0.1}

func standard(t testing.TB, terms outcomes.Terms) outcomes.Standard {
	t.Helper()
	s, err := outcomes.NewStandard(terms)
	require.NoError(t, err)
	return s
}

// trials is a record of first attempts, each failing where the text says x.
func trials(results string) *outcomes.Record {
	var tried []line.Tried
	for i, result := range results {
		tried = append(tried, line.Tried{Occasion: line.Key(i + 1), No: 1, Of: 1, At: line.Minute(i), Failed: result == 'x'})
	}
	return outcomes.Of(tried, 0)
}

func TestNewStandard_WorksOutLimitsThatKeepTheirPromise(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		terms := usual
		terms.Acceptable = rapid.Float64Range(0.05, 0.4).Draw(rt, "acceptable")
		terms.Unacceptable = terms.Acceptable + rapid.Float64Range(0.05, 0.4).Draw(rt, "apart")
		terms.Beta = rapid.Float64Range(0.01, 0.3).Draw(rt, "beta")
		s, err := outcomes.NewStandard(terms)
		require.NoError(rt, err)
		b := s.Behaviour()
		require.LessOrEqual(rt, b.FalselyAdequate, terms.Beta)
		require.GreaterOrEqual(rt, b.FalseAlarmIn, float64(outcomes.FalseAlarmEvery))
		require.Less(rt, b.NoticedIn, b.FalseAlarmIn, "what is worse is noticed sooner")

		// Limits that are given stay.
		terms.LearningLimit, terms.WatchLimit = 2, 3
		s, err = outcomes.NewStandard(terms)
		require.NoError(rt, err)
		require.Equal(rt, terms, s.Terms)
	})
}

// The run lengths of cusum_arl.json (R 4.2.2, exact Markov chain) at rates 0.20
// and 0.35: watch at limit 3, learning at limit 2.
func TestBehaviour_IsThatOfThePublishedChains(t *testing.T) {
	t.Parallel()
	terms := usual
	terms.Unacceptable, terms.LearningLimit, terms.WatchLimit = 0.35, 2, 3
	b := standard(t, terms).Behaviour()
	require.InDelta(t, 38.7284012682328, b.NoticedIn, 1e-6)
	require.InDelta(t, 26.1242282481974, b.AdequateIn, 1e-6)
	require.InDelta(t, 0.317962977750675, b.FalselyAdequate, 1e-9, "within 50")
	// cusum_kestin.json: the fewest successes that reach the lower boundary, and
	// Wald's average number of trials.
	require.Equal(t, 11, b.FewestTrials)
	require.InDelta(t, 32.4383409578413, b.SequentialIn, 1e-9)
	lower, upper := standard(t, terms).Boundaries()
	require.InDelta(t, -2.86374691595744, lower, 1e-9)
	require.InDelta(t, 2.86374691595744, upper, 1e-9)
}

func TestNewStandard_RefusesTermsThatDecideNothing(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		change func(*outcomes.Terms)
		want   error
	}{
		"acceptable not below unacceptable": {func(t *outcomes.Terms) { t.Acceptable = 0.4 }, stats.ErrFailureRates},
		"no alpha":                          {func(t *outcomes.Terms) { t.Alpha = 0 }, stats.ErrFailureRates},
		"alpha and beta too large":          {func(t *outcomes.Terms) { t.Alpha, t.Beta = 0.6, 0.5 }, stats.ErrFailureRates},
		"a limit below 0":                   {func(t *outcomes.Terms) { t.LearningLimit = -1 }, stats.ErrNoLimit},
	} {
		terms := usual
		tt.change(&terms)
		_, err := outcomes.NewStandard(terms)
		require.ErrorIs(t, err, tt.want, name)
	}
}

// With rates 0.20 and 0.40 a success adds ln(0.8/0.6) to the learning sum: its
// limit of 3.33 is reached by the 12th in a row; a failure then adds ln 2 to the
// watching sum, whose limit of 3.53 the 6th in a row reaches.
func TestCurve_WatchesFromTheLearningSignalOn(t *testing.T) {
	t.Parallel()
	s := standard(t, usual)
	c := s.Curve(trials("ooooooooooooxxxxxx"), outcomes.PerOccasion)
	require.Equal(t, 12, c.LearnedAt)
	require.Equal(t, []int{6}, c.Watch.Signals)
	require.Len(t, c.Watch.Sums, 6)
	require.Len(t, c.Learning.Sums, 18)
	require.Len(t, c.Sequential.Sums, 18)
	require.Equal(t, 8, c.Sequential.Acceptable, "a clean run of 8 crosses the lower boundary: reference sheet, derived constants")
	var keys []string
	for _, m := range c.Reading() {
		keys = append(keys, m.Key)
	}
	require.Equal(t, []string{"learning.read.adequate", "learning.read.watch", "learning.read.false-alarm"}, keys)

	c = s.Curve(trials("xxxxxxooooooooooo"), outcomes.PerOccasion)
	require.Zero(t, c.LearnedAt)
	require.Empty(t, c.Watch.Sums, "nothing is watched before it was adequate")
	require.Equal(t, "learning.read.not-yet", c.Reading()[0].Key)
}

func TestHazard06_ACurveSaysNothingOfFewerThanTenTrials(t *testing.T) {
	t.Parallel()
	s := standard(t, usual)
	require.False(t, s.Curve(trials("ooooooooo"), outcomes.PerOccasion).Tells())
	require.Equal(t, "learning.read.few", s.Curve(trials("xxxxxxxxx"), outcomes.PerOccasion).Reading()[0].Key)
	require.True(t, s.Curve(trials("oooooooooo"), outcomes.PerOccasion).Tells())
}

func TestCurve_TakesTheUnitAsked(t *testing.T) {
	t.Parallel()
	r := outcomes.Of([]line.Tried{
		{Occasion: 1, No: 1, Of: 2, At: 1, Failed: true}, {Occasion: 1, No: 2, Of: 2, At: 1}, {Occasion: 2, No: 2, Of: 2, At: 2},
	}, 0)
	s := standard(t, usual)
	require.Len(t, s.Curve(r, outcomes.PerOccasion).Trials, 1)
	require.Len(t, s.Curve(r, outcomes.PerAttempt).Trials, 3)
	for text, want := range map[string]outcomes.Unit{"": outcomes.PerOccasion, "occasion": outcomes.PerOccasion, "attempt": outcomes.PerAttempt} {
		u, err := outcomes.ParseUnit(text)
		require.NoError(t, err)
		require.Equal(t, want, u)
	}
	_, err := outcomes.ParseUnit("patient")
	require.Error(t, err)
}

func TestSupervised_CountsOccasionsThatSucceededUnderASupervisor(t *testing.T) {
	t.Parallel()
	r := outcomes.Of([]line.Tried{
		{Occasion: 1, No: 1, Of: 2, At: 10, Supervised: true, Failed: true}, {Occasion: 1, No: 2, Of: 2, At: 10, Supervised: true},
		{Occasion: 2, No: 1, Of: 1, At: 20}, {Occasion: 3, No: 1, Of: 1, At: 30, Supervised: true, Failed: true},
		{Occasion: 4, No: 1, Of: 1, At: 40, Supervised: true}, {Occasion: 5, No: 1, Of: 1, At: 50, Supervised: true},
	}, 0)
	require.Equal(t, outcomes.Supervised{Successes: 3, Asked: 2, At: 40}, r.Supervised(2))
	require.Zero(t, r.Supervised(2).Left())
	require.Equal(t, outcomes.Supervised{Successes: 3, Asked: 5}, r.Supervised(5))
	require.Equal(t, 2, r.Supervised(5).Left())
	require.Zero(t, r.Supervised(0).At)
}

// A page of somebody with 2,000 attempts: record, parts, faults, curve and what
// its limits mean, nothing kept from before.
func BenchmarkRecord_OfTwoThousand(b *testing.B) {
	tried := invented(2000, 0.2)
	names := outcomes.Names{Ward: func(line.Key) outcomes.Name { return outcomes.Name{ID: "w"} }}
	b.ReportAllocs()
	for b.Loop() {
		r := outcomes.Of(tried, 0)
		for _, by := range outcomes.AttemptBys() {
			require.NotEmpty(b, r.By(by, outcomes.PerOccasion, names))
		}
		require.NotEmpty(b, r.Faults())
		s := standard(b, usual)
		require.NotEmpty(b, s.Curve(r, outcomes.PerOccasion).Reading())
		require.NotZero(b, s.Behaviour().FalseAlarmIn)
	}
}

// invented is attempts that fail at a rate which is higher by 0.15 at the hand
// and by 0.2 with 24G.
func invented(n int, rate float64) (tried []line.Tried) {
	random := rand.New(rand.NewPCG(7, 9))
	for i := range n {
		t := line.Tried{
			Occasion: line.Key(i + 1), No: 1, Of: 1, At: line.Minute(600 * i), Precision: line.ToMinute, Ward: 1,
			Site: []line.Site{line.Forearm, line.HandDorsum}[random.IntN(2)], Gauge: []line.Gauge{20, 24}[random.IntN(2)],
			Assessed: true, Difficulty: line.Difficulties(random.IntN(32)),
		}
		p := rate
		if t.Site == line.HandDorsum {
			p += 0.15
		}
		if t.Gauge == 24 {
			p += 0.2
		}
		if t.Failed = random.Float64() < p; t.Failed {
			t.Fault = line.Fault(1 + random.IntN(5))
		}
		tried = append(tried, t)
	}
	return tried
}
