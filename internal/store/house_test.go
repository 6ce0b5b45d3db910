package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// ofHouse makes an entry of the house.
func (w *ward) ofHouse(body line.Body) line.Entry {
	e := w.entry("", "", 0, body)
	e.Author = "admin"
	return e
}

func TestHouse_GivesEveryVersionInOrder(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.ofHouse(line.Hospital{Name: "Hospital", Zone: "Europe/London"}))
	north := w.must(w.ofHouse(line.Ward{Ward: "north", Name: "Nroth", Zone: "Europe/London", Beds: []string{"1", "2"}}))
	policy := w.must(w.ofHouse(line.Policy{TOML: "x = \"<y>\"\n"}))
	fixed := w.ofHouse(line.Ward{Ward: "north", Name: "North", Zone: "Europe/London"})
	w.must(w.correction(north, north, fixed))
	w.must(w.void("", policy, policy))

	entries, err := w.House(t.Context())
	require.NoError(t, err)
	wards, err := w.WardKeys(t.Context())
	require.NoError(t, err)
	require.Len(t, entries, 4, "every version")
	require.Equal(t, line.KindHospital, entries[0].Entry.Kind)
	require.Equal(t, []int64{1, 1, 0}, []int64{entries[0].Seq, entries[0].Known, entries[0].Gone})
	for i, want := range []struct {
		seq, known, gone int64
		name             string
	}{{2, 2, 4, "Nroth"}, {2, 4, 0, "North"}} {
		got := entries[1+i]
		require.Equal(t, []int64{want.seq, want.known, want.gone}, []int64{got.Seq, got.Known, got.Gone})
		require.Equal(t, north, got.Entry.ID)
		require.Equal(t, want.name, got.Entry.Body.(line.Ward).Name)
		require.Equal(t, wards["north"], got.WardKey)
	}
	require.Equal(t, []int64{3, 3, 5}, []int64{entries[3].Seq, entries[3].Known, entries[3].Gone}, "withdrawn")
	requireRebuilt(t, w)
}

func TestAccounts_StandAsTheirLatestEntrySays(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.ofHouse(line.Account{Account: "a1", SignIn: "Ada", Name: "Ada A", Initials: "AA", Role: "nurse"}))
	w.must(w.ofHouse(line.Account{Account: "a2", SignIn: "bo", Name: "Bo B", Role: "doctor"}))
	w.must(w.ofHouse(line.Account{Account: "a1", SignIn: "ada", Name: "Ada C", Initials: "AC", Role: "lead"}))

	all, err := w.Accounts(t.Context())
	require.NoError(t, err)
	ada := account.Account{ID: "a1", SignIn: "ada", Name: "Ada C", Initials: "AC", Role: account.Lead}
	require.Equal(t, []account.Account{ada, {ID: "a2", SignIn: "bo", Name: "Bo B", Role: account.Doctor}}, all)
	got, err := w.AccountBySignIn(t.Context(), " ADA ")
	require.NoError(t, err)
	require.Equal(t, ada, got)
	_, err = w.Account(t.Context(), "a9")
	require.True(t, fault.Is(err, fault.NotFound), "%v", err)

	f := w.refused("store.sign-in-taken", w.ofHouse(line.Account{Account: "a3", SignIn: "BO", Name: "Another", Role: "nurse"}))
	require.Contains(t, f.Fields, "sign_in")
	w.must(w.ofHouse(line.Account{Account: "a2", SignIn: "bo", Name: "Bo B", Role: "doctor", Closed: true}))
	w.must(w.ofHouse(line.Account{Account: "a3", SignIn: "BO", Name: "Another", Role: "nurse"}))
	got, err = w.AccountBySignIn(t.Context(), "bo")
	require.NoError(t, err)
	require.Equal(t, "a3", got.ID, "the open one")
	requireRebuilt(t, w)
}

