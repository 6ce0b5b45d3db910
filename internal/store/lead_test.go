package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
)

func TestFollowUps_AreThoseThatStandInTheStretch(t *testing.T) {
	t.Parallel()
	require.EqualValues(t, 13, line.KindFollowUp, "the index is of this kind")
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"), w.placement("p1", "l1", 1), w.removal("p1", "l1", 2))
	note := line.FollowUp{Rule: "dressing-overdue", Note: "spoke with the ward"}
	// Long after the line came out, when no day of the line is left to find it by.
	w.clock.set(400)
	w.must(w.entry("p1", "l1", 300, note), w.entry("p1", "l1", 310, note))
	moments := func(from, until float64) (list []line.Minute) {
		marks, err := w.FollowUps(t.Context(), line.Stretch{From: at(from), Until: at(until)})
		require.NoError(t, err)
		for _, m := range marks {
			list = append(list, m.At)
		}
		return list
	}
	require.Equal(t, []line.Minute{at(300), at(310)}, moments(300, 310.1))
	require.Equal(t, []line.Minute{at(300)}, moments(300, 310))
	require.Empty(t, moments(0, 299))
}

func TestWardCandidates_AreThoseOfTheWard(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.clock.set(50)
	w.must(w.admission("north-only", 0, "north"), w.placement("north-only", "l1", 1), w.removal("north-only", "l1", 40))
	w.must(w.admission("south-only", 0, "south"), w.placement("south-only", "l2", 1), w.removal("south-only", "l2", 40))
	w.must(w.admission("moves", 0, "north"), w.placement("moves", "l3", 1), w.entry("moves", "", 20, line.Transfer{Ward: "south", Bed: "7"}), w.removal("moves", "l3", 40))
	wards, err := w.WardKeys(t.Context())
	require.NoError(t, err)
	of := func(ward line.ID) (ids []line.ID) {
		keys, err := w.WardCandidates(t.Context(), wards[ward], at(10), at(30))
		require.NoError(t, err)
		for _, key := range keys {
			p, err := w.PatientByKey(t.Context(), key)
			require.NoError(t, err)
			ids = append(ids, p.ID)
		}
		return ids
	}
	require.ElementsMatch(t, []line.ID{"north-only", "moves"}, of("north"))
	require.ElementsMatch(t, []line.ID{"south-only", "moves"}, of("south"))
}
