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
	r.gray(r.Expected.Stratified, strata)
}

func TestGray_AgreesOnEpisodes(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Site expectedGray `json:"gray_by_site"`
		Ward expectedGray `json:"gray_by_ward"`
	}](t, "episodes_small_cif")
	r.gray(r.Expected.Site, [][]*stats.Cohort{cohorts(t, removals(t, ofSite, phlebitisOrNot))})
	r.gray(r.Expected.Ward, [][]*stats.Cohort{cohorts(t, removals(t, ofWard, phlebitisOrNot))})
}
