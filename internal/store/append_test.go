package store_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
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
	_, err := w.Append(t.Context(), line.Batch{Entries: []line.Entry{{ID: "bare", Kind: line.KindReview}}})
	require.True(t, fault.Is(err, fault.Invalid), "%v", err)
}

func TestAppend_RefusesWhatContradictsTheRecord(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, key string
		entry     func(*ward) line.Entry
	}{
		{"a review before the placement", "store.before-placement", func(w *ward) line.Entry { return w.review("p1", "l1", 0.5) }},
		{"a review after the removal", "store.after-removal", func(w *ward) line.Entry { return w.review("p1", "l1", 31) }},
		{"a review of a line nobody placed", "store.unknown-line", func(w *ward) line.Entry { return w.review("p1", "l9", 8) }},
		{"a review of another patient's line", "store.unknown-line", func(w *ward) line.Entry { return w.review("p2", "l1", 8) }},
		{"a second removal", "store.second-removal", func(w *ward) line.Entry { return w.removal("p1", "l1", 40) }},
		{"a second placement of the line", "store.second-placement", func(w *ward) line.Entry { return w.placement("p1", "l1", 2) }},
		{"a placement of the line in another patient", "store.second-placement", func(w *ward) line.Entry { return w.placement("p2", "l1", 2) }},
		{"a site check while the line is in", "store.before-removal", func(w *ward) line.Entry { return w.entry("p1", "l1", 20, line.SiteCheck{}) }},
		{"a transfer from no ward", "store.not-in-ward", func(w *ward) line.Entry { return w.entry("p2", "", 5, line.Transfer{Ward: "south"}) }},
		{"a discharge from no ward", "store.not-in-ward", func(w *ward) line.Entry { return w.entry("p2", "", 5, line.Discharge{}) }},
		{"a discharge before the admission", "store.not-in-ward", func(w *ward) line.Entry { return w.entry("p1", "", -5, line.Discharge{}) }},
		{"an admission while in a ward", "store.already-in-ward", func(w *ward) line.Entry { return w.admission("p1", 5, "south") }},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			w := newWard(t)
			w.must(w.admission("p1", 0, "north"), w.placement("p1", "l1", 1))
			w.must(w.removal("p1", "l1", 30))
			f := w.refused(c.key, c.entry(w))
			require.Equal(t, fault.Conflict, f.Kind)
			require.Contains(t, f.Args, "happened")
			requireRebuilt(t, w)
		})
	}
}

func TestAppend_JudgesEntriesTogether(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	admitted := w.must(w.admission("p1", 0, "north"), w.placement("p1", "l1", 1))
	discharge := w.entry("p1", "", 40, line.Discharge{LeftIn: []line.ID{"l2"}})
	w.must(discharge, w.removal("p1", "l1", 39), w.placement("p1", "l2", 38))

	// The admission moves to after the placement's discharge only if both move.
	late := w.admission("p1", 50, "north")
	w.refused("store.not-in-ward", w.correction(admitted, admitted, late))
	gone := discharge
	gone.Happened = at(60)
	w.must(w.correction(admitted, admitted, late), w.correction(discharge.ID, discharge.ID, gone))
	p, err := w.Patient(t.Context(), "p1")
	require.NoError(t, err)
	require.Equal(t, at(50), p.Admitted)
	require.Zero(t, p.Ward)
	require.NotZero(t, p.LastWard)
	requireRebuilt(t, w)
}

func TestAppend_TwiceIsOnce(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	a, p := w.admission("p1", 0, "north"), w.placement("p1", "l1", 1)
	first, err := w.Append(t.Context(), line.Batch{Entries: []line.Entry{a, p}})
	require.NoError(t, err)
	w.clock.set(1001)
	again, err := w.Append(t.Context(), line.Batch{Entries: []line.Entry{a, p}})
	require.NoError(t, err)
	for i := range again {
		require.True(t, again[i].Again)
		again[i].Again = false
	}
	require.Equal(t, first, again)

	other := a
	other.Body = line.Admission{Ward: "north", Bed: "5", Reference: "R-p1"}
	require.Equal(t, fault.Conflict, w.refused("store.same-id", other).Kind)
	author := a
	author.Author = "nurse-2"
	w.refused("store.same-id", author)
	requireRebuilt(t, w)
}

