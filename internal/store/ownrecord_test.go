package store_test

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// tried is an occasion without a line that kim writes down for jo.
func (w *ward) tried(id line.ID, hours float64, o line.Occasion) line.Entry {
	o.Outcome = line.WithoutLine
	e := w.entry("p1", id, hours, o)
	e.Author = "kim"
	return e
}

// ofPerson makes an entry of a person about their own record.
func (w *ward) ofPerson(who line.ID, body line.Body) line.Entry {
	e := w.entry("", "", 0, body)
	e.Author = who
	return e
}

func failedBy(who line.ID, vein line.Difficulties) []line.Attempt {
	return []line.Attempt{{Operator: line.Operator{Account: who}, Failed: true, Fault: line.VeinRolled, Site: line.Wrist, Gauge: 22, Difficulty: vein}}
}

func (w *ward) attempts(who line.ID) []line.Tried {
	w.t.Helper()
	list, err := w.Attempts(w.t.Context(), who)
	require.NoError(w.t, err)
	return list
}

func TestAttempts_TellWhatTheVeinWasLikeAndWhoStoodBy(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"))
	hard := line.SetOf(line.VeinNotVisible, line.VeinSmall)
	for i, by := range []line.Operator{{}, {Account: "sam"}, {Written: "Dr V"}, {Account: "jo"}} {
		w.must(w.tried(line.ID("l"+string(rune('1'+i))), float64(1+i), line.Occasion{Attempts: failedBy("jo", hard), Supervisor: by}))
	}
	got := w.attempts("jo")
	require.Len(t, got, 4)
	for i, want := range []struct {
		supervised bool
		by         line.ID
	}{{false, ""}, {true, "sam"}, {true, ""}, {false, "jo"}} {
		require.Equal(t, hard, got[i].Difficulty)
		require.True(t, got[i].Assessed)
		require.Equal(t, want.supervised, got[i].Supervised, "%d: nobody supervises themselves", i)
		require.Equal(t, want.by, got[i].Supervisor)
	}
	requireRebuilt(t, w)
}

func TestAttempts_WaitForTheAnswerToTheVersionThatStands(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"))
	first := w.must(w.tried("l1", 1, line.Occasion{Attempts: failedBy("jo", 0)}))
	answer := func(version line.ID, agreed line.Answer) line.ID {
		return w.must(w.ofPerson("jo", line.AttemptAgreement{Account: "jo", Version: version, Agreed: agreed}))
	}
	state := func() line.Tried { return w.attempts("jo")[0] }
	require.True(t, state().Waits())
	w.must(w.ofPerson("sam", line.AttemptAgreement{Account: "sam", Version: first, Agreed: line.Yes}))
	require.True(t, state().Waits(), "somebody else's answer")

	answer(first, line.Yes)
	require.True(t, state().Counts())
	last := answer(first, line.No)
	require.False(t, state().Counts())
	require.False(t, state().Waits())
	w.must(w.void("", last, last))
	require.True(t, state().Counts(), "a withdrawn answer leaves the one before")

	// Changed by somebody else, it waits again; by the person, it is theirs.
	changed := w.tried("l1", 1, line.Occasion{Attempts: append(failedBy("jo", 0), failedBy("jo", 0)...)})
	by := w.correction(first, first, changed)
	by.Author = "kim"
	second := w.must(by)
	require.Len(t, w.attempts("jo"), 2)
	require.Equal(t, second, state().Version)
	require.True(t, state().Waits())
	own := w.correction(first, second, changed)
	own.Author = "jo"
	w.must(own)
	require.False(t, state().ByOther)
	require.True(t, state().Counts())
	requireRebuilt(t, w)
}

func TestShares_AreReadByOneUntilTakenBack(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	share := line.RecordShare{Share: "s1", Account: "jo", With: "sam", Stopped: 2}
	first := w.must(w.ofPerson("jo", share))
	want := line.SharedRecord{ID: "s1", Entry: first, Account: "jo", With: "sam", At: at(0)}
	given, err := w.SharesBy(t.Context(), "jo")
	require.NoError(t, err)
	require.Equal(t, []line.SharedRecord{want}, given)
	received, err := w.SharesWith(t.Context(), "sam")
	require.NoError(t, err)
	require.Equal(t, []line.SharedRecord{want}, received)
	for _, other := range []line.ID{"jo", "kim", ""} {
		received, err = w.SharesWith(t.Context(), other)
		require.NoError(t, err)
		require.Empty(t, received)
	}

	w.must(w.ofPerson("kim", line.RecordShare{Share: "s1", Account: "kim", With: "sam", TakenBack: true}))
	got, err := w.Share(t.Context(), "s1")
	require.NoError(t, err)
	require.Equal(t, want, got, "somebody else takes nothing back")

	w.must(w.ofPerson("jo", line.RecordShare{Share: "s1", Account: "jo", With: "sam", TakenBack: true}))
	want.TakenBack = true
	given, err = w.SharesBy(t.Context(), "jo")
	require.NoError(t, err)
	require.Equal(t, []line.SharedRecord{want}, given)
	received, err = w.SharesWith(t.Context(), "sam")
	require.NoError(t, err)
	require.Empty(t, received)
	_, err = w.Share(t.Context(), "s9")
	require.True(t, fault.Is(err, fault.NotFound), "%v", err)
	requireRebuilt(t, w)
}

