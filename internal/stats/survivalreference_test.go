package stats_test

import (
	"fmt"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/stats"
)

// fails is the ending of the episodes that the reference files count as failures.
const fails stats.Ending = 1

// expectedSurvival is what the reference files say of one group.
type expectedSurvival struct {
	N, Events, Censored int
	TotalTime           *float64 `json:"total_time"`
	EventTable          []struct {
		Time     float64
		AtRisk   int `json:"n_risk"`
		Failed   int `json:"n_event"`
		Surv, SE *float64
		Hazard   *float64 `json:"cumhaz"`
		HazardSE *float64 `json:"se_cumhaz"`
	} `json:"event_table"`
	AtTimes []struct {
		Time        float64
		AtRisk      int `json:"n_risk"`
		Failures    int `json:"cum_events"`
		Surv, SE    *float64
		PlainLower  *float64 `json:"plain_lower"`
		PlainUpper  *float64 `json:"plain_upper"`
		LogLower    *float64 `json:"log_lower"`
		LogUpper    *float64 `json:"log_upper"`
		LogLogLower *float64 `json:"loglog_lower"`
		LogLogUpper *float64 `json:"loglog_upper"`
	} `json:"at_times"`
	Median    struct{ Plain, Log, LogLog expectedMedian }
	Quantiles struct{ Q25, Q75 *float64 }
	RMST      *expectedMean
	RMST35    *expectedMean `json:"rmst_tau35"`
}

type (
	expectedMedian struct{ Median, Lower, Upper *float64 }
	expectedMean   struct {
		Tau      float64
		RMST, SE *float64
	}
)

// survival checks one group against all that a reference file says of it.
func (r *reference[E]) survival(want expectedSurvival, episodes []stats.Episode, what string, failures ...stats.Ending) *stats.Survival {
	r.t.Helper()
	c := cohort(r.t, episodes)
	total, failed := 0.0, 0
	for _, e := range episodes {
		total += e.Exit - e.Entry
	}
	same(r, want.N, c.N(), what+": episodes")
	same(r, want.Events, c.Ended(failures...), what+": failures")
	same(r, want.Censored, c.N()-c.Ended(failures...), what+": censored")
	r.agree(want.TotalTime, total, "%s: time", what)

	s := stats.NewSurvival(c, failures...)
	if want.EventTable != nil {
		same(r, len(want.EventTable), len(s.Steps()), what+": steps")
	}
	for k, w := range want.EventTable {
		p := s.Steps()[k]
		failed += w.Failed
		at := fmt.Sprintf("%s, step at %v", what, w.Time)
		require.Equal(r.t, s.At(p.Time).AtRisk, p.AtRisk, at)
		r.agree(&w.Time, p.Time, "%s", at)
		same(r, w.AtRisk, p.AtRisk, at+": at risk")
		same(r, failed, p.Failures, at+": failures")
		r.agree(w.Surv, p.Estimate, "%s: survival", at)
		r.agree(w.SE, p.SE, "%s: se", at)
		r.agree(w.Hazard, p.Hazard, "%s: hazard", at)
		r.agree(w.HazardSE, p.HazardSE, "%s: se of hazard", at)
	}
	for _, w := range want.AtTimes {
		p := s.At(w.Time)
		at := fmt.Sprintf("%s at %v", what, w.Time)
		same(r, w.AtRisk, p.AtRisk, at+": at risk")
		same(r, w.Failures, p.Failures, at+": failures")
		r.agree(w.Surv, p.Estimate, "%s: survival", at)
		r.agree(w.SE, p.SE, "%s: se", at)
		r.interval(w.PlainLower, w.PlainUpper, p.Interval(stats.Plain, 0.95), at+", plain")
		r.interval(w.LogLower, w.LogUpper, p.Interval(stats.Log, 0.95), at+", log")
		r.interval(w.LogLogLower, w.LogLogUpper, p.Interval(stats.LogLog, 0.95), at+", log-log")
	}
	for transform, w := range map[stats.Transform]expectedMedian{
		stats.Plain: want.Median.Plain, stats.Log: want.Median.Log, stats.LogLog: want.Median.LogLog,
	} {
		m, i := s.Median(transform, 0.95)
		r.agree(w.Median, m, "%s: median", what)
		r.interval(w.Lower, w.Upper, i, fmt.Sprintf("%s: median, transform %d", what, transform))
	}
	for share, w := range map[float64]*float64{0.25: want.Quantiles.Q25, 0.75: want.Quantiles.Q75} {
		q, _ := s.Quantile(share, stats.LogLog, 0.95)
		r.agree(w, q, "%s: quantile %v", what, share)
	}
	for _, w := range []*expectedMean{want.RMST, want.RMST35} {
		if w != nil {
			mean, se := s.RestrictedMean(w.Tau)
			r.agree(w.RMST, mean, "%s: mean to %v", what, w.Tau)
			r.agree(w.SE, se, "%s: se of mean to %v", what, w.Tau)
		}
	}
	return s
}