func TestAppend_RecordedNeverFalls(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.clock.now = time.Date(2026, 5, 1, 8, 0, 0, 123_456_789, time.UTC)
	one, err := w.Append(t.Context(), line.Batch{Entries: []line.Entry{w.admission("p1", 0, "north")}})
	require.NoError(t, err)
	require.Equal(t, time.Date(2026, 5, 1, 8, 0, 0, 123e6, time.UTC), one[0].Recorded, "to the millisecond")
	w.clock.now = w.clock.now.Add(-time.Hour)
	two, err := w.Append(t.Context(), line.Batch{Entries: []line.Entry{w.placement("p1", "l1", 1)}})
	require.NoError(t, err)
	require.Equal(t, one[0].Recorded, two[0].Recorded, "the clock was set back")
	require.Equal(t, one[0].Seq+1, two[0].Seq)

	got, err := w.Entry(t.Context(), two[0].ID)
	require.NoError(t, err)
	require.Equal(t, two[0].Recorded, got.Entry.Recorded, "it stands in the canonical bytes")
	require.NotContains(t, string(sealed(t, w)[1].Canonical), "0001-02-03")
}

func TestAppend_TextsStandApart(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"))
	for _, e := range sealed(t, w) {
		require.NotContains(t, string(e.Canonical), "R-p1")
		require.Len(t, e.Texts, 2)
	}
}

func TestCorrection_TakesThePlaceOfItsRoot(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"))
	p := w.placement("p1", "l1", 1)
	root := w.must(p)
	w.must(w.review("p1", "l1", 8))

	fixed := p
	fixed.Body = line.Occasion{Outcome: line.WithLine, Site: line.HandDorsum, Side: line.Right, Gauge: 22}
	c := w.must(w.correction(root, root, fixed))
	l, err := w.Line(t.Context(), "l1")
	require.NoError(t, err)
	require.Equal(t, line.HandDorsum, l.Site)

	stale := w.correction(root, root, p)
	f := w.refused("store.correction-stale", stale)
	require.Contains(t, f.Args, string(c))
	w.refused("store.correction-stale", w.void("p1", root, root))
	w.refused("store.unknown-line", w.void("p1", root, c)) // the review would hang in the air

	records, err := w.History(t.Context(), "p1")
	require.NoError(t, err)
	require.Equal(t, c, records[1].Replaced)
	require.Equal(t, root, records[3].Root)
	require.Empty(t, records[3].Replaced)
	one, err := w.Entry(t.Context(), root)
	require.NoError(t, err)
	require.Equal(t, c, one.Replaced)

	then, now := w.marks("p1", 3), w.marks("p1", 0)
	require.Equal(t, line.Gauge(20), line.Fold(then).Lines[0].Placement.Gauge, "as known before the correction")
	placed := line.Fold(now).Lines[0].Placement
	require.Equal(t, line.Gauge(22), placed.Gauge)
	require.EqualValues(t, 2, placed.Seq, "the root's place")
	require.EqualValues(t, 4, placed.Known)
	requireRebuilt(t, w)
}

func TestCorrection_RefusesWhatItCannotMean(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	root := w.must(w.admission("p1", 0, "north"))
	f := w.refused("fault.fields", w.correction("nothing", "nothing", w.admission("p1", 0, "south")))
	require.Equal(t, "store.root-unknown", f.Fields["root"].Key)
	f = w.refused("fault.fields", w.correction(root, root, w.placement("p1", "l1", 1)))
	require.Equal(t, "store.kind-changed", f.Fields["replacement.kind"].Key)
	c := w.must(w.correction(root, root, w.admission("p1", 0, "south")))
	f = w.refused("fault.fields", w.correction(c, c, w.admission("p1", 0, "north")))
	require.Equal(t, "store.root-unknown", f.Fields["root"].Key, "the root is meant, not a correction of it")
}

