package store_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
)

// infections is a stay whose line was moved on, came out infected, and what
// the lead found of it, corrected once.
func (w *ward) infections() {
	w.must(w.admission("p1", 0, "north"), w.placement("p1", "l1", 1), w.entry("p1", "", 20, line.Transfer{Ward: "south", Bed: "7"}))
	w.must(w.entry("p1", "l1", 40, line.Removal{Reason: line.InfectionSuspected}))
	w.clock.set(90)
	found := w.must(w.entry("p1", "l1", 60, line.InfectionOutcome{Outcome: line.InfectionConfirmed}))
	w.must(w.correction(found, found, w.entry("p1", "l1", 60, line.InfectionOutcome{Outcome: line.InfectionBloodstream})))
	w.must(w.admission("p2", 30, "south"), w.placement("p2", "l2", 31), w.entry("p2", "l2", 50, line.Review{}))
	w.must(w.entry("p2", "l2", 70, line.Removal{Reason: line.FoundGone}))
	w.must(w.placement("p2", "l3", 71))
}

func TestCourses_AreTheLinesInAtSomeMinuteOrOutInIt(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.infections()
	wards, err := w.WardKeys(t.Context())
	require.NoError(t, err)
	within := func(from, until float64) (list []line.Course) {
		require.NoError(t, w.Courses(t.Context(), line.Stretch{From: at(from), Until: at(until)}, func(c line.Course) {
			c.Line = 0
			list = append(list, c)
		}))
		slices.SortFunc(list, func(a, b line.Course) int { return int(a.Placed - b.Placed) })
		return list
	}
	common := line.Course{Precision: line.ToMinute, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull}
	first, second, third := common, common, common
	first.Ward, first.Placed, first.Out, first.Reason, first.Infection = wards["north"], at(1), at(40), line.InfectionSuspected, line.InfectionBloodstream
	second.Ward, second.Placed, second.Out, second.Reason = wards["south"], at(31), at(50), line.FoundGone
	third.Ward, third.Placed, third.Out = wards["south"], at(71), line.Far

	require.Equal(t, []line.Course{first, second, third}, within(0, 100))
	require.Equal(t, []line.Course{first, second}, within(40, 71), "one out in the first minute; one placed in the minute after")
	require.Equal(t, []line.Course{second}, within(41, 45))
	require.Equal(t, []line.Course{third}, within(500, 600), "in for all that is known")
	require.Empty(t, within(-50, 1))
}

func TestInserters_AreTheAccountsThatSucceeded(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"), w.placement("p1", "l1", 1))
	w.must(w.entry("p1", "l2", 2, line.Occasion{
		Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Attempts: []line.Attempt{
			{Operator: line.Operator{Account: "doctor-1"}, Site: line.Wrist, Gauge: 20, Failed: true, Fault: line.Spasm},
			{Operator: line.Operator{Written: "NA"}, Site: line.Forearm, Side: line.Left, Gauge: 20},
		},
	}))
	names := func() (list []line.ID) {
		by, err := w.Inserters(t.Context(), line.Stretch{From: at(0), Until: at(10)})
		require.NoError(t, err)
		for _, id := range by {
			list = append(list, id)
		}
		slices.Sort(list)
		return list
	}
	require.Equal(t, []line.ID{"doctor-1"}, names())
	w.must(w.ofHouse(line.OperatorLink{Account: "nurse-7", Written: "NA", Accepted: line.Yes}))
	require.Equal(t, []line.ID{"doctor-1", "nurse-7"}, names())
}