func (r *reference[E]) interval(lower, upper *float64, got stats.Interval, what string) {
	r.t.Helper()
	r.agree(lower, got.Lower, "%s: lower", what)
	r.agree(upper, got.Upper, "%s: upper", what)
}

func cohort(t require.TestingT, episodes []stats.Episode) *stats.Cohort {
	c, err := stats.NewCohort(episodes)
	require.NoError(t, err)
	return c
}

// grouped reads the episodes of a file by group; time and status name columns.
func grouped(t *testing.T, name, time, status string) map[string][]stats.Episode {
	t.Helper()
	columns := table(t, name)
	groups := map[string][]stats.Episode{}
	for k, exit := range numbers(t, columns[time]) {
		e := stats.Episode{Exit: exit}
		if entry := columns["entry"]; entry != nil {
			e.Entry = numbers(t, entry[k:k+1])[0]
		}
		if columns[status][k] == "1" {
			e.Ending = fails
		}
		g := columns["group"][k]
		groups[g] = append(groups[g], e)
	}
	return groups
}

func TestSurvival_AgreesWithCurvesWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ id, file, time, status string }{
		{"km_bmt", "km_bmt.csv", "time", "status"},
		{"km_gehan", "gehan.csv", "time", "status"},
		{"km_kidney_catheter", "km_kidney.csv", "time", "status"},
		{"km_mcgilchrist", "mcgilchrist_kidney.csv", "time", "status"},
		{"km_mgus2", "mgus2.csv", "futime", "death"},
		{"km_ovarian", "ovarian.csv", "time", "status"},
	} {
		t.Run(c.id, func(t *testing.T) {
			t.Parallel()
			r := readReference[map[string]expectedSurvival](t, c.id)
			r.books(r.curves(r.Expected, grouped(t, c.file, c.time, c.status)))
		})
	}
}

// The same, with the log-rank test of the groups and, for the printed numbers
// alone, Cox's regression.
func TestSurvival_AgreesWithCurvesAndTestsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ id, file, coxGroup, coxName string }{
		{"km_aml", "aml.csv", "Nonmaintained", ""},
		{"km_lung_sex", "lung_sex.csv", "female", " sex"},
		{"km_lung_sex_ecog", "lung.csv", "", ""},
	} {
		t.Run(c.id, func(t *testing.T) {
			t.Parallel()
			r := readReference[struct {
				KM      map[string]expectedSurvival
				LogRank expectedLogRank
			}](t, c.id)
			groups := grouped(t, c.file, "time", "status")
			found := r.curves(r.Expected.KM, groups)
			test := r.logRank(r.Expected.LogRank, "log-rank", [][]*stats.Cohort{r.Expected.LogRank.cohorts(t, groups)}, fails)
			found["log-rank chi2"] = test.ChiSquared
			for k, g := range r.Expected.LogRank.Groups {
				found["expected "+g.Group] = test.Groups[k].Expected
			}
			if c.coxGroup != "" {
				f, err := stats.FitCox(lifetimes(t, c.file, group(c.coxGroup)), stats.Efron)
				require.NoError(t, err)
				found["Efron coef"+c.coxName], found["Efron se"+c.coxName] = f.Coefficients[0].Value, f.Coefficients[0].SE
			}
			r.books(found)
		})
	}
}

