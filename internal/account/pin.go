package account

import (
	"strings"
	"time"

	"dwellbook/internal/fault"
)

// Tablet is a ward's device, which an administrator has enrolled.
type Tablet struct {
	Device string // the hash of its token
	Name   string
	Author ID
	At     time.Time
}

// pinDigits is how long a PIN is.
const pinDigits = 6

// PINTries is how many wrong PINs in a row a tablet takes of a person before it
// asks for the passphrase (house rule; a guess then succeeds five times in a
// million).
const PINTries = 5

// MayUsePIN reports whether the role may sign in by PIN: not one that a second
// step is asked of.
func (r Role) MayUsePIN() bool { return r.Valid() && !StepRequired.Applies(r) }

// CheckPIN refuses what is no PIN, and those that are guessed first: one or two
// digits over and over, and digits in order.
func CheckPIN(pin string) error {
	if len(pin) != pinDigits || strings.Trim(pin, "0123456789") != "" {
		return fault.Field("pin", "account.pin-form", "digits", pinDigits)
	}
	const up, down = "01234567890123456789", "98765432109876543210"
	different := map[rune]bool{}
	for _, d := range pin {
		different[d] = true
	}
	if len(different) < 3 || strings.Contains(up, pin) || strings.Contains(down, pin) || pin[:3] == pin[3:] {
		return fault.Field("pin", "account.pin-easy")
	}
	return nil
}
