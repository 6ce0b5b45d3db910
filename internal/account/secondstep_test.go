package account_test

import (
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/account"
)

// The test values of RFC 6238, appendix B (SHA-1), of whose eight digits ours
// are the last six, and of RFC 4226, appendix D, for the steps 0 to 9.
func TestCode_IsTheOneOfTheStandard(t *testing.T) {
	t.Parallel()
	key := account.CodeKey("12345678901234567890")
	for unix, code := range map[int64]string{
		59: "94287082", 1111111109: "07081804", 1111111111: "14050471", 1234567890: "89005924",
		2000000000: "69279037", 20000000000: "65353130",
	} {
		require.Equal(t, code[2:], key.Code(account.CodeStep(time.Unix(unix, 0))), unix)
	}
	for step, code := range []string{"755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"} {
		require.Equal(t, code, key.Code(int64(step)), step)
	}
}

func TestMatch_TakesACodeOnceAndNearItsTime(t *testing.T) {
	t.Parallel()
	key := account.NewCodeKey()
	now := time.Date(2026, 3, 4, 8, 0, 10, 0, time.UTC)
	at := account.CodeStep(now)
	for _, c := range []struct {
		name  string
		step  int64
		used  int64
		taken bool
	}{
		{"now", at, 0, true},
		{"the device is behind", at - 1, 0, true},
		{"the device is ahead", at + 1, 0, true},
		{"too old", at - 2, 0, false},
		{"too early", at + 2, 0, false},
		{"used before", at, at, false},
		{"older than one used", at - 1, at, false},
		{"the next after one used", at + 1, at, true},
	} {
		step, ok := key.Match(key.Code(c.step), now, c.used)
		require.Equal(t, c.taken, ok, c.name)
		if ok {
			require.Equal(t, c.step, step, c.name)
		}
	}
	for _, wrong := range []string{"", "12345", "1234567", "abcdef"} {
		_, ok := key.Match(wrong, now, 0)
		require.False(t, ok, "%q", wrong)
	}
}

func TestMatch_NeverTwice(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		key := account.CodeKey(rapid.SliceOfN(rapid.Byte(), 20, 20).Draw(rt, "key"))
		now := time.Unix(rapid.Int64Range(1e9, 4e9).Draw(rt, "now"), 0)
		code := key.Code(account.CodeStep(now))
		step, ok := key.Match(code, now, 0)
		require.True(rt, ok)
		// Two steps may share a code, once in a million; then the later one is found.
		if again, ok := key.Match(code, now, step); ok {
			require.Greater(rt, again, step)
		}
	})
}

func TestURI_CarriesTheKey(t *testing.T) {
	t.Parallel()
	key := account.CodeKey("12345678901234567890")
	u, err := url.Parse(key.URI("Larkwell Infirmary (invented)", "nell"))
	require.NoError(t, err)
	require.Equal(t, "otpauth", u.Scheme)
	require.Equal(t, "totp", u.Host)
	require.Equal(t, "/Larkwell Infirmary (invented):nell", u.Path)
	// RFC 4648's base32 of the key.
	require.Equal(t, "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ", u.Query().Get("secret"))
}

func TestStepRule_IsForWhoSeesTheWholeHospital(t *testing.T) {
	t.Parallel()
	for role, asked := range map[account.Role]bool{account.Nurse: false, account.Doctor: false, account.Lead: true, account.Administrator: true} {
		require.Equal(t, asked, account.StepAsked.Applies(role), role)
		require.Equal(t, asked, account.StepRequired.Applies(role), role)
		require.False(t, account.StepOptional.Applies(role), role)
	}
}

func TestRecoveryCodes_Differ(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, c := range account.NewRecoveryCodes() {
		require.Regexp(t, `^[A-Z2-7]{5}-[A-Z2-7]{5}$`, c)
		require.False(t, seen[c])
		seen[c] = true
	}
}
