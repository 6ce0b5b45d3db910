package account

import (
	"strings"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"

	"dwellbook/internal/fault"
)

// ShortestPassphrase is the least number of characters in a passphrase.
const ShortestPassphrase = 12

// CheckPassphrase refuses a passphrase that is too short or made of the sign-in name.
func CheckPassphrase(signIn, passphrase string) error {
	switch {
	case utf8.RuneCountInString(passphrase) < ShortestPassphrase:
		return fault.Field("passphrase", "account.passphrase-short", "least", ShortestPassphrase)
	case len(passphrase) > 512:
		return fault.Field("passphrase", "account.passphrase-long")
	case signIn != "" && strings.Contains(strings.ToLower(passphrase), strings.ToLower(signIn)):
		return fault.Field("passphrase", "account.passphrase-name")
	}
	return nil
}

// params are those OWASP gives for Argon2id where memory is scarce: 19 MiB,
// two passes, one lane (Password Storage Cheat Sheet, from memory).
var params = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// Hash makes the stored form of a passphrase, in PHC string format.
func Hash(passphrase string) (string, error) { return argon2id.CreateHash(passphrase, params) }

// Match reports whether a passphrase fits its stored form.
func Match(passphrase, hash string) (bool, error) {
	return argon2id.ComparePasswordAndHash(passphrase, hash)
}

// Wait is how long a sign-in must wait after so many failures in a row, the
// last of them at last: nothing for four, then doubling from 2 s to 5 minutes.
func Wait(failures int, last, now time.Time) time.Duration {
	const free = 4
	if failures <= free {
		return 0
	}
	pause := min(2*time.Second<<min(failures-free-1, 10), 5*time.Minute)
	return max(0, pause-now.Sub(last))
}
