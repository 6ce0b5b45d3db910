package stats_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// expectedLogRank is a test as the reference files give it.
type expectedLogRank struct {
	Groups []struct {
		Group              string
		N                  int
		Observed, Expected *float64
	}
	ChiSq, P, U, V, Z *float64
	DF                int
	Trend             *struct {
		Scores      []float64
		Z, ChiSq, P *float64
	}
}

// cohorts lays groups out in the order of the reference file.
func (e expectedLogRank) cohorts(t *testing.T, groups map[string][]stats.Episode) []*stats.Cohort {
	t.Helper()
	require.GreaterOrEqual(t, len(e.Groups), 2)
	out := make([]*stats.Cohort, len(e.Groups))
	for k, g := range e.Groups {
		out[k] = cohort(t, groups[g.Group]) // empty where a stratum has none
	}
	return out
}

func (r *reference[E]) logRank(want expectedLogRank, what string, strata [][]*stats.Cohort, failures ...stats.Ending) *stats.LogRankTest {
	r.t.Helper()
	return r.weightedLogRank(0, want, what, strata, failures...)
}

func (r *reference[E]) weightedLogRank(rho float64, want expectedLogRank, what string, strata [][]*stats.Cohort, failures ...stats.Ending) *stats.LogRankTest {
	r.t.Helper()
	test, err := stats.FlemingHarrington(rho, strata, failures...)
	require.NoError(r.t, err, what)
	require.Len(r.t, test.Groups, len(want.Groups))
	for k, w := range want.Groups {
		same(r, w.N, test.Groups[k].N, what+": episodes of "+w.Group)
		r.agree(w.Observed, test.Groups[k].Observed, "%s: observed in %s", what, w.Group)
		r.agree(w.Expected, test.Groups[k].Expected, "%s: expected in %s", what, w.Group)
	}
	r.agree(want.ChiSq, test.ChiSquared, "%s: chi-squared", what)
	same(r, want.DF, test.DF, what+": degrees of freedom")
	r.agree(want.P, test.P, "%s: p", what)
	if want.U != nil {
		u := excess(test)
		r.agree(want.U, u, "%s: excess", what)
		r.agree(want.V, u*u/test.ChiSquared, "%s: variance", what)
		r.agree(want.Z, math.Copysign(math.Sqrt(test.ChiSquared), u), "%s: z", what)
	}
	if want.Trend != nil {
		trend, err := test.Trend(want.Trend.Scores)
		require.NoError(r.t, err)
		r.agree(want.Trend.Z, trend.Z, "%s: z of trend", what)
		r.agree(want.Trend.ChiSq, trend.ChiSquared, "%s: chi-squared of trend", what)
		r.agree(want.Trend.P, trend.P, "%s: p of trend", what)
		same(r, 1, trend.DF, what)
	}
	return test
}

// excess is the failures of the first group beyond those expected.
func excess(test *stats.LogRankTest) float64 {
	return test.Groups[0].Observed - test.Groups[0].Expected
}

func TestLogRank_AgreesWithTestsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	for id, file := range map[string]string{
		"logrank_bmt":             "km_bmt.csv",
		"logrank_gehan":           "gehan.csv",
		"logrank_kidney_catheter": "km_kidney.csv",
		"logrank_mcgilchrist":     "mcgilchrist_kidney.csv",
		"logrank_trend_larynx":    "larynx.csv",
	} {
		t.Run(id, func(t *testing.T) {
			t.Parallel()
			r := readReference[struct {
				LogRank    expectedLogRank
				Rho1       *expectedLogRank `json:"fh_rho1"`
				Stratified *expectedLogRank
			}](t, id)
			groups := grouped(t, file, "time", "status")
			whole := [][]*stats.Cohort{r.Expected.LogRank.cohorts(t, groups)}
			test := r.logRank(r.Expected.LogRank, "log-rank", whole, fails)
			alone, err := stats.LogRank(whole[0], fails)
			require.NoError(t, err)
			require.Equal(t, test, alone)

			u := excess(test)
			found := map[string]float64{
				"log-rank chi2": test.ChiSquared, "log-rank chi2 (2 df)": test.ChiSquared, "log-rank chi2, sex": test.ChiSquared,
				"log-rank p": test.P, "p": test.P, "|O-E|": math.Abs(u), "variance": u * u / test.ChiSquared,
			}
			for k, g := range r.Expected.LogRank.Groups {
				found["observed relapses, "+g.Group], found["expected relapses, "+g.Group] = test.Groups[k].Observed, test.Groups[k].Expected
			}
			if w := r.Expected.LogRank.Trend; w != nil {
				trend, err := test.Trend(w.Scores)
				require.NoError(t, err)
				found["trend Z"] = trend.Z
			}
			if w := r.Expected.Rho1; w != nil {
				weighted := r.weightedLogRank(1, *w, "rho 1", whole, fails)
				found["FH(1,0) chi2"], found["FH(1,0) p"] = weighted.ChiSquared, weighted.P
			}
			if w := r.Expected.Stratified; w != nil {
				r.logRank(*w, "stratified", strata(t, file, *w), fails)
			}
			r.books(found)
		})
	}
}

