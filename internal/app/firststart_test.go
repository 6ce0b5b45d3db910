package app_test

import (
	"io"
	"net/http/httptest"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
)

// An empty record says where its first administrator comes from; one with
// people does not.
func TestSignIn_OfAnEmptyRecordTellsOfTheLink(t *testing.T) {
	t.Parallel()
	a, err := app.New(t.Context(), app.Config{DB: filepath.Join(t.TempDir(), "record.db")})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Close()) })
	server := httptest.NewServer(a.Handler)
	t.Cleanup(server.Close)
	answer, err := server.Client().Get(server.URL + "/sign-in")
	require.NoError(t, err)
	page, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Contains(t, string(page), "There is no account yet")
	s := newScene(t)
	require.NotContains(t, body(t, s.client(t, account.Nurse), s.server.URL+"/sign-in"), "There is no account yet")
}
