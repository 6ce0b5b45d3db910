package account_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

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
	const common, short, name = "account.passphrase-common", "account.passphrase-short", "account.passphrase-name"
	for _, c := range []struct{ name, passphrase, key string }{
		{"four words", "quiet river stone mill", ""},
		{"a letter too short", "quiet river", short},
		{"letters count, not bytes", strings.Repeat("é", 11), short},
		{"twelve letters of two bytes", "éàüéßøåçñœæð", ""},
		{"as long as is taken", strings.Repeat("quiet river stone mill ", 23)[:512], ""},
		{"too long", strings.Repeat("a", 513), "account.passphrase-long"},
		{"with the sign-in name", "quiet nell7 river stone", name},
		{"with the name in capitals", "QUIET ASHDOWN RIVER", name},
		{"with a name's short word", "quiet of river stones mill", ""},
		// Of the commonest in every published list (from memory).
		{"the commonest, lengthened", "password1234", common},
		{"the same in disguise", "P@ssw0rd1234", common},
		{"a row of keys", "qwertyuiop12", common},
		{"digits in order", "123456789012", common},
		{"a repeat", "letmeinletmein", common},
		{"one letter", strings.Repeat("a", 40), common},
		{"a season and a year", "Summer2026!!", common},
		{"this program's name", "dwellbook1234", common},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			err := account.CheckPassphrase(c.passphrase, "nell7", "Nell of Ashdown")
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
	require.NoError(t, account.CheckPassphrase("quiet river stone"), "without names to compare")
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
