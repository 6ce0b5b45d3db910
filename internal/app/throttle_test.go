package app_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
)

// tryAs tries to sign in.
func (s *scene) tryAs(t *testing.T, c *http.Client, name, secret string) int {
	t.Helper()
	status, _ := post(t, c, s.server.URL+"/sign-in", url.Values{"sign_in": {name}, "passphrase": {secret}})
	return status
}

func TestSignIn_GuessingDoesNotKeepThePersonOut(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	known := s.client(t, account.Nurse)
	post(t, known, s.server.URL+"/sign-out", nil)
	stranger := s.client(t, "")
	for range 5 {
		require.Equal(t, http.StatusUnprocessableEntity, s.tryAs(t, stranger, "nurse", "wrong river stone"))
	}
	require.Equal(t, http.StatusUnprocessableEntity, s.tryAs(t, stranger, "nurse", passphrase), "also the right one must wait")
	require.Equal(t, http.StatusSeeOther, s.tryAs(t, stranger, "doctor", passphrase), "somebody else at the same address need not")
	require.Equal(t, http.StatusSeeOther, s.tryAs(t, known, "nurse", passphrase), "nor the person, on a device that knows them")
	s.now = s.now.Add(3 * time.Second)
	require.Equal(t, http.StatusSeeOther, s.tryAs(t, s.client(t, ""), "nurse", passphrase), "two seconds later anybody may try")
}

func TestSignIn_AWardBehindOneAddressIsNotLockedOut(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	doctor := s.client(t, account.Doctor)
	guesser := s.client(t, "")
	for n := range 60 {
		s.tryAs(t, guesser, "name-"+string(rune('a'+n%26))+string(rune('a'+n/26)), "wrong river stone")
	}
	require.Equal(t, http.StatusUnprocessableEntity, s.tryAs(t, s.client(t, ""), "nurse", passphrase), "an unknown device at the address waits")
	require.Equal(t, http.StatusSeeOther, s.tryAs(t, doctor, "doctor", passphrase), "a known one goes on")
}