func TestCorrection_OfAnOccasionTakesItsEntriesAlong(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"))
	w.must(w.admission("p2", 0, "south"))
	p := w.placement("p1", "l1", 1)
	root := w.must(p)
	review := w.must(w.review("p1", "l1", 8))
	moved := p
	moved.Subject = "p2"
	c := w.must(w.correction(root, root, moved))

	require.Empty(t, line.Fold(w.marks("p1", 0)).Lines)
	lines := line.Fold(w.marks("p2", 0)).Lines
	require.Len(t, lines, 1)
	require.Len(t, lines[0].Reviews, 1)
	require.Len(t, line.Fold(w.marks("p1", 4)).Lines[0].Reviews, 1, "as known before")
	require.Empty(t, line.Fold(w.marks("p2", 4)).Lines)
	l, err := w.Line(t.Context(), "l1")
	require.NoError(t, err)
	require.Equal(t, line.ID("p2"), l.SubjectID)

	// A review that names the patient of before, sent late, follows too; so
	// does a correction of the one that moved.
	w.must(w.review("p1", "l1", 9))
	fixed := w.review("p1", "l1", 10)
	w.must(w.correction(review, review, fixed))
	require.Len(t, line.Fold(w.marks("p2", 0)).Lines[0].Reviews, 2)
	require.Empty(t, line.Fold(w.marks("p1", 0)).Conflicts)
	requireRebuilt(t, w)

	back := p
	w.must(w.correction(root, c, back))
	require.Len(t, line.Fold(w.marks("p1", 0)).Lines[0].Reviews, 2)
	require.Empty(t, line.Fold(w.marks("p2", 0)).Lines)
	for _, subject := range []line.ID{"p1", "p2"} {
		records, err := w.History(t.Context(), subject)
		require.NoError(t, err)
		require.Len(t, records, 7, "both patients' histories show what was moved")
	}
	requireRebuilt(t, w)
}

func TestVoid_WithdrawsAndACorrectionRestores(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"))
	p := w.placement("p1", "l1", 1)
	root := w.must(p)
	v := w.must(w.void("p1", root, root))
	_, err := w.Line(t.Context(), "l1")
	require.True(t, fault.Is(err, fault.NotFound), "%v", err)
	keys, err := w.Candidates(t.Context(), at(1), at(2))
	require.NoError(t, err)
	require.Equal(t, []line.Key{w.key("p1")}, keys, "it is still looked for, as known before")
	requireRebuilt(t, w)

	w.must(w.correction(root, v, p))
	_, err = w.Line(t.Context(), "l1")
	require.NoError(t, err)
	requireRebuilt(t, w)

	// Withdrawn again and restored in another patient: both show the whole.
	c, err := w.Entry(t.Context(), root)
	require.NoError(t, err)
	last, err := w.History(t.Context(), "p1")
	require.NoError(t, err)
	require.Equal(t, v, c.Replaced)
	second := w.must(w.void("p1", root, last[len(last)-1].Entry.ID))
	w.must(w.admission("p2", 0, "south"))
	p.Subject = "p2"
	w.must(w.correction(root, second, p))
	theirs, err := w.History(t.Context(), "p2")
	require.NoError(t, err)
	require.Len(t, theirs, 6)
	require.Equal(t, root, theirs[0].Entry.ID)
	requireRebuilt(t, w)
}

func TestAppend_AFullDiskRefusesAndRecovers(t *testing.T) {
	t.Parallel()
	s := openFile(t, freshFile(t), store.Options{})
	w := &ward{record: s, t: t}
	store.LimitPages(t, s, 1)
	var err error
	n := 0
	for ; err == nil && n < 1000; n++ {
		_, err = w.Append(t.Context(), line.Batch{Entries: w.course(n, 0)})
	}
	requireFault(t, err, fault.Busy, "store.disk-full")
	require.NoError(t, s.Check(t.Context()))
	store.LimitPages(t, s, 1<<30)
	w.must(w.course(n, 0)...)
	require.Len(t, sealed(t, s), 15*n)
	requireRebuilt(t, w)
}