func TestHouse_LeavesOutWhatPeopleSayOfTheirOwnRecords(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.ofHouse(line.Hospital{Name: "Hospital", Zone: "Europe/London"}))
	w.must(w.ofPerson("jo", line.AttemptAgreement{Account: "jo", Version: "e1", Agreed: line.Yes}))
	w.must(w.ofPerson("jo", line.RecordShare{Share: "s1", Account: "jo", With: "sam"}))
	entries, err := w.House(t.Context())
	require.NoError(t, err)
	require.Len(t, entries, 1)
}

func TestLooks_AreThoseAtThePersonsRecord(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	when := time.Date(2026, 3, 2, 8, 20, 0, 0, time.UTC)
	look := account.Access{Account: "sam", Record: "jo", What: "record", At: when}
	require.NoError(t, w.NoteAccess(t.Context(), look))
	require.NoError(t, w.NoteAccess(t.Context(), account.Access{Account: "sam", Subject: 7, What: "patient", At: when}))
	for record, want := range map[line.ID][]account.Access{"jo": {look}, "sam": nil, "": nil} {
		got, err := w.Looks(t.Context(), record, 10)
		require.NoError(t, err)
		require.Equal(t, want, got, "%q", record)
	}
}

func TestEntries_CarryOwnRecordsToAnotherRecord(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"))
	hard := line.SetOf(line.VeinNotVisible)
	version := w.must(w.tried("l1", 1, line.Occasion{Attempts: failedBy("jo", hard), Supervisor: line.Operator{Account: "sam"}}))
	w.must(w.ofPerson("jo", line.AttemptAgreement{Account: "jo", Version: version, Agreed: line.Yes}))
	w.must(w.ofPerson("jo", line.RecordShare{Share: "s1", Account: "jo", With: "sam"}))
	var entries []line.SealedEntry
	require.NoError(t, w.Entries(t.Context(), func(e line.SealedEntry) error {
		entries = append(entries, e)
		return nil
	}))
	other := newWard(t)
	_, err := other.AppendSealed(t.Context(), entries)
	require.NoError(t, err)
	require.Equal(t, w.attempts("jo"), other.attempts("jo"))
	require.True(t, other.attempts("jo")[0].Counts())
	given, err := other.SharesWith(t.Context(), "sam")
	require.NoError(t, err)
	require.Len(t, given, 1)
	requireRebuilt(t, other)
}

// A person's 2,000 attempts, half of them recorded by somebody else and answered.
func BenchmarkAttempts(b *testing.B) {
	s, err := store.Open(b.Context(), b.TempDir()+"/record.db", store.Options{})
	require.NoError(b, err)
	defer func() { require.NoError(b, s.Close()) }()
	var entries []line.Entry
	add := func(id, subject, of, author line.ID, body line.Body) {
		entries = append(entries, line.Entry{
			ID: id, Kind: body.Kind(), Subject: subject, Line: of, Author: author, Happened: at(1), Precision: line.ToMinute, Body: body,
		})
	}
	for i := range 2000 {
		n := line.ID(strconv.Itoa(i))
		author := []line.ID{"jo", "kim"}[i%2]
		add("o"+n, "p"+n, "l"+n, author, line.Occasion{Outcome: line.WithoutLine, Attempts: failedBy("jo", line.SetOf(line.VeinSmall))})
		if author != "jo" {
			add("a"+n, "", "", "jo", line.AttemptAgreement{Account: "jo", Version: "o" + n, Agreed: line.Yes})
		}
	}
	_, err = s.Append(b.Context(), line.Batch{Entries: entries, AsRecorded: true})
	require.NoError(b, err)
	for b.Loop() {
		list, err := s.Attempts(b.Context(), "jo")
		require.NoError(b, err)
		require.Len(b, list, 2000)
		require.True(b, list[1].Counts())
	}
}
