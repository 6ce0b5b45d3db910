package account

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"github.com/ccojocar/zxcvbn-go"

	"dwellbook/internal/fault"
)

// ShortestPassphrase is the least number of characters in a passphrase.
const ShortestPassphrase = 12

const (
	longestPassphrase = 512 // bytes
	weighedPart       = 72  // bytes that are weighed: the time that takes grows with their square
	leastStrength     = 2   // of 0 to 4: more than 10^6 guesses beyond the commonest
	shortestName      = 3   // letters of a name that a passphrase must not hold
)

// CheckPassphrase refuses a passphrase that is too short, holds a name of its
// person, or is easily guessed: made of common passwords, names, words, dates,
// rows of keys or repeats (zxcvbn's lists and estimate: Wheeler 2016, USENIX
// Security).
func CheckPassphrase(passphrase string, names ...string) error {
	words := nameWords(names)
	switch {
	case utf8.RuneCountInString(passphrase) < ShortestPassphrase:
		return fault.Field("passphrase", "account.passphrase-short", "least", ShortestPassphrase)
	case len(passphrase) > longestPassphrase:
		return fault.Field("passphrase", "account.passphrase-long")
	case holdsAny(strings.ToLower(passphrase), words):
		return fault.Field("passphrase", "account.passphrase-name")
	case zxcvbn.PasswordStrength(passphrase[:min(len(passphrase), weighedPart)], append(words, "dwellbook")).Score < leastStrength:
		return fault.Field("passphrase", "account.passphrase-common")
	}
	return nil
}

// nameWords are the words of names, in small letters, without the shortest.
func nameWords(names []string) (words []string) {
	for _, n := range names {
		for _, w := range strings.FieldsFunc(strings.ToLower(n), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			if utf8.RuneCountInString(w) >= shortestName {
				words = append(words, w)
			}
		}
	}
	return words
}

func holdsAny(text string, words []string) bool {
	for _, w := range words {
		if strings.Contains(text, w) {
			return true
		}
	}
	return false
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
