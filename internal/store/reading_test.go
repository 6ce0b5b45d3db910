package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

func TestWardPatients_HereOrGoneWithALineIn(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("stays", 0, "north"))
	w.must(w.admission("moves", 0, "north"), w.entry("moves", "", 2, line.Transfer{Ward: "south", Bed: "7"}))
	w.must(w.admission("leaves", 0, "north"), w.placement("leaves", "l1", 1), w.removal("leaves", "l1", 3), w.entry("leaves", "", 4, line.Discharge{}))
	w.must(w.admission("forgets", 0, "north"), w.placement("forgets", "l2", 1), w.entry("forgets", "", 4, line.Discharge{}))
	wards, err := w.WardKeys(t.Context())
	require.NoError(t, err)
	in := func(id line.ID) []line.ID {
		list, err := w.WardPatients(t.Context(), wards[id])
		require.NoError(t, err)
		var ids []line.ID
		for _, p := range list {
			ids = append(ids, p.ID)
		}
		return ids
	}
	require.Equal(t, []line.ID{"stays", "forgets"}, in("north"))
	require.Equal(t, []line.ID{"moves"}, in("south"))
	none, err := w.WardPatients(t.Context(), 0)
	require.NoError(t, err)
	require.Empty(t, none)
	w.must(w.removal("forgets", "l2", 9))
	require.Equal(t, []line.ID{"stays"}, in("north"))

	p, err := w.Patient(t.Context(), "moves")
	require.NoError(t, err)
	require.Equal(t, "7", p.Bed)
	require.Equal(t, "R-moves", p.Reference, "of the admission")
	list, err := w.PatientsByReference(t.Context(), "R-moves")
	require.NoError(t, err)
	require.Equal(t, []line.Patient{p}, list)
	same, err := w.PatientByKey(t.Context(), p.Key)
	require.NoError(t, err)
	require.Equal(t, p, same)
}

func TestCandidates_AreThoseWhoMayHaveHadALine(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	const day = 24.0
	w.clock.set(1.45 * day)
	w.must(w.admission("prompt", 0, "north"), w.placement("prompt", "l2", 1), w.removal("prompt", "l2", 1.45*day))
	w.must(w.admission("late", 0, "north"), w.placement("late", "l3", 1))
	w.clock.set(2 * day)
	w.must(w.admission("open", 0, "north"), w.placement("open", "l1", 1.9*day))
	w.clock.set(10 * day)
	w.must(w.removal("late", "l3", day))
	w.clock.set(40 * day)
	w.must(w.admission("tried", 0, "north"), w.entry("tried", "l4", 20*day, line.Occasion{Outcome: line.WithoutLine}))
	w.must(w.admission("none", 0, "north"))
	for _, c := range []struct {
		name        string
		from, until float64
		want        []line.ID
	}{
		{"before anything", -5 * day, -1 * day, nil},
		{"while both were in", 5, 5, []line.ID{"prompt", "late"}},
		{"in the watch of a site, two days after", 3.4 * day, 3.4 * day, []line.ID{"open", "prompt", "late"}},
		{"after the watch; the other removal was not recorded yet", 9 * day, 9 * day, []line.ID{"open", "late"}},
		{"after that was recorded, and its watch", 15 * day, 16 * day, []line.ID{"open"}},
		{"the day after an occasion without a line", 21 * day, 21 * day, []line.ID{"open", "tried"}},
		{"a month in one", 0, 30 * day, []line.ID{"open", "prompt", "late", "tried"}},
		{"much later", 60 * day, 70 * day, []line.ID{"open"}},
	} {
		keys, err := w.Candidates(t.Context(), at(c.from), at(c.until))
		require.NoError(t, err)
		var got []line.ID
		for _, key := range keys {
			p, err := w.PatientByKey(t.Context(), key)
			require.NoError(t, err)
			got = append(got, p.ID)
		}
		require.ElementsMatch(t, c.want, got, c.name)
	}
}

// A line that stayed in for years by the record has no row for each day.
func TestCandidates_OfAClaimOfYears(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.placement("p1", "l1", -24*3000), w.removal("p1", "l1", 1))
	for _, hours := range []float64{-24 * 3000, -24 * 10, 24 * 30} {
		keys, err := w.Candidates(t.Context(), at(hours), at(hours))
		require.NoError(t, err)
		require.Equal(t, []line.Key{w.key("p1")}, keys)
	}
	requireRebuilt(t, w)
}

func TestLines_InOrderPlacedWithTheWardTheyEndedIn(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"), w.placement("p1", "l2", 3), w.placement("p1", "l1", 1))
	w.must(w.removal("p1", "l1", 5))
	w.must(w.entry("p1", "", 5, line.Transfer{Ward: "south"}))
	wards, err := w.WardKeys(t.Context())
	require.NoError(t, err)
	lines, err := w.Lines(t.Context(), w.key("p1"))
	require.NoError(t, err)
	require.Len(t, lines, 2)
	require.Equal(t, line.ID("l1"), lines[0].ID)
	require.Equal(t, wards["north"], lines[0].Ward)
	require.Equal(t, wards["south"], lines[1].Ward)
	require.Equal(t, line.Far, lines[1].Out)

	byKey, err := w.LinesByKey(t.Context(), []line.Key{lines[0].Key, lines[1].Key, 99})
	require.NoError(t, err)
	require.Equal(t, map[line.Key]line.Current{lines[0].Key: lines[0], lines[1].Key: lines[1]}, byKey)

	var seen []line.Key
	require.NoError(t, w.MarksOf(t.Context(), []line.Key{w.key("p1"), 99}, 0, func(key line.Key, marks []line.Mark) error {
		seen = append(seen, key)
		if key != 99 {
			require.Equal(t, w.marks("p1", 0), marks)
		}
		return nil
	}))
	require.Equal(t, []line.Key{w.key("p1"), 99}, seen)
}

func TestLineOf_IsTheLineAndItsPatient(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"), w.placement("p1", "l1", 1))
	current, patient, err := w.LineOf(t.Context(), "l1")
	require.NoError(t, err)
	wantLine, err := w.Line(t.Context(), "l1")
	require.NoError(t, err)
	wantPatient, err := w.Patient(t.Context(), "p1")
	require.NoError(t, err)
	require.Equal(t, wantLine, current)
	require.Equal(t, wantPatient, patient)
	_, _, err = w.LineOf(t.Context(), "l2")
	require.True(t, fault.Is(err, fault.NotFound), "%v", err)
}

func TestRecordedAt(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	id := w.must(w.admission("p1", 0, "north"))
	want, err := w.Entry(t.Context(), id)
	require.NoError(t, err)
	at, ok, err := w.RecordedAt(t.Context(), id)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, want.Entry.Recorded, at)
	_, ok, err = w.RecordedAt(t.Context(), "none")
	require.NoError(t, err)
	require.False(t, ok)
}
