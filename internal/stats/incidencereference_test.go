package stats_test

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/stats"
)

// expectedCause is one cause's incidence over time as the reference files give
// it.
type expectedCause []struct {
	Time, CIF *float64
	Delta     *float64 `json:"se_greenwood"`
	Aalen     *float64 `json:"se_cmprsk"` // null also where that package gives none
	Lower     *float64 `json:"loglog_lower"`
	Upper     *float64 `json:"loglog_upper"`
}

// expectedIncidence is that of one group.
type expectedIncidence struct {
	N         int
	Counts    map[string]int
	Cause1    expectedCause
	Cause2    expectedCause
	Cause3    expectedCause
	EventFree []struct{ Time, Surv *float64 } `json:"event_free"`
}

func (r *reference[E]) incidence(want map[string]expectedIncidence, groups map[string][]stats.Episode) {
	r.t.Helper()
	require.Len(r.t, groups, len(want))
	for name, w := range want {
		c := cohort(r.t, groups[name])
		same(r, w.N, c.N(), name)
		same(r, w.Counts["censored"], c.Ended(stats.Censored), name)
		delta, aalen := stats.NewIncidence(c, stats.DeltaMethod), stats.NewIncidence(c, stats.AalenType)
		for k, points := range []expectedCause{w.Cause1, w.Cause2, w.Cause3} {
			cause := stats.Ending(k + 1)
			same(r, w.Counts["cause"+strconv.Itoa(k+1)], c.Ended(cause), name)
			require.True(r.t, len(points) > 0 || k == 2)
			for _, p := range points {
				share := delta.At(cause, *p.Time)
				i := share.Interval(stats.LogLog, 0.95)
				r.agree(p.CIF, share.Estimate, "%s: cause %d at %v", name, cause, *p.Time)
				r.agree(p.Delta, share.SE, "%s: error of cause %d at %v", name, cause, *p.Time)
				r.agree(p.Lower, i.Lower, "%s: lower of cause %d at %v", name, cause, *p.Time)
				r.agree(p.Upper, i.Upper, "%s: upper of cause %d at %v", name, cause, *p.Time)
				if p.Aalen != nil {
					r.agree(p.Aalen, aalen.At(cause, *p.Time).SE, "%s: Aalen's error of cause %d at %v", name, cause, *p.Time)
				}
			}
		}
		require.NotEmpty(r.t, w.EventFree)
		for _, p := range w.EventFree {
			r.agree(p.Surv, delta.EventFree(*p.Time), "%s: event-free at %v", name, *p.Time)
		}
	}
}

// endings reads a file of times and causes into groups, all in one if no column
// is named.
func endings(t *testing.T, name, group string) map[string][]stats.Episode {
	t.Helper()
	columns := table(t, name)
	groups := map[string][]stats.Episode{}
	for k, exit := range numbers(t, columns["time"]) {
		cause, err := strconv.ParseUint(columns["cause"][k], 10, 8)
		require.NoError(t, err)
		g := "all"
		if group != "" {
			g = columns[group][k]
		}
		groups[g] = append(groups[g], stats.Episode{Exit: exit, Ending: stats.Ending(cause)})
	}
	return groups
}

// Marubini & Valsecchi 1995, Analysing Survival Data from Clinical Trials, table
// 10.1; Klein & Moeschberger, section 1.3; Scrucca et al. 2010; and the monoclonal
// gammopathy data of the survival package: worked out with R's survival and
// cmprsk, as the files say.
func TestIncidence_AgreesWithWhatIsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	type expected struct{ CIF map[string]expectedIncidence }
	for _, c := range []struct{ id, file, group string }{
		{"cif_marubini", "marubini.csv", ""},
		{"cif_bmt", "km_bmt.csv", "group"},
		{"cif_bmtcrr", "bmtcrr.csv", "group"},
	} {
		r := readReference[expected](t, c.id)
		r.incidence(r.Expected.CIF, endings(t, c.file, c.group))
	}
}

func TestIncidence_AgreesWithThePrintedTimeSpentInEachState(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		CIF  map[string]expectedIncidence
		Mean map[string]*float64 `json:"restricted_mean_years_in_state_to_240_months"`
	}](t, "cif_mgus2")
	groups := endings(t, "mgus2.csv", "group")
	r.incidence(r.Expected.CIF, groups)

	require.Len(t, r.Expected.Mean, 6)
	found := map[string]float64{"n pcm": 0, "n death first": 0, "n censored": 0}
	for name, episodes := range groups {
		c := cohort(t, episodes)
		found["n censored"] += float64(c.Ended(stats.Censored))
		found["n pcm"] += float64(c.Ended(1))
		found["n death first"] += float64(c.Ended(2))

		// The area under each curve, from its steps.
		var months [3]float64
		last, shares := 0.0, [3]float64{1, 0, 0}
		add := func(until float64) {
			for k, share := range shares {
				months[k] += share * (min(until, 240) - min(last, 240))
			}
			last = until
		}
		for _, s := range stats.NewIncidence(c, stats.DeltaMethod).Steps() {
			add(s.Time)
			shares = [3]float64{s.EventFree, s.Causes[0].Estimate, s.Causes[1].Estimate}
		}
		add(240)
		for k, state := range []struct{ reference, printed string }{{"(s0)", "(s0)"}, {"1", "pcm"}, {"2", "death"}} {
			r.agree(r.Expected.Mean["group="+name+", "+state.reference], months[k]/12, "%s, %s", name, state.reference)
			found["RM "+name+" "+state.printed] = months[k] / 12
		}
	}
	r.books(found)
}

// removals groups the invented episodes, those still in situ being censored.
func removals(t *testing.T, group func(episode) string, cause func(episode) stats.Ending) map[string][]stats.Episode {
	groups := map[string][]stats.Episode{}
	for _, e := range episodes(t) {
		ending := stats.Censored
		if !e.inSitu {
			ending = cause(e)
		}
		groups[group(e)] = append(groups[group(e)], stats.Episode{Exit: e.hours(), Ending: ending})
	}
	return groups
}

func phlebitisOrNot(e episode) stats.Ending {
	if e.reason == "phlebitis" {
		return 1
	}
	return 2
}

func everyone(episode) string { return "all" }
func byWard(e episode) string { return e.ward }

func TestIncidence_AgreesOnEpisodes(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Overall map[string]expectedIncidence
		BySite  map[string]expectedIncidence `json:"by_site"`
		ByWard  map[string]expectedIncidence `json:"by_ward"`
		Three   map[string]expectedIncidence `json:"three_causes"`
	}](t, "episodes_small_cif")
	r.incidence(r.Expected.Overall, removals(t, everyone, phlebitisOrNot))
	r.incidence(r.Expected.BySite, removals(t, bySite, phlebitisOrNot))
	r.incidence(r.Expected.ByWard, removals(t, byWard, phlebitisOrNot))
	require.NotEmpty(t, r.Expected.Three["all"].Cause3)
	r.incidence(r.Expected.Three, removals(t, everyone, func(e episode) stats.Ending {
		switch {
		case e.reason == "phlebitis":
			return 1
		case e.failed():
			return 2
		}
		return 3
	}))
}
