package desk_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

func (l *ledger) SharesBy(_ context.Context, id line.ID) (list []line.SharedRecord, err error) {
	for _, s := range l.shares {
		if s.Account == id {
			list = append(list, s)
		}
	}
	return list, nil
}

func (l *ledger) SharesWith(_ context.Context, id line.ID) (list []line.SharedRecord, err error) {
	for _, s := range l.shares {
		if s.With == id && !s.TakenBack {
			list = append(list, s)
		}
	}
	return list, nil
}

func (l *ledger) Share(_ context.Context, id line.ID) (line.SharedRecord, error) {
	l.loads++
	for _, s := range l.shares {
		if s.ID == id {
			return s, nil
		}
	}
	return line.SharedRecord{}, fault.New(fault.NotFound, "store.no-share")
}

func (l *ledger) Looks(context.Context, line.ID, int) ([]account.Access, error) { return nil, nil }

// Accounts are one of each role, and a nurse who has left.
func (l *ledger) Accounts(context.Context) ([]account.Account, error) {
	list := []account.Account{{ID: "left", Role: account.Nurse, Closed: true}}
	for _, r := range account.Roles {
		list = append(list, account.Account{ID: string(r), Role: r})
	}
	return list, nil
}

// of is the one with the role.
func of(role account.Role) desk.Person {
	return desk.Person{Account: account.Account{ID: string(role), Role: role}}
}

func TestOwnAttempts_WaitUntilThePersonHasAnswered(t *testing.T) {
	t.Parallel()
	d, l := newDesk()
	doctor := of(account.Doctor)
	own := line.Tried{Occasion: 1, No: 1, Of: 1, Version: "e1"}
	waits := line.Tried{Occasion: 2, No: 1, Of: 1, Version: "e2", ByOther: true}
	agreed := line.Tried{Occasion: 3, No: 1, Of: 1, Version: "e3", ByOther: true, Agreed: line.Yes}
	declined := line.Tried{Occasion: 4, No: 1, Of: 1, Version: "e4", ByOther: true, Agreed: line.No}
	l.tried = []line.Tried{own, waits, agreed, declined}
	got, err := d.OwnAttempts(t.Context(), doctor)
	require.NoError(t, err)
	require.Equal(t, desk.OwnAttempts{Counted: []line.Tried{own, agreed}, Waiting: []line.Tried{waits}, Declined: []line.Tried{declined}}, got)
	record, err := d.OwnRecord(t.Context(), doctor)
	require.NoError(t, err)
	require.Equal(t, 2, record.Attempts.N)

	require.NoError(t, d.AnswerAttempts(t.Context(), doctor, []line.ID{"e2", "e3", "e4", "e2"}, line.Yes))
	require.Len(t, l.appended, 2, "the one that waits and the one declined; nothing twice")
	require.Equal(t, line.AttemptAgreement{Account: "doctor", Version: "e2", Agreed: line.Yes}, l.appended[0].Body)
	require.Equal(t, line.ID("doctor"), l.appended[0].Author)
	require.Empty(t, l.appended[0].Subject)
	require.NoError(t, d.AnswerAttempts(t.Context(), doctor, []line.ID{"e3"}, line.No), "an answer can be changed")
	require.Len(t, l.appended, 3)

	for _, v := range []line.ID{"e1", "e9", ""} {
		err := d.AnswerAttempts(t.Context(), doctor, []line.ID{"e2", v}, line.Yes)
		require.True(t, fault.Is(err, fault.NotFound), "%s: %v", v, err)
	}
	require.Error(t, d.AnswerAttempts(t.Context(), doctor, []line.ID{"e2"}, 0))
	require.Len(t, l.appended, 3)
}

// stored makes an appended share stand, as the store does.
func (l *ledger) stored(t *testing.T) {
	t.Helper()
	e := l.appended[len(l.appended)-1]
	b, ok := e.Body.(line.RecordShare)
	require.True(t, ok)
	for i := range l.shares {
		if l.shares[i].ID == b.Share {
			l.shares[i].TakenBack = b.TakenBack
			return
		}
	}
	l.shares = append(l.shares, line.SharedRecord{ID: b.Share, Entry: e.ID, Account: b.Account, With: b.With, At: e.Happened})
	l.entries = map[line.ID]line.Entry{e.ID: e}
}

func TestShareRecord_GivesACopyThatLeadsToNoPatient(t *testing.T) {
	t.Parallel()
	d, l := newDesk()
	doctor, lead := of(account.Doctor), of(account.Lead)
	l.tried = []line.Tried{
		{Occasion: 81, LineID: "line-1", At: 29, No: 1, Of: 2, Site: line.Wrist, Gauge: 22, Failed: true, Fault: line.Spasm, Ward: 1, Version: "e1", Assessed: true},
		{Occasion: 81, LineID: "line-1", At: 29, No: 2, Of: 2, Site: line.Wrist, Gauge: 22, Ward: 1, Version: "e1", Assessed: true, Difficulty: line.SetOf(line.VeinSmall)},
		{Occasion: 90, LineID: "line-2", At: 31, No: 1, Of: 1, Ward: 1, Version: "e2", Supervised: true, Supervisor: "lead"},
		{Occasion: 95, LineID: "line-3", At: 32, No: 1, Of: 1, Ward: 1, Version: "e3", ByOther: true},
	}
	require.NoError(t, d.ShareRecord(t.Context(), doctor, "s1", "lead"))
	l.stored(t)
	canonical, _, err := line.Canonical(l.appended[0], func() string { return "" })
	require.NoError(t, err)
	require.NotContains(t, string(canonical), "line-")
	require.NoError(t, d.ShareRecord(t.Context(), doctor, "s1", "lead"))
	require.Len(t, l.appended, 1, "the same request again")

	before := l.tried
	l.tried = nil // what comes later does not change the copy
	got, err := d.OpenShare(t.Context(), lead, "s1")
	require.NoError(t, err)
	require.Equal(t, line.MinuteOf(noon), got.At)
	require.Len(t, got.Tried, 3, "without the one that waits")
	for i, tried := range got.Tried {
		want := before[i]
		want.Occasion, want.LineID, want.Version, want.Supervisor = line.Key(map[int]int{0: 1, 1: 1, 2: 2}[i]), "", "", ""
		require.Equal(t, want, tried)
	}
	require.Equal(t, []account.Access{{Account: "lead", Record: "doctor", What: "record", At: noon}}, l.accesses)
}

