package account_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
)

func TestCheckPIN(t *testing.T) {
	t.Parallel()
	for pin, key := range map[string]string{
		"402917": "", "118835": "",
		"": "account.pin-form", "4029": "account.pin-form", "4029178": "account.pin-form", "40a917": "account.pin-form", "४०२९": "account.pin-form",
		"000000": "account.pin-easy", "121212": "account.pin-easy", "112211": "account.pin-easy", "123456": "account.pin-easy",
		"654321": "account.pin-easy", "789012": "account.pin-easy", "123123": "account.pin-easy",
	} {
		err := account.CheckPIN(pin)
		if key == "" {
			require.NoError(t, err, pin)
			continue
		}
		var wrong *fault.Error
		require.ErrorAs(t, err, &wrong, pin)
		require.Equal(t, key, wrong.Fields["pin"].Key, pin)
	}
}

func TestMayUsePIN_NotWhereASecondStepIsAsked(t *testing.T) {
	t.Parallel()
	for role, may := range map[account.Role]bool{
		account.Nurse: true, account.Doctor: true, account.Lead: false, account.Administrator: false, "": false,
	} {
		require.Equal(t, may, role.MayUsePIN(), role)
	}
}
