package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

func TestAppend_ALineFromPlacementToRemoval(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"), w.placement("p1", "l1", 1))
	w.must(w.review("p1", "l1", 8))
	w.must(w.removal("p1", "l1", 30))

	p, err := w.Patient(t.Context(), "p1")
	require.NoError(t, err)
	wards, err := w.WardKeys(t.Context())
	require.NoError(t, err)
	require.Equal(t, line.Patient{
		Key: p.Key, ID: "p1", Reference: "R-p1", Ward: wards["north"], LastWard: wards["north"], Bed: "4", Admitted: at(0),
	}, p)
	l, err := w.Line(t.Context(), "l1")
	require.NoError(t, err)
	require.Equal(t, line.Current{
		Key: l.Key, ID: "l1", Subject: p.Key, SubjectID: "p1", Ward: wards["north"], Outcome: line.WithLine,
		Site: line.Forearm, Side: line.Left, Gauge: 20, Placed: at(1), Precision: line.ToMinute, Out: at(30), Reason: line.NotNeeded,
	}, l)
	history, err := w.History(t.Context(), "p1")
	require.NoError(t, err)
	require.Len(t, history, 4)
	require.Equal(t, line.Text("seen"), history[2].Entry.Body.(line.Review).Note)
	requireRebuilt(t, w)
}

func TestAppend_RefusesWhatCannotBeTrueByItself(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	e := w.placement("p1", "l1", 2000)
	e.Author = ""
	f := w.refused("fault.fields", w.admission("p1", 0, "north"), e)
	require.Equal(t, fault.Invalid, f.Kind)
	require.Equal(t, "check.future", f.Fields["happened"].Key)
	require.Equal(t, "check.author", f.Fields["author"].Key)
}