func TestAttempts_AreThePersonsOwn(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	w.must(w.admission("p1", 0, "north"), w.admission("p2", 0, "south"))
	tried := func(o line.Operator, failed bool) line.Attempt {
		a := line.Attempt{Operator: o, Site: line.Wrist, Side: line.Left, Gauge: 22, Failed: failed}
		if failed {
			a.Fault = line.ThroughBackWall
		}
		return a
	}
	jo, other, written := line.Operator{Account: "jo"}, line.Operator{Account: "kim"}, line.Operator{Written: "J.  Oh"}
	first := w.entry("p1", "l1", 1, line.Occasion{Outcome: line.WithLine, Site: line.Wrist, Side: line.Left, Gauge: 22,
		Attempts: []line.Attempt{tried(jo, true), tried(other, true), tried(jo, false)}})
	first.Author = "jo"
	w.must(first)
	w.must(w.entry("p2", "l2", 2, line.Occasion{Outcome: line.WithoutLine, Attempts: []line.Attempt{tried(written, true)}}))
	bare := w.must(w.entry("p2", "l3", 3, line.Occasion{Outcome: line.WithLine, Site: line.Forearm, Gauge: 20, Operator: jo, Count: 3}))
	w.must(w.entry("p2", "l4", 4, line.Occasion{Outcome: line.BeforeSkin, Stopped: line.NoVeinFound, Operator: jo}))
	wards, err := w.WardKeys(t.Context())
	require.NoError(t, err)

	got, err := w.Attempts(t.Context(), "jo")
	require.NoError(t, err)
	require.Len(t, got, 3)
	require.Equal(t, line.Tried{
		Occasion: got[0].Occasion, LineID: "l1", At: at(1), Precision: line.ToMinute, No: 1, Of: 3, Site: line.Wrist, Side: line.Left,
		Gauge: 22, Failed: true, Fault: line.ThroughBackWall, Outcome: line.WithLine, Ward: wards["north"], Version: first.ID, Author: "jo",
	}, got[0])
	require.Equal(t, 3, got[1].No)
	require.Equal(t, line.Tried{
		Occasion: got[2].Occasion, LineID: "l3", At: at(3), Precision: line.ToMinute, No: 3, Of: 3, Site: line.Forearm,
		Gauge: 20, Outcome: line.WithLine, Ward: wards["south"], Version: bare, Author: "nurse-1", ByOther: true,
	}, got[2], "a bare number: only the last is known")
	n, err := w.Stopped(t.Context(), "jo")
	require.NoError(t, err)
	require.Equal(t, 1, n)

	// A name as written counts once the person has accepted it.
	w.must(w.ofHouse(line.OperatorLink{Written: "j. oh", Account: "jo"}))
	got, err = w.Attempts(t.Context(), "jo")
	require.NoError(t, err)
	require.Len(t, got, 3)
	w.must(w.ofHouse(line.OperatorLink{Written: "j. oh", Account: "jo", Accepted: line.Yes}))
	got, err = w.Attempts(t.Context(), "jo")
	require.NoError(t, err)
	require.Len(t, got, 4)
	require.Equal(t, line.ID("l2"), got[2].LineID)
	w.must(w.ofHouse(line.OperatorLink{Written: "j. oh", Account: "jo", Accepted: line.No}))
	got, err = w.Attempts(t.Context(), "jo")
	require.NoError(t, err)
	require.Len(t, got, 3)
	got, err = w.Attempts(t.Context(), "")
	require.NoError(t, err)
	require.Empty(t, got)

	// Every attempt has its operator; what stopped before skin is none.
	every := func(in line.Stretch) map[line.Operator][]line.ID {
		by := map[line.Operator][]line.ID{}
		require.NoError(t, w.EveryAttempt(t.Context(), in, func(o line.Operator, tried line.Tried) {
			by[o] = append(by[o], tried.LineID)
			require.Positive(t, tried.No)
		}))
		return by
	}
	whole := line.Stretch{From: -line.Far, Until: line.Far}
	require.Equal(t, map[line.Operator][]line.ID{jo: {"l1", "l1", "l3"}, other: {"l1"}, {Written: "j. oh"}: {"l2"}}, every(whole))
	require.Equal(t, map[line.Operator][]line.ID{{Written: "j. oh"}: {"l2"}}, every(line.Stretch{From: at(2), Until: at(3)}))
	w.must(w.ofHouse(line.OperatorLink{Written: "j. oh", Account: "jo", Accepted: line.Yes}))
	require.Len(t, every(whole)[jo], 4)
	requireRebuilt(t, w)
}
