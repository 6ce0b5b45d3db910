package store_test

import (
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

func TestSecretsAndSettings(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	_, err := w.Secret(t.Context(), "a1")
	require.True(t, fault.Is(err, fault.NotFound), "%v", err)
	require.NoError(t, w.SetSecret(t.Context(), "a1", "one"))
	require.NoError(t, w.SetSecret(t.Context(), "a1", "two"))
	hash, err := w.Secret(t.Context(), "a1")
	require.NoError(t, err)
	require.Equal(t, "two", hash)
	for _, step := range []struct {
		account line.ID
		next    func() error
		want    int64
	}{
		{"a2", nil, 0},
		{"a1", nil, 2},
		{"a1", func() error { return w.NextGeneration(t.Context(), "a1") }, 3},
		{"a1", func() error { return w.SetSecret(t.Context(), "a2", "one") }, 3},
		{"a2", nil, 1},
	} {
		if step.next != nil {
			require.NoError(t, step.next())
		}
		generation, err := w.Generation(t.Context(), step.account)
		require.NoError(t, err)
		require.Equal(t, step.want, generation)
	}

	_, ok, err := w.Setting(t.Context(), "s")
	require.NoError(t, err)
	require.False(t, ok)
	for _, value := range []string{"first", "second"} {
		kept, err := w.SettingOr(t.Context(), "s", value)
		require.NoError(t, err)
		require.Equal(t, "first", kept)
	}
	require.NoError(t, w.SetSetting(t.Context(), "s", "v"))
	v, ok, err := w.Setting(t.Context(), "s")
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, "v", v)
	require.NoError(t, w.DeleteSetting(t.Context(), "s"))
	_, ok, err = w.Setting(t.Context(), "s")
	require.NoError(t, err)
	require.False(t, ok)
}

func TestSignInFailures_AreCountedFromAMoment(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	count := func(name, place string, since time.Time) account.Failures {
		f, err := w.SignInFailures(t.Context(), name, place, since)
		require.NoError(t, err)
		return f
	}
	for i := range 3 {
		require.NoError(t, w.NoteSignInFailure(t.Context(), "ada", "desk", noon.Add(time.Duration(i)*time.Minute)))
	}
	require.NoError(t, w.NoteSignInFailure(t.Context(), "ada", "away", noon.Add(time.Hour)))
	require.NoError(t, w.NoteSignInFailure(t.Context(), "bo", "desk", noon))
	for _, c := range []struct {
		name, place string
		want        account.Failures
	}{
		{"ada", "desk", account.Failures{N: 2, Last: noon.Add(2 * time.Minute)}},
		{"ada", "", account.Failures{N: 3, Last: noon.Add(time.Hour)}},
		{"", "desk", account.Failures{N: 2, Last: noon.Add(2 * time.Minute)}},
		{"bo", "away", account.Failures{}},
	} {
		require.Equal(t, c.want, count(c.name, c.place, noon.Add(time.Minute)), "%q at %q", c.name, c.place)
	}
	require.NoError(t, w.ClearSignInFailures(t.Context(), "ada", "desk"))
	require.Zero(t, count("ada", "desk", time.Time{}))
	require.Equal(t, 1, count("ada", "", time.Time{}).N)
	require.NoError(t, w.NoteSignInFailure(t.Context(), "ada", "desk", noon.Add(25*time.Hour)))
	require.Zero(t, count("bo", "", time.Time{}), "what is a day old is dropped")
}

func TestKnownDevice_IsOfThePersonWhoSignedInOnIt(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	for range 2 {
		require.NoError(t, w.KnowDevice(t.Context(), "tablet", "a1"))
	}
	for _, c := range []struct {
		device  string
		account line.ID
		want    bool
	}{{"tablet", "a1", true}, {"tablet", "a2", false}, {"phone", "a1", false}} {
		known, err := w.KnownDevice(t.Context(), c.device, c.account)
		require.NoError(t, err)
		require.Equal(t, c.want, known, c)
	}
}

func TestDrafts_BelongToWhoTypedThem(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	d := account.Draft{ID: "d1", Account: "a1", Path: "/place", Form: url.Values{"site": {"wrist"}, "n": {"1", "2"}}, At: noon}
	require.NoError(t, w.KeepDraft(t.Context(), d))
	require.NoError(t, w.DropDraft(t.Context(), "a2", "d1"))
	list, err := w.Drafts(t.Context(), "a1")
	require.NoError(t, err)
	require.Equal(t, []account.Draft{d}, list)
	list, err = w.Drafts(t.Context(), "a2")
	require.NoError(t, err)
	require.Empty(t, list)
	require.NoError(t, w.DropDraft(t.Context(), "a1", "d1"))
	list, err = w.Drafts(t.Context(), "a1")
	require.NoError(t, err)
	require.Empty(t, list)
}