func TestShareRecord_IsForOneOtherPersonWithARecord(t *testing.T) {
	t.Parallel()
	for with, ok := range map[line.ID]bool{"nurse": true, "lead": true, "doctor": false, "administrator": false, "left": false, "nobody": false, "": false} {
		d, l := newDesk()
		err := d.ShareRecord(t.Context(), of(account.Doctor), "s1", with)
		require.Equal(t, ok, err == nil, "%s: %v", with, err)
		require.Equal(t, ok, len(l.appended) == 1)
	}
	d, l := newDesk()
	l.shares = []line.SharedRecord{{ID: "s1", Account: "nurse", With: "lead"}}
	err := d.ShareRecord(t.Context(), of(account.Doctor), "s1", "lead")
	require.True(t, fault.Is(err, fault.Conflict), "another person's share: %v", err)
	require.Error(t, d.ShareRecord(t.Context(), of(account.Administrator), "s2", "lead"))
	require.Empty(t, l.appended)
}

func TestOpenShare_IsOnlyForTheNamedReader(t *testing.T) {
	t.Parallel()
	d, l := newDesk()
	require.NoError(t, d.ShareRecord(t.Context(), of(account.Doctor), "s1", "nurse"))
	l.stored(t)
	stranger := of(account.Nurse)
	stranger.ID = "nurse-2"
	for _, c := range []struct {
		who  desk.Person
		kind fault.Kind
	}{
		{desk.Person{}, fault.Unauthenticated}, {of(account.Administrator), fault.Forbidden}, {of(account.Lead), fault.NotFound},
		{stranger, fault.NotFound}, {desk.System(), fault.NotFound},
	} {
		_, err := d.OpenShare(t.Context(), c.who, "s1")
		require.True(t, fault.Is(err, c.kind), "%s: %v", c.who.ID, err)
		err = d.TakeBackShare(t.Context(), c.who, "s1")
		require.True(t, fault.Is(err, c.kind), "%s: %v", c.who.ID, err)
	}
	require.Empty(t, l.accesses)
	err := d.TakeBackShare(t.Context(), of(account.Nurse), "s1")
	require.True(t, fault.Is(err, fault.NotFound), "the reader takes nothing back: %v", err)

	_, err = d.OpenShare(t.Context(), of(account.Doctor), "s1")
	require.NoError(t, err)
	require.Empty(t, l.accesses, "the person's own look")
	for range 2 {
		_, err = d.OpenShare(t.Context(), of(account.Nurse), "s1")
		require.NoError(t, err)
	}
	require.Len(t, l.accesses, 2, "every look")

	require.NoError(t, d.TakeBackShare(t.Context(), of(account.Doctor), "s1"))
	l.stored(t)
	for _, role := range []account.Role{account.Nurse, account.Doctor} {
		_, err = d.OpenShare(t.Context(), of(role), "s1")
		require.True(t, fault.Is(err, fault.NotFound), "%v", err)
	}
	require.Len(t, l.accesses, 2)
	require.NoError(t, d.TakeBackShare(t.Context(), of(account.Doctor), "s1"))
	require.Len(t, l.appended, 2, "once")
}

func TestRecord_WithdrawsOnlyWhatThePersonMayRecord(t *testing.T) {
	t.Parallel()
	for kind, may := range map[line.Kind][]account.Role{
		line.KindReview:           {account.Nurse, account.Doctor, account.Lead},
		line.KindFollowUp:         {account.Lead},
		line.KindAccount:          nil, // an administrator does not record care
		line.KindPolicy:           nil,
		line.KindAttemptAgreement: nil,
		line.KindRecordShare:      nil,
	} {
		for _, role := range account.Roles {
			d, l := newDesk()
			l.entries = map[line.ID]line.Entry{"e0": {ID: "e0", Kind: kind}}
			_, err := d.Record(t.Context(), of(role), desk.Act{Entries: []line.Entry{{
				ID: "v1", Kind: line.KindVoid, Subject: "patient-1", Body: line.Void{Root: "e0", Seen: "e0", Why: "x"},
			}}})
			allowed := false
			for _, r := range may {
				allowed = allowed || r == role
			}
			require.Equal(t, allowed, err == nil, "%s of a %s: %v", kind, role, err)
			require.Equal(t, allowed, len(l.appended) == 1)
		}
	}
}
