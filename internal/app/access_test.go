package app_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
)

func TestAccess_TellsTheLeadWhoOpenedWhichLine(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	require.NotContains(t, body(t, lead, s.server.URL+"/access"), "KD-204")
	get(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-1")
	get(t, s.client(t, account.Doctor), s.server.URL+"/patients/patient-1")

	all := body(t, lead, s.server.URL+"/access")
	for _, want := range []string{"KD-204", "Somebody nurse", "Somebody doctor", `href="/lines/line-1"`, "elbow crease", "patient’s page"} {
		require.Contains(t, all, want)
	}
	require.Less(t, strings.Index(all, "Somebody doctor"), strings.Index(all, "Somebody nurse"), "newest first")

	status, to := post(t, lead, s.server.URL+"/access", url.Values{"reference": {" KD-204 "}})
	require.Equal(t, http.StatusSeeOther, status)
	require.NotContains(t, to, "KD-204", "no reference stands in an address")
	require.Contains(t, body(t, lead, s.server.URL+to), "Somebody nurse")
	require.Contains(t, body(t, lead, s.server.URL+to), "who opened this patient", "to ask is noted too")

	status, _ = post(t, lead, s.server.URL+"/access", url.Values{"reference": {"KD-999"}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	status, _ = get(t, lead, s.server.URL+"/access?patient=nobody")
	require.Equal(t, http.StatusNotFound, status)
}
