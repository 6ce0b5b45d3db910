package app_test

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
)

func TestLog_HoldsNothingOfPatientsOrOfWhatWasTyped(t *testing.T) {
	t.Parallel()
	var log lines
	a, err := app.New(t.Context(), app.Config{
		DB: filepath.Join(t.TempDir(), "record.db"), Log: slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug})),
	})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Close()) })
	_, err = a.Desk.OpenAccount(t.Context(), desk.System(), desk.NewAccount{ID: "person-nurse", SignIn: "nurse", Name: "Somebody", Role: account.Nurse, Passphrase: passphrase})
	require.NoError(t, err)
	s := &scene{app: a, server: httptest.NewServer(a.Handler)}
	t.Cleanup(s.server.Close)
	nurse := s.client(t, account.Nurse)
	const typed = "KD-204 level=ERROR msg=forged"
	for _, path := range []string{"/patients/KD-204", "/wards/alder?q=KD-204", "/set-up/KD-204", "/KD-204", "/lines/KD-204/review"} {
		get(t, nurse, s.server.URL+path)
	}
	for _, path := range []string{"/lines/KD-204/review", "/wards/alder/admit", "/entries/KD-204/void", "/my-record/link"} {
		post(t, nurse, s.server.URL+path, url.Values{"entry": {typed}, "reference": {typed}, "why": {typed}, "written": {typed}})
	}
	status, _ := post(t, s.client(t, ""), s.server.URL+"/sign-in", url.Values{"sign_in": {"KD-204\nforged"}, "passphrase": {"KD-204 quiet mill"}})
	require.Equal(t, http.StatusUnprocessableEntity, status)

	got := log.String()
	require.Contains(t, got, `msg="sign in"`)
	require.Contains(t, got, "account=person-nurse")
	require.Contains(t, got, `refused="invalid: desk.sign-in-wrong"`)
	require.Contains(t, got, "route=/patients/{patient}")
	for _, secret := range []string{"KD-204", "forged", passphrase, "quiet mill"} {
		require.NotContains(t, got, secret)
	}
	for _, l := range strings.Split(strings.TrimSpace(got), "\n") {
		require.Regexp(t, "^time=", l, "one line for each event")
	}
}
