package app_test

import (
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
)

const pin = "402917"

// wardTablet is a device that the administrator enrolled and signed out of.
func (s *scene) wardTablet(t *testing.T) *http.Client {
	t.Helper()
	c := s.client(t, account.Administrator)
	status, _ := post(t, c, s.server.URL+"/tablets", url.Values{"name": {"Alder 1"}})
	require.Equal(t, http.StatusSeeOther, status)
	post(t, c, s.server.URL+"/sign-out", nil)
	return c
}

func (s *scene) byPIN(t *testing.T, c *http.Client, pin string) int {
	t.Helper()
	status, _ := post(t, c, s.server.URL+"/sign-in/pin", url.Values{"person": {"person-nurse"}, "pin": {pin}})
	return status
}

// signOn signs the nurse in by passphrase and out again.
func (s *scene) signOn(t *testing.T, c *http.Client) {
	t.Helper()
	require.Equal(t, http.StatusSeeOther, s.tryAs(t, c, "nurse", passphrase))
	post(t, c, s.server.URL+"/sign-out", nil)
}

func TestPIN_WorksOnATabletThatKnowsThePersonAndNowhereElse(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	tablet, phone := s.wardTablet(t), s.client(t, account.Nurse)
	status, _ := post(t, phone, s.server.URL+"/pin", url.Values{"current": {"wrong river stone"}, "pin": {pin}})
	require.Equal(t, http.StatusUnprocessableEntity, status, "only with the passphrase")
	status, _ = post(t, phone, s.server.URL+"/pin", url.Values{"current": {passphrase}, "pin": {pin}})
	require.Equal(t, http.StatusSeeOther, status)
	post(t, phone, s.server.URL+"/sign-out", nil)

	require.Equal(t, http.StatusUnprocessableEntity, s.byPIN(t, phone, pin), "not on a phone")
	require.Equal(t, http.StatusUnprocessableEntity, s.byPIN(t, tablet, pin), "not before a sign-in by passphrase there")
	s.signOn(t, tablet)
	require.Contains(t, body(t, tablet, s.server.URL+"/sign-in"), "Somebody nurse")
	require.NotContains(t, body(t, phone, s.server.URL+"/sign-in"), "Somebody nurse")
	require.Equal(t, http.StatusUnprocessableEntity, s.byPIN(t, tablet, "402918"))
	require.Equal(t, http.StatusSeeOther, s.byPIN(t, tablet, pin))
	status, _ = get(t, tablet, s.server.URL+"/wards")
	require.Equal(t, http.StatusOK, status)

	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	other := &http.Client{Jar: jar, CheckRedirect: tablet.CheckRedirect}
	require.Equal(t, http.StatusUnprocessableEntity, s.byPIN(t, other, pin), "not without the tablet's cookie")
}

func TestPIN_GuessedTooOftenAsksForThePassphrase(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	tablet := s.wardTablet(t)
	post(t, s.client(t, account.Nurse), s.server.URL+"/pin", url.Values{"current": {passphrase}, "pin": {pin}})
	s.signOn(t, tablet)
	for range account.PINTries {
		require.Equal(t, http.StatusUnprocessableEntity, s.byPIN(t, tablet, "402918"))
	}
	require.Equal(t, http.StatusUnprocessableEntity, s.byPIN(t, tablet, pin), "also the right one is refused")
	s.signOn(t, tablet)
	require.Equal(t, http.StatusSeeOther, s.byPIN(t, tablet, pin))
}

func TestPIN_EndsWithTheTablet(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	tablet := s.wardTablet(t)
	post(t, s.client(t, account.Nurse), s.server.URL+"/pin", url.Values{"current": {passphrase}, "pin": {pin}})
	s.signOn(t, tablet)
	list, err := s.app.Desk.Tablets(t.Context(), s.person(t, "person-administrator"))
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, "Alder 1", list[0].Name)
	admin := s.client(t, account.Administrator)
	status, _ := post(t, admin, s.server.URL+"/tablets/"+list[0].Device+"/drop", nil)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, http.StatusUnprocessableEntity, s.byPIN(t, tablet, pin))
}

func TestPIN_IsNotForWhoSeesTheWholeHospital(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	for _, role := range []account.Role{account.Lead, account.Administrator} {
		status, _ := post(t, s.client(t, role), s.server.URL+"/pin", url.Values{"current": {passphrase}, "pin": {pin}})
		require.Equal(t, http.StatusForbidden, status, role)
	}
}
