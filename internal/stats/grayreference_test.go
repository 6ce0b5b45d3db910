package stats_test

import (
	"maps"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/stats"
)

// expectedGray is Gray's test for one cause as the reference files give it.
type expectedGray []struct {
	Cause    string
	Chisq, P *float64
	DF       int
}

// gray checks the test for every cause and returns it, of the first cause first.
func (r *reference[E]) gray(want expectedGray, strata [][]*stats.Cohort) []stats.ChiSquaredTest {
	r.t.Helper()
	require.NotEmpty(r.t, want)
	var tests []stats.ChiSquaredTest
	for _, w := range want {
		cause, err := strconv.ParseUint(w.Cause, 10, 8)
		require.NoError(r.t, err)
		got, err := stats.WeightedGray(0, strata, stats.Ending(cause))
		require.NoError(r.t, err)
		r.agree(w.Chisq, got.ChiSquared, "cause %d", cause)
		r.agree(w.P, got.P, "p of cause %d", cause)
		same(r, w.DF, got.DF, w.Cause)
		tests = append(tests, got)
	}
	return tests
}

// cohorts are those of groups in the order of their names.
func cohorts(t require.TestingT, groups map[string][]stats.Episode) []*stats.Cohort {
	var out []*stats.Cohort
	for _, name := range slices.Sorted(maps.Keys(groups)) {
		out = append(out, cohort(t, groups[name]))
	}
	return out
}

func TestGray_AgreesWithWhatIsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ id, file string }{{"cif_bmt", "km_bmt.csv"}, {"cif_mgus2", "mgus2.csv"}} {
		r := readReference[struct{ Gray expectedGray }](t, c.id)
		r.gray(r.Expected.Gray, [][]*stats.Cohort{cohorts(t, endings(t, c.file, "group"))})
	}

	r := readReference[struct {
		Gray       expectedGray
		Stratified expectedGray `json:"gray_stratified_by_phase"`
		ByPhase    expectedGray `json:"gray_by_phase_4_groups"`
	}](t, "cif_bmtcrr")
	disease := r.gray(r.Expected.Gray, [][]*stats.Cohort{cohorts(t, endings(t, "bmtcrr.csv", "group"))})
	r.gray(r.Expected.ByPhase, [][]*stats.Cohort{cohorts(t, endings(t, "bmtcrr.csv", "phase"))})
	r.books(map[string]float64{
		"Gray chi2 cause 1": disease[0].ChiSquared, "Gray p cause 1": disease[0].P,
		"Gray chi2 cause 2": disease[1].ChiSquared, "Gray p cause 2": disease[1].P,
	})
	r.gray(r.Expected.Stratified, diseaseByPhase(t))
}

// diseaseByPhase is the groups of one file in each of the four phases.
func diseaseByPhase(t *testing.T) [][]*stats.Cohort {
	t.Helper()
	columns := table(t, "bmtcrr.csv")
	phases := map[string]map[string][]stats.Episode{}
	for k, exit := range numbers(t, columns["time"]) {
		cause := stats.Ending(numbers(t, columns["cause"][k:k+1])[0])
		phase, group := columns["phase"][k], columns["group"][k]
		if phases[phase] == nil {
			phases[phase] = map[string][]stats.Episode{}
		}
		phases[phase][group] = append(phases[phase][group], stats.Episode{Exit: exit, Ending: cause})
	}
	var strata [][]*stats.Cohort
	for _, groups := range phases {
		strata = append(strata, cohorts(t, groups))
	}
	require.Len(t, strata, 4)
	return strata
}

// Of weights the files say nothing; these were worked out from the same data with
// R 4.2.2, cmprsk 2.2-11: cuminc(time, cause, group, strata, rho).
func TestWeightedGray_AgreesWithWhatIsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	marrow := cohorts(t, endings(t, "km_bmt.csv", "group"))
	phases := cohorts(t, endings(t, "bmtcrr.csv", "phase"))
	for _, c := range []struct {
		name        string
		rho         float64
		strata      [][]*stats.Cohort
		first, then float64 // chi-squared of cause 1 and of cause 2
	}{
		{"marrow", 0.5, [][]*stats.Cohort{marrow}, 12.636201725655646, 0.111538300995416},
		{"marrow", 1, [][]*stats.Cohort{marrow}, 13.3006915518713065, 0.0976122816237976},
		{"phase", 1, [][]*stats.Cohort{phases}, 15.78585910378603074, 0.93314208528410081},
		{"disease by phase", 1, diseaseByPhase(t), 3.8823988636990059, 0.0786804761228147},
	} {
		for cause, want := range map[stats.Ending]float64{1: c.first, 2: c.then} {
			got, err := stats.WeightedGray(c.rho, c.strata, cause)
			require.NoError(t, err)
			require.InDelta(t, want, got.ChiSquared, 1e-9, "%s, rho %v, cause %d", c.name, c.rho, cause)
		}
	}
}

func TestGray_AgreesOnEpisodes(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Site expectedGray `json:"gray_by_site"`
		Ward expectedGray `json:"gray_by_ward"`
	}](t, "episodes_small_cif")
	r.gray(r.Expected.Site, [][]*stats.Cohort{cohorts(t, removals(t, bySite, phlebitisOrNot))})
	r.gray(r.Expected.Ward, [][]*stats.Cohort{cohorts(t, removals(t, byWard, phlebitisOrNot))})
}