func TestDelivered_IsNotedOnceWithWhatWaits(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	_, ok, err := w.Delivered(t.Context(), "d1")
	require.NoError(t, err)
	require.False(t, ok)
	carried := account.Carried{Device: "tablet", Captured: noon.Add(-time.Hour), Sent: noon}
	taken := account.Delivered{ID: "d1", Account: "a1", At: noon, Carried: carried}
	require.NoError(t, w.NoteDelivered(t.Context(), taken, nil))
	got, ok, err := w.Delivered(t.Context(), "d1")
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, taken, got)

	carried.Ahead, carried.Reason = -time.Hour, "It is out."
	refused := account.Delivered{ID: "d2", Account: "a1", At: noon.Add(time.Hour), Waiting: true, Carried: carried}
	draft := account.Draft{ID: "d2", Account: "a1", Path: "/lines/l/review", Form: url.Values{"note": {"cold"}}, At: refused.At}
	require.NoError(t, w.NoteDelivered(t.Context(), refused, &draft))
	got, _, err = w.Delivered(t.Context(), "d2")
	require.NoError(t, err)
	require.Equal(t, refused, got)
	require.Error(t, w.NoteDelivered(t.Context(), taken, &account.Draft{ID: "d3", Account: "a1", At: noon}), "a second of the same id")
	drafts, err := w.Drafts(t.Context(), "a1")
	require.NoError(t, err)
	draft.Carried = &carried
	require.Equal(t, []account.Draft{draft}, drafts, "the second left nothing behind")
}

func TestAccesses_LatestFirst(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	for i, who := range []string{"a1", "a2", "a3"} {
		require.NoError(t, w.NoteAccess(t.Context(), account.Access{Account: who, Subject: 7, Line: int64(10 + i), What: "line", At: noon.Add(time.Duration(i) * time.Minute)}))
	}
	require.NoError(t, w.NoteAccess(t.Context(), account.Access{Account: "a1", Subject: 8, What: "line", At: noon}))
	require.NoError(t, w.NoteAccess(t.Context(), account.Access{Account: "a1", Record: "a2", What: "record", At: noon}))
	latest, err := w.LatestAccesses(t.Context(), 2)
	require.NoError(t, err)
	require.Equal(t, []account.Access{
		{Account: "a1", Subject: 8, What: "line", At: noon},
		{Account: "a3", Subject: 7, Line: 12, What: "line", At: noon.Add(2 * time.Minute)},
	}, latest, "of patients only")
	list, err := w.Accesses(t.Context(), 7, 2)
	require.NoError(t, err)
	require.Equal(t, []account.Access{
		{Account: "a3", Subject: 7, Line: 12, What: "line", At: noon.Add(2 * time.Minute)},
		{Account: "a2", Subject: 7, Line: 11, What: "line", At: noon.Add(time.Minute)},
	}, list)
}

func TestSessions_EndAndAreNotFoundByTheirToken(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	s := w.Sessions()
	now := w.clock.Now()
	require.NoError(t, s.Commit("token", []byte("data"), now.Add(time.Hour)))
	data, ok, err := s.FindCtx(t.Context(), "token")
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, "data", string(data))
	require.NoError(t, s.CommitCtx(t.Context(), "token", []byte("more"), now.Add(time.Hour)))
	data, _, err = s.Find("token")
	require.NoError(t, err)
	require.Equal(t, "more", string(data))

	w.clock.set(1002)
	_, ok, err = s.Find("token")
	require.NoError(t, err)
	require.False(t, ok, "it ended")
	require.NoError(t, s.Commit("other", []byte("x"), w.clock.Now().Add(time.Hour)))
	require.NoError(t, s.Delete("other"))
	_, ok, err = s.Find("other")
	require.NoError(t, err)
	require.False(t, ok)
}

func TestInvitations_OneAnAccountAndUsedUpByAPassphrase(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	until := func(id line.ID, token string) (time.Time, bool) {
		at, ok, err := w.InvitedUntil(t.Context(), id, token)
		require.NoError(t, err)
		return at, ok
	}
	require.NoError(t, w.KeepInvitations(t.Context(), []account.Invitation{
		{Account: "a1", Token: "one", Until: noon}, {Account: "a2", Token: "two", Until: noon},
	}))
	at, ok := until("a1", "one")
	require.True(t, ok)
	require.Equal(t, noon, at)
	_, ok = until("a1", "two")
	require.False(t, ok, "somebody else's")
	require.NoError(t, w.KeepInvitations(t.Context(), []account.Invitation{{Account: "a1", Token: "three", Until: noon}}))
	_, ok = until("a1", "one")
	require.False(t, ok, "replaced")
	require.NoError(t, w.SetSecret(t.Context(), "a1", "hash"))
	_, ok = until("a1", "three")
	require.False(t, ok)
	_, ok = until("a2", "two")
	require.True(t, ok)
}

func TestGreeted_ByAccountAndRole(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	for range 2 {
		require.NoError(t, w.NoteGreeted(t.Context(), "a1", account.Nurse))
	}
	for role, want := range map[account.Role]bool{account.Nurse: true, account.Lead: false} {
		greeted, err := w.Greeted(t.Context(), "a1", role)
		require.NoError(t, err)
		require.Equal(t, want, greeted)
	}
}
