package store_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

func TestAppendSealed_TheWholeRecordMovesHouse(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.ofHouse(line.Ward{Ward: "north", Name: "North", Zone: "Europe/London"}))
	w.must(w.course(1, 0)...)
	root := w.must(w.course(2, 10)...)
	w.must(w.correction(root, root, w.entry("p2", "", 9, line.Admission{Ward: "south", Bed: "9", Reference: "R-other"})))
	w.must(w.entry("p1", "", 300, line.Erasure{Why: "asked for"}))
	given := sealed(t, w)

	other := newWard(t)
	other.clock.set(5000)
	receipts, err := other.AppendSealed(t.Context(), given)
	require.NoError(t, err)
	require.Equal(t, bytesOf(given), bytesOf(sealed(t, other)))
	for _, subject := range []line.ID{"p1", "p2"} {
		theirs, err := other.Patient(t.Context(), subject)
		require.NoError(t, err)
		ours, err := w.Patient(t.Context(), subject)
		require.NoError(t, err)
		require.Equal(t, ours, theirs)
		require.Equal(t, w.marks(subject, 0), other.marks(subject, 0), "also of what was erased")
	}
	requireRebuilt(t, other)

	twice, err := other.AppendSealed(t.Context(), given)
	require.NoError(t, err)
	for i := range twice {
		require.True(t, twice[i].Again)
		twice[i].Again = false
	}
	require.Equal(t, receipts, twice)
	require.Equal(t, bytesOf(given), bytesOf(sealed(t, other)))
}

func TestAppendSealed_KeepsUnknownFieldsAndSealsBareTexts(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	raw := `{"author":"a","body":{"bed":{"text":"7"},"later":{"b":1},"ward":"north"},"happened":"2026-03-02T12:00:00Z","id":"x1","kind":"admission","precision":"minute","subject":"p1","v":1}`
	receipts, err := w.AppendSealed(t.Context(), []line.SealedEntry{{Canonical: []byte(raw)}})
	require.NoError(t, err)
	require.Equal(t, w.clock.Now(), receipts[0].Recorded, "it was given a recorded time")
	kept := sealed(t, w)[0]
	require.Contains(t, string(kept.Canonical), `"later":{"b":1}`)
	require.Contains(t, string(kept.Canonical), `"recorded":"`+w.clock.Now().Format(time.RFC3339Nano)+`"`)
	require.NotContains(t, string(kept.Canonical), `"7"`)
	p, err := w.Patient(t.Context(), "p1")
	require.NoError(t, err)
	require.Equal(t, "7", p.Bed)

	again, err := w.AppendSealed(t.Context(), []line.SealedEntry{{Canonical: []byte(raw)}})
	require.NoError(t, err)
	require.True(t, again[0].Again)
	changed := strings.Replace(raw, `"b":1`, `"b":2`, 1)
	_, err = w.AppendSealed(t.Context(), []line.SealedEntry{{Canonical: []byte(changed)}})
	require.True(t, fault.Is(err, fault.Conflict), "%v", err)
}

func TestAppendSealed_RefusesWhatWasTamperedWith(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.course(1, 0)...)
	given := sealed(t, w)
	for name, spoil := range map[string]func(*line.SealedEntry){
		"store.text-hash": func(e *line.SealedEntry) {
			e.Texts = []line.Sealed{{Hash: e.Texts[0].Hash, Salt: e.Texts[0].Salt, Text: "x"}}
		},
		"store.unreadable-entry": func(e *line.SealedEntry) { e.Canonical = e.Canonical[:20] },
		"fault.fields": func(e *line.SealedEntry) {
			e.Canonical = []byte(strings.Replace(string(e.Canonical), `"author":"nurse-1"`, `"author":""`, 1))
		},
	} {
		other := newWard(t)
		spoilt := []line.SealedEntry{given[1], given[0]}
		spoil(&spoilt[1])
		_, err := other.AppendSealed(t.Context(), spoilt)
		var f *fault.Error
		require.ErrorAs(t, err, &f)
		require.Equal(t, name, f.Key)
		require.Equal(t, fault.Invalid, f.Kind)
		require.Empty(t, sealed(t, other), "all or none")
	}
}

func TestAppend_AsRecordedLetsContradictionsStand(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	e := w.review("p1", "l1", 5)
	e.Recorded = noon.Add(6 * time.Hour)
	receipts, err := w.Append(t.Context(), line.Batch{Entries: []line.Entry{e}, AsRecorded: true})
	require.NoError(t, err)
	require.Equal(t, e.Recorded, receipts[0].Recorded)
	require.Len(t, line.Fold(w.marks("p1", 0)).Conflicts, 1)
	w.must(w.admission("p1", 0, "north")) // the old contradiction does not stop what is true
	w.must(w.placement("p1", "l1", 1))
	require.Empty(t, line.Fold(w.marks("p1", 0)).Conflicts)
	requireRebuilt(t, w)
}

// Records that were merged have recorded times that fall where one ends and
// the next begins.
func TestSeqBefore_AcrossMergedRecords(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.clock.set(1000)
	w.must(w.ofHouse(line.Hospital{Name: "H", Zone: "UTC"}))
	for i, hours := range []float64{10, 20, 20, 30} {
		e := w.admission(line.ID("p"+string(rune('a'+i))), 5, "north")
		e.Recorded = at(hours).Time()
		_, err := w.Append(t.Context(), line.Batch{Entries: []line.Entry{e}, AsRecorded: true})
		require.NoError(t, err)
	}
	w.clock.set(1001)
	w.must(w.admission("pz", 900, "north"))
	for _, c := range []struct {
		hours float64
		want  int64
	}{{0, 0}, {10, 0}, {11, 2}, {20, 2}, {20.1, 4}, {999, 5}, {1000.5, 5}, {1001, 5}, {1002, 6}} {
		got, err := w.SeqBefore(t.Context(), at(c.hours).Time())
		require.NoError(t, err)
		require.Equal(t, c.want, got, "before hour %v", c.hours)
	}
	requireRebuilt(t, w)
}
