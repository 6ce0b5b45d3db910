package account_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
)

// Who may do what, as the contributors' guide shows it; a house rule.
func TestMay_EveryRoleAndRight(t *testing.T) {
	t.Parallel()
	const yes, no = true, false
	for right, may := range map[account.Right][4]bool{ // nurse, doctor, lead, administrator
		account.SeeWards:     {yes, yes, yes, no},
		account.RecordCare:   {yes, yes, yes, no},
		account.SeeAudit:     {no, no, yes, no},
		account.JudgeLines:   {no, no, yes, no},
		account.SeeOwnRecord: {yes, yes, yes, no},
		account.SeePolicy:    {yes, yes, yes, yes},
		account.EditPolicy:   {no, no, yes, no},
		account.SeeProof:     {no, no, yes, yes},
		account.ManagePeople: {no, no, no, yes},
	} {
		require.Contains(t, account.Rights, right)
		for i, role := range []account.Role{account.Nurse, account.Doctor, account.Lead, account.Administrator} {
			require.Equal(t, may[i], role.May(right), "%s for a %s", right, role)
			require.Equal(t, may[i], account.Account{ID: "a", Role: role}.May(right))
			require.False(t, account.Account{ID: "a", Role: role, Closed: true}.May(right), "a closed account may nothing")
		}
		require.False(t, account.Role("").May(right), "nobody has no right")
		require.False(t, account.Role("porter").May(right))
	}
	require.Len(t, account.Rights, 9)
	require.False(t, account.Nurse.May("everything"))
}

func TestRole_Valid(t *testing.T) {
	t.Parallel()
	for _, r := range account.Roles {
		require.True(t, r.Valid())
	}
	for _, r := range []account.Role{"", "Nurse", "porter"} {
		require.False(t, r.Valid(), "%q", r)
	}
}

func TestCheckPassphrase(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, signIn, passphrase, key string }{
		{"a letter too short", "nell", "quiet river", "account.passphrase-short"},
		{"just long enough", "nell", "quiet rivers", ""},
		{"letters count, not bytes", "nell", strings.Repeat("é", 11), "account.passphrase-short"},
		{"twelve letters of two bytes", "nell", strings.Repeat("é", 12), ""},
		{"as long as is taken", "nell", strings.Repeat("a", 512), ""},
		{"too long", "nell", strings.Repeat("a", 513), "account.passphrase-long"},
		{"with the sign-in name", "nell", "quiet nell river", "account.passphrase-name"},
		{"with the name in capitals", "nell", "QUIET NELL RIVER", "account.passphrase-name"},
		{"without a name to compare", "", "quiet river stone", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			err := account.CheckPassphrase(c.signIn, c.passphrase)
			if c.key == "" {
				require.NoError(t, err)
				return
			}
			var wrong *fault.Error
			require.ErrorAs(t, err, &wrong)
			require.Equal(t, fault.Invalid, wrong.Kind)
			require.Equal(t, c.key, wrong.Fields["passphrase"].Key)
			require.NotContains(t, err.Error(), c.passphrase, "no passphrase reaches a log")
		})
	}
}

func TestHash_MatchesItsPassphraseAndNoOther(t *testing.T) {
	t.Parallel()
	one, err := account.Hash("quiet river stone")
	require.NoError(t, err)
	two, err := account.Hash("quiet river stone")
	require.NoError(t, err)
	require.NotEqual(t, one, two, "each has its own salt")
	// The PHC string format, with the parameters OWASP gives for Argon2id (from memory).
	require.Regexp(t, `^\$argon2id\$v=19\$m=19456,t=2,p=1\$`, one)
	for passphrase, fits := range map[string]bool{"quiet river stone": true, "quiet river stones": false, "": false} {
		ok, err := account.Match(passphrase, one)
		require.NoError(t, err)
		require.Equal(t, fits, ok, "%q", passphrase)
	}
	_, err = account.Match("quiet river stone", "plain")
	require.Error(t, err)
}

func TestWait_SlowsAfterFailures(t *testing.T) {
	t.Parallel()
	last := time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		failures int
		since    time.Duration
		want     time.Duration
	}{
		{0, 0, 0}, {1, 0, 0}, {4, 0, 0}, {5, 0, 2 * time.Second}, {6, 0, 4 * time.Second}, {7, 0, 8 * time.Second},
		{6, time.Second, 3 * time.Second}, {6, 4 * time.Second, 0}, {6, time.Hour, 0},
		{12, 0, 256 * time.Second}, {13, 0, 5 * time.Minute}, {1 << 30, 0, 5 * time.Minute},
	} {
		require.Equal(t, c.want, account.Wait(c.failures, last, last.Add(c.since)), "%d failures, %s later", c.failures, c.since)
	}
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 1000).Draw(rt, "failures")
		now := last.Add(time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(rt, "since")))
		wait := account.Wait(n, last, now)
		require.True(rt, wait >= 0 && wait <= 5*time.Minute)
		require.GreaterOrEqual(rt, account.Wait(n+1, last, now), wait, "one more failure never shortens it")
		require.Zero(rt, account.Wait(n, last, now.Add(wait)), "once waited, it is over")
	})
}