func TestErasure_SparesWhatMovedOnToAnotherPatient(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"))
	w.must(w.admission("p2", 0, "south"))
	p := w.placement("p1", "l1", 1)
	w.must(p)
	review := w.must(w.review("p1", "l1", 8))
	moved := p
	moved.Subject = "p2"
	w.must(w.correction(p.ID, p.ID, moved))
	w.must(w.entry("p1", "", 9, line.Erasure{Why: "asked for"}))
	rec, err := w.Entry(t.Context(), review)
	require.NoError(t, err)
	require.Equal(t, line.Text("seen"), rec.Entry.Body.(line.Review).Note)
	w.must(w.entry("p2", "", 9, line.Erasure{Why: "asked for"}))
	rec, err = w.Entry(t.Context(), review)
	require.NoError(t, err)
	require.Empty(t, rec.Entry.Body.(line.Review).Note)
	requireRebuilt(t, w)
}

func TestErasure_DeletesTextsAndLeavesTheRest(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	a := w.admission("p1", 0, "north")
	w.must(a, w.entry("p1", "l1", 1, line.Occasion{
		Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Operator: line.Operator{Written: "J. Q."}, Note: "a note",
	}))
	w.must(w.admission("p2", 0, "north"))
	marks := w.marks("p1", 0)
	e := w.must(w.entry("p1", "", 3, line.Erasure{Why: "asked for"}))

	p, err := w.Patient(t.Context(), "p1")
	require.NoError(t, err)
	require.True(t, p.Erased)
	require.Empty(t, p.Reference)
	require.Empty(t, p.Bed)
	require.Equal(t, marks, w.marks("p1", 0))
	for _, s := range sealed(t, w) {
		for _, text := range s.Texts {
			require.NotContains(t, []string{"R-p1", "a note", "J. Q."}, text.Text)
		}
	}
	other, err := w.Patient(t.Context(), "p2")
	require.NoError(t, err)
	require.Equal(t, "R-p2", other.Reference)
	f := w.refused("fault.fields", w.void("p1", e, e))
	require.Equal(t, "store.erasure-final", f.Fields["root"].Key)
	again, err := w.Append(t.Context(), line.Batch{Entries: []line.Entry{a}})
	require.NoError(t, err)
	require.True(t, again[0].Again, "sent once more after the erasure")
	requireRebuilt(t, w)
}

func TestAppend_ManyAtOnce(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"), w.placement("p1", "l1", 1))
	const people, each = 20, 10
	entries := make([]line.Entry, people*each)
	for i := range entries {
		entries[i] = w.review("p1", "l1", 2)
	}
	receipts := make([]line.Receipt, len(entries))
	var all sync.WaitGroup
	for p := range people {
		all.Go(func() {
			for i := p * each; i < (p+1)*each; i++ {
				batch := line.Batch{Entries: []line.Entry{entries[i]}}
				r, err := w.Append(context.Background(), batch)
				if err != nil {
					t.Error(err)
					return
				}
				receipts[i] = r[0]
				// One that is refused, between those that are not.
				batch.Entries[0].ID = "bad-" + batch.Entries[0].ID
				batch.Entries[0].Line = "l9"
				if _, err := w.Append(context.Background(), batch); !fault.Is(err, fault.Conflict) {
					t.Errorf("not refused: %v", err)
				}
			}
		})
	}
	all.Wait()
	seen := map[int64]bool{}
	for _, r := range receipts {
		seen[r.Seq] = true
	}
	require.Len(t, seen, people*each)
	last, err := w.LastSeq(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 2+people*each, last, "without a gap")
	requireRebuilt(t, w)
}

func TestAppend_HonoursTheContextAndTheClosing(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := w.Append(ctx, line.Batch{Entries: []line.Entry{w.admission("p1", 0, "north")}})
	require.ErrorIs(t, err, context.Canceled)
	last, err := w.LastSeq(t.Context())
	require.NoError(t, err)
	require.Zero(t, last)

	s := openFile(t, freshFile(t), store.Options{})
	require.NoError(t, s.Close())
	_, err = s.Append(t.Context(), line.Batch{Entries: []line.Entry{w.admission("p1", 0, "north")}})
	require.True(t, fault.Is(err, fault.Busy), "%v", err)
	require.ErrorContains(t, err, "store.closed")
}
