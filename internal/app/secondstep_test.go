package app_test

import (
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"encoding/base32"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
)

var (
	shownKey  = regexp.MustCompile(`<code>([A-Z2-7 ]{39})</code>`)
	shownCode = regexp.MustCompile(`<code>([A-Z2-7]{5}-[A-Z2-7]{5})</code>`)
)

// enrol sets the second step of whoever the client is up, as a person would.
func (s *scene) enrol(t *testing.T, c *http.Client) (key account.CodeKey, recovery []string) {
	t.Helper()
	shown := shownKey.FindStringSubmatch(body(t, c, s.server.URL+"/second-step"))
	require.NotNil(t, shown, "the key is shown")
	raw, err := base32.StdEncoding.DecodeString(strings.ReplaceAll(shown[1], " ", ""))
	require.NoError(t, err)
	key = raw
	answer, err := c.PostForm(s.server.URL+"/second-step", url.Values{"code": {key.Code(account.CodeStep(s.now))}})
	require.NoError(t, err)
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusOK, answer.StatusCode)
	for _, m := range shownCode.FindAllStringSubmatch(html.UnescapeString(string(text)), -1) {
		recovery = append(recovery, m[1])
	}
	require.Len(t, recovery, 10)
	return key, recovery
}

func TestSecondStep_IsAskedForAtSignIn(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	key, recovery := s.enrol(t, s.client(t, account.Lead))
	s.now = s.now.Add(time.Minute)
	c := s.client(t, "")
	code := func(code string) (int, string) {
		return post(t, c, s.server.URL+"/sign-in/code", url.Values{"code": {code}, "to": {"/audit"}})
	}
	begin := func() {
		status, to := post(t, c, s.server.URL+"/sign-in", url.Values{"sign_in": {"lead"}, "passphrase": {passphrase}, "to": {"/audit"}})
		require.Equal(t, http.StatusSeeOther, status)
		require.Equal(t, "/sign-in/code?to=%2Faudit", to)
		_, to = get(t, c, s.server.URL+"/audit")
		require.Contains(t, to, "/sign-in", "the passphrase alone lets nobody in")
	}

	begin()
	status, _ := code("000000")
	require.Equal(t, http.StatusUnprocessableEntity, status)
	status, to := code(key.Code(account.CodeStep(s.now)))
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/audit", to)
	status, _ = get(t, c, s.server.URL+"/audit")
	require.Equal(t, http.StatusOK, status)

	begin()
	status, _ = code(key.Code(account.CodeStep(s.now)))
	require.Equal(t, http.StatusUnprocessableEntity, status, "the same code does not count twice")
	status, _ = code(strings.ToLower(recovery[0]))
	require.Equal(t, http.StatusSeeOther, status)
	begin()
	status, _ = code(recovery[0])
	require.Equal(t, http.StatusUnprocessableEntity, status, "nor does a recovery code")

	s.now = s.now.Add(6 * time.Minute)
	_, to = code(recovery[1])
	require.Equal(t, "/sign-in", to, "a passphrase given long ago counts no more")
}

func TestSecondStep_GuessedCodesWait(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	key, _ := s.enrol(t, s.client(t, account.Lead))
	s.now = s.now.Add(time.Minute)
	c := s.client(t, "")
	require.Equal(t, http.StatusSeeOther, s.tryAs(t, c, "lead", passphrase))
	for range 5 {
		post(t, c, s.server.URL+"/sign-in/code", url.Values{"code": {"000000"}})
	}
	status, _ := post(t, c, s.server.URL+"/sign-in/code", url.Values{"code": {key.Code(account.CodeStep(s.now))}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
}

func TestSecondStep_RequiredLetsALeadDoNothingElseFirst(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	ctx := t.Context()
	for rule, want := range map[account.StepRule]map[account.Role]string{
		account.StepOptional: {account.Lead: "/", account.Nurse: "/"},
		account.StepAsked:    {account.Lead: "/second-step", account.Administrator: "/second-step", account.Nurse: "/"},
		account.StepRequired: {account.Lead: "/second-step", account.Administrator: "/second-step", account.Doctor: "/"},
	} {
		require.NoError(t, s.app.Desk.SetStepRule(ctx, desk.System(), rule))
		for role, place := range want {
			_, to := post(t, s.client(t, ""), s.server.URL+"/sign-in", url.Values{"sign_in": {string(role)}, "passphrase": {passphrase}})
			require.Equal(t, place, to, "%s for a %s", rule, role)
		}
	}
	require.NoError(t, s.app.Desk.SetStepRule(ctx, desk.System(), account.StepAsked))
	status, _ := get(t, s.client(t, account.Lead), s.server.URL+"/audit")
	require.Equal(t, http.StatusOK, status, "it can be put off")
	require.NoError(t, s.app.Desk.SetStepRule(ctx, desk.System(), account.StepRequired))
	lead := s.client(t, account.Lead)
	_, to := get(t, lead, s.server.URL+"/audit")
	require.Equal(t, "/second-step", to)
	s.enrol(t, lead)
	status, _ = get(t, lead, s.server.URL+"/audit")
	require.Equal(t, http.StatusOK, status)
}

func TestSecondStep_AnAdministratorTakesItOff(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	s.enrol(t, lead)
	admin := s.client(t, account.Administrator)
	status, _ := post(t, admin, s.server.URL+"/people/person-lead/second-step/reset", nil)
	require.Equal(t, http.StatusSeeOther, status)
	_, to := get(t, lead, s.server.URL+"/audit")
	require.Contains(t, to, "/sign-in", "sessions end with it")
	_, to = post(t, lead, s.server.URL+"/sign-in", url.Values{"sign_in": {"lead"}, "passphrase": {passphrase}})
	require.Equal(t, "/", to)
	status, _ = post(t, admin, s.server.URL+"/people/person-administrator/second-step/reset", nil)
	require.Equal(t, http.StatusUnprocessableEntity, status, "not their own")
}

func TestSecondStep_IsSetUpAgainWithACode(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	first, recovery := s.enrol(t, lead)
	status, _ := post(t, lead, s.server.URL+"/second-step/renew", url.Values{"code": {"000000"}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	status, _ = post(t, lead, s.server.URL+"/second-step/renew", url.Values{"code": {recovery[3]}})
	require.Equal(t, http.StatusSeeOther, status)
	second, _ := s.enrol(t, lead)
	require.NotEqual(t, first, second)
}