// strata reads a file by its strata, and in each by group.
func strata(t *testing.T, file string, want expectedLogRank) [][]*stats.Cohort {
	t.Helper()
	columns, by := table(t, file), map[string]map[string][]stats.Episode{}
	for k, exit := range numbers(t, columns["time"]) {
		e := stats.Episode{Exit: exit}
		if columns["status"][k] == "1" {
			e.Ending = fails
		}
		s, g := columns["stratum"][k], columns["group"][k]
		if by[s] == nil {
			by[s] = map[string][]stats.Episode{}
		}
		by[s][g] = append(by[s][g], e)
	}
	var out [][]*stats.Cohort
	for _, groups := range by {
		out = append(out, want.cohorts(t, groups))
	}
	return out
}

func TestLogRank_AgreesOnEpisodes(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Site, Gauge expectedLogRank
		Stratified  expectedLogRank `json:"site_stratified_by_ward"`
		Rho1        expectedLogRank `json:"site_fh_rho1"`
	}](t, "episodes_small_logrank")
	sites := [][]*stats.Cohort{r.Expected.Site.cohorts(t, lines(t, bySite))}
	r.logRank(r.Expected.Site, "site", sites, lineFailures...)
	r.weightedLogRank(1, r.Expected.Rho1, "site, rho 1", sites, lineFailures...)
	r.logRank(r.Expected.Gauge, "gauge", [][]*stats.Cohort{r.Expected.Gauge.cohorts(t, lines(t, byGauge))}, lineFailures...)
	var wards [][]*stats.Cohort
	for ward := range lines(t, func(e episode) string { return e.ward }) {
		here := lines(t, func(e episode) string {
			if e.ward != ward {
				return "elsewhere"
			}
			return e.site
		})
		wards = append(wards, r.Expected.Stratified.cohorts(t, here))
	}
	r.logRank(r.Expected.Stratified, "site by ward", wards, lineFailures...)
}

func TestLogRank_RefusesWhereNothingCanBeCompared(t *testing.T) {
	t.Parallel()
	none := cohort(t, nil)
	some := cohort(t, []stats.Episode{{Exit: 1, Ending: fails}, {Exit: 2, Ending: fails}, {Exit: 3}})
	late := cohort(t, []stats.Episode{{Entry: 3, Exit: 4, Ending: fails}, {Entry: 3, Exit: 5}})
	var alone []stats.Episode // two failures at each moment
	for k := range 100 {
		alone = append(alone, stats.Episode{Exit: float64(2 + k/2), Ending: fails})
	}
	for name, groups := range map[string][]*stats.Cohort{
		"no groups":                   {},
		"one group":                   {some},
		"no episodes":                 {none, none},
		"the others without episodes": {none, some, none},
		"never at risk together":      {some, late},
		"no failures":                 {cohort(t, []stats.Episode{{Exit: 1}}), cohort(t, []stats.Episode{{Exit: 2}})},
		"all fail at once":            {cohort(t, []stats.Episode{{Exit: 2, Ending: fails}}), cohort(t, []stats.Episode{{Exit: 2, Ending: fails}})},
		"failures when the others are gone already": {cohort(t, []stats.Episode{{Exit: 1}}), cohort(t, alone)},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := stats.LogRank(groups, fails)
			require.ErrorIs(t, err, stats.ErrNothingToCompare)
		})
	}
	_, err := stats.FlemingHarrington(0, nil, fails)
	require.ErrorIs(t, err, stats.ErrNothingToCompare)
	_, err = stats.LogRank([]*stats.Cohort{some, some})
	require.ErrorIs(t, err, stats.ErrNothingToCompare, "no ending is a failure")
}

func TestLogRank_SaysWhatIsWrongWithItsArguments(t *testing.T) {
	t.Parallel()
	some := cohort(t, []stats.Episode{{Exit: 1, Ending: fails}, {Exit: 2, Ending: fails}, {Exit: 3}})
	for _, rho := range []float64{-1, math.NaN(), math.Inf(1)} {
		_, err := stats.FlemingHarrington(rho, [][]*stats.Cohort{{some, some}}, fails)
		require.ErrorContains(t, err, "rho")
	}
	_, err := stats.FlemingHarrington(0, [][]*stats.Cohort{{some, some}, {some}}, fails)
	require.ErrorContains(t, err, "stratum 2 has 1 groups")

	test, err := stats.LogRank([]*stats.Cohort{some, some}, fails)
	require.NoError(t, err)
	_, err = test.Trend([]float64{1, 2, 3})
	require.ErrorContains(t, err, "3 scores for 2 groups")
	_, err = test.Trend([]float64{0.1, 0.1})
	require.ErrorIs(t, err, stats.ErrNothingToCompare)
}