// curves checks every group, and gives what books print of them, by their names.
func (r *reference[E]) curves(want map[string]expectedSurvival, groups map[string][]stats.Episode) map[string]float64 {
	r.t.Helper()
	require.Len(r.t, groups, len(want))
	found := map[string]float64{}
	for g, w := range want {
		s := r.survival(w, groups[g], g, fails)
		median, i := s.Median(stats.Log, 0.95)
		found[g+" median"], found[g+" lower"], found[g+" upper"] = median, i.Lower, i.Upper
		found["median "+g], found["median "+g+" (weeks)"] = median, median
		found["grp"+g+" median"], found["grp"+g+" median lower (log)"], found["grp"+g+" median lower 95% (log)"] = median, i.Lower, i.Lower
		for _, p := range append(s.Steps(), s.At(365), s.At(547.5), s.At(730)) {
			at := "(" + strconv.FormatFloat(p.Time, 'f', -1, 64) + ")"
			log := p.Interval(stats.Log, 0.95)
			found[g+" S"+at], found["grp"+g+" S"+at] = p.Estimate, p.Estimate
			found[g+" Greenwood se"+at], found["grp"+g+" se"+at] = p.SE, p.SE
			found["grp"+g+" log lower S"+at], found["grp"+g+" log upper S"+at] = log.Lower, log.Upper
			found[g+" Nelson-Aalen H"+at] = p.Hazard
		}
		found["RMST "+g+" to 35"], found["se RMST "+g+" to 35"] = s.RestrictedMean(35)
		found["RMST grp "+g], found["se RMST grp "+g] = s.RestrictedMean(730)
	}
	// The book writes these two without the hyphen.
	found["median AML high"], found["median AML low"] = found["median AML-high"], found["median AML-low"]
	return found
}

func TestSurvival_AgreesOnLateEntries(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		All         map[string]expectedSurvival
		Conditional map[string]expectedSurvival `json:"conditional_816"`
		LogRank     expectedLogRank
	}](t, "km_channing_left_truncated")
	all, from816 := map[string][]stats.Episode{}, map[string][]stats.Episode{}
	for g, episodes := range grouped(t, "channing.csv", "time", "status") {
		for _, e := range episodes {
			if e.Entry >= e.Exit {
				continue
			}
			all[g] = append(all[g], e)
			if e.Exit > 816 {
				e.Entry = max(e.Entry, 816)
				from816[g] = append(from816[g], e)
			}
		}
	}
	r.curves(r.Expected.All, all)
	r.curves(r.Expected.Conditional, from816)
	r.logRank(r.Expected.LogRank, "log-rank", [][]*stats.Cohort{r.Expected.LogRank.cohorts(t, all)}, fails)
	// The book's own log-rank numbers are not reproduced by any reading of its data.
	r.books(nil)
}

// The invented lines, with each way of ending told apart and the failures chosen.
var (
	lineEndings = map[string]stats.Ending{
		"in_situ": stats.Censored, "phlebitis": 1, "infiltration": 2, "occlusion": 3, "dislodgement": 4, "infection": 5,
		"completed": 6, "routine": 7, "other": 8,
	}
	lineFailures = []stats.Ending{1, 2, 3, 4, 5}
)

// lines groups the invented lines.
func lines(t *testing.T, by func(episode) string) map[string][]stats.Episode {
	t.Helper()
	groups := map[string][]stats.Episode{}
	for _, e := range episodes(t) {
		require.Contains(t, lineEndings, e.reason)
		groups[by(e)] = append(groups[by(e)], stats.Episode{Exit: e.hours(), Ending: lineEndings[e.reason]})
	}
	return groups
}

func bySite(e episode) string  { return e.site }
func byGauge(e episode) string { return strconv.Itoa(e.gauge) }

func TestSurvival_AgreesOnEpisodes(t *testing.T) {
	t.Parallel()
	for id, by := range map[string]func(episode) string{
		"episodes_small_km_all":   func(episode) string { return "all" },
		"episodes_small_km_site":  bySite,
		"episodes_small_km_gauge": byGauge,
	} {
		t.Run(id, func(t *testing.T) {
			t.Parallel()
			r := readReference[map[string]expectedSurvival](t, id)
			groups := lines(t, by)
			require.Len(t, groups, len(r.Expected))
			for g, w := range r.Expected {
				r.survival(w, groups[g], g, lineFailures...)
			}
		})
	}
}