// Two groups and three that are under observation only once the two are gone
// make two tests in one.
func TestLogRank_AddsUpWhatNeverMeets(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var all, early, later []*stats.Cohort
		scores := make([]float64, 5)
		for k := range scores {
			episodes := drawEpisodes(t, 0)
			if k < 2 {
				early, scores[k] = append(early, cohort(t, episodes)), 0.1
				continue
			}
			for j := range episodes {
				episodes[j].Entry += 20
				episodes[j].Exit += 20
			}
			later, scores[k] = append(later, cohort(t, episodes)), 0.8
		}
		all = append(append(all, later...), early...)
		slices.Reverse(scores)
		one, err := stats.LogRank(early, fails)
		two, other := stats.LogRank(later, fails)
		if err != nil || other != nil {
			t.Skip("one of the tests is none")
		}
		both, err := stats.LogRank(all, fails)
		require.NoError(t, err)
		require.Equal(t, one.DF+two.DF, both.DF)
		require.InDelta(t, one.ChiSquared+two.ChiSquared, both.ChiSquared, 1e-9*(1+both.ChiSquared))
		_, err = both.Trend(scores)
		require.ErrorIs(t, err, stats.ErrNothingToCompare, "scores differ only between those that never meet")
	})
}

func TestLogRank_DoesNotDependOnLabelsUnitsOrOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		groups := make([][]stats.Episode, rapid.IntRange(2, 5).Draw(t, "groups"))
		var cohorts, scaled, relabelled []*stats.Cohort
		scores, moved := make([]float64, len(groups)), make([]float64, len(groups))
		for k := range groups {
			groups[k] = drawEpisodes(t, 0)
			cohorts = append(cohorts, cohort(t, groups[k]))
			slower := make([]stats.Episode, len(groups[k]))
			for j, e := range rapid.Permutation(groups[k]).Draw(t, "order") {
				slower[j] = stats.Episode{Entry: 60 * e.Entry, Exit: 60 * e.Exit, Ending: e.Ending}
			}
			scaled = append(scaled, cohort(t, slower))
		}
		places := make([]int, len(groups))
		for k := range places {
			places[k], scores[k] = k, float64(k)
		}
		places = rapid.Permutation(places).Draw(t, "labels")
		for k, from := range places {
			relabelled, moved[k] = append(relabelled, scaled[from]), 10-3*scores[from]
		}
		rho := rapid.SampledFrom([]float64{0, 0.5, 1}).Draw(t, "rho")
		want, err := stats.FlemingHarrington(rho, [][]*stats.Cohort{cohorts}, fails)
		got, again := stats.FlemingHarrington(rho, [][]*stats.Cohort{relabelled}, fails)
		if err != nil {
			require.ErrorIs(t, err, stats.ErrNothingToCompare)
			require.ErrorIs(t, again, stats.ErrNothingToCompare)
			return
		}
		require.NoError(t, again)
		require.Equal(t, want.DF, got.DF)
		require.InDelta(t, want.ChiSquared, got.ChiSquared, 1e-9*(1+want.ChiSquared))
		require.GreaterOrEqual(t, want.ChiSquared, 0.0)
		observed, expected := 0.0, 0.0
		for k, from := range places {
			require.InDelta(t, want.Groups[from].Expected, got.Groups[k].Expected, 1e-9)
			observed += got.Groups[k].Observed
			expected += got.Groups[k].Expected
		}
		require.InDelta(t, observed, expected, 1e-9)

		up, err := want.Trend(scores)
		down, again := got.Trend(moved)
		require.Equal(t, err == nil, again == nil)
		require.InDelta(t, up.Z, -down.Z, 1e-9)
		if len(groups) == 2 && err == nil {
			require.InDelta(t, want.ChiSquared, up.ChiSquared, 1e-9*(1+want.ChiSquared), "two groups have no other trend")
		}
	})
}

// Groups alike differ by nothing.
func TestLogRank_IsNothingForGroupsAlike(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := cohort(t, append(drawEpisodes(t, 0), stats.Episode{Exit: 1, Ending: fails}, stats.Episode{Exit: 100}))
		test, err := stats.LogRank([]*stats.Cohort{c, c, c}, fails)
		require.NoError(t, err)
		require.Equal(t, 2, test.DF)
		require.InDelta(t, 0, test.ChiSquared, 1e-12)
		require.InDelta(t, 1, test.P, 1e-6)
	})
}
