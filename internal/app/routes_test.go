package app_test

import (
	"context"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// scene is a running product with one ward, one patient, one line and a person
// of each role.
type scene struct {
	app    *app.App
	file   string // its record
	server *httptest.Server
	now    time.Time
	clock  func() time.Time  // nil: stands at now
	values map[string]string // for the routes' parameters
}

// tell is the product's clock.
func (s *scene) tell() time.Time {
	if s.clock != nil {
		return s.clock()
	}
	return s.now
}

const passphrase = "quiet river stone"

// sceneNow is the moment at which a scene stands.
var sceneNow = time.Date(2026, 3, 4, 15, 10, 0, 0, time.UTC)

func newScene(t testing.TB) *scene {
	t.Helper()
	return newSceneWith(t, sceneNow, app.Config{})
}

func newSceneAt(t testing.TB, now time.Time) *scene {
	t.Helper()
	return newSceneWith(t, now, app.Config{})
}

// newSceneWith is a scene of a product that was started so.
func newSceneWith(t testing.TB, now time.Time, c app.Config) *scene {
	t.Helper()
	ctx := context.Background()
	s := &scene{now: now}
	s.file = filepath.Join(t.TempDir(), "record.db")
	c.DB, c.Clock = s.file, s.tell
	a, err := app.New(ctx, c)
	require.NoError(t, err)
	s.app = a
	require.NoError(t, a.Desk.SetStepRule(ctx, desk.System(), account.StepOptional))
	t.Cleanup(func() { require.NoError(t, s.app.Close()) })
	for _, role := range account.Roles {
		_, err := a.Desk.OpenAccount(ctx, desk.System(), desk.NewAccount{
			ID: line.ID("person-" + role), SignIn: string(role), Name: "Somebody " + string(role), Initials: "SB", Role: role, Passphrase: passphrase,
		})
		require.NoError(t, err)
	}
	require.NoError(t, a.Desk.SetWard(ctx, desk.System(), line.Ward{Ward: "alder", Name: "Alder", Zone: "Europe/London", Beds: []string{"1", "2", "3"}}))
	nurse, err := a.Desk.Person(ctx, "person-nurse")
	require.NoError(t, err)
	at := a.Desk.Now() - 300
	entry := func(id, on line.ID, body line.Body) line.Entry {
		return line.Entry{ID: id, Kind: body.Kind(), Subject: "patient-1", Line: on, Happened: at, Precision: line.ToMinute, Body: body}
	}
	_, err = a.Desk.Record(ctx, nurse, desk.Act{Entries: []line.Entry{
		entry("entry-1", "", line.Admission{Ward: "alder", Bed: "2", Reference: "KD-204"}),
		entry("entry-2", "line-1", line.Occasion{
			Outcome: line.WithLine, Site: line.ElbowCrease, Side: line.Left, Gauge: 22, Asepsis: line.AsepsisFull, Dressing: line.Film,
			Attempts: []line.Attempt{{Operator: line.Operator{Account: "person-doctor"}}},
		}),
	}})
	require.NoError(t, err)
	s.values = map[string]string{
		"ward": "alder", "patient": "patient-1", "line": "line-1", "entry": "entry-2", "account": "person-nurse",
		"share":   "none",
		"draft":   "none",
		"token":   "none",
		"tablet":  "none",
		"month":   "2026-03",
		"code":    "none",
		"version": "0",
		"chart":   "survival", "kind": "svg",
	}
	s.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { s.app.Handler.ServeHTTP(w, r) }))
	t.Cleanup(s.server.Close)
	return s
}

// restart ends the product and starts it again over the same record.
func (s *scene) restart(t *testing.T) {
	t.Helper()
	require.NoError(t, s.app.Close())
	a, err := app.New(context.Background(), app.Config{DB: s.file, Clock: s.tell})
	require.NoError(t, err)
	s.app = a
}

// client is a browser without a person, or with one signed in.
func (s *scene) client(t testing.TB, role account.Role) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	c := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	if role == "" {
		return c
	}
	answer, err := c.PostForm(s.server.URL+"/sign-in", url.Values{"sign_in": {string(role)}, "passphrase": {passphrase}})
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusSeeOther, answer.StatusCode, "sign in as %s", role)
	return c
}

// needs is the right each route asks for; "" is any signed-in person, "-" is nobody at all.
func needs(path string) account.Right {
	for _, n := range []struct {
		prefix string
		right  account.Right
	}{
		{"/static/", "-"}, {"/healthz", "-"}, {"/readyz", "-"}, {"/sign-in", "-"}, {"/set-up/", "-"}, {"/welcome/", "-"},
		{"/deliver", "-"}, {"/worker.js", "-"}, {"/manifest.webmanifest", "-"}, {"/offline", "-"}, {"/device-terms", account.RecordCare},
		{"/wards/{ward}/admit", account.RecordCare}, {"/wards/{ward}/round", account.RecordCare}, {"/wards/{ward}/back-entry", account.RecordCare},
		{"/wards/{ward}/take-along", account.RecordCare}, {"/downtime", account.RecordCare}, {"/wards", account.SeeWards},
		{"/choose-size", account.SeeWards},
		{"/patients/{patient}/", account.RecordCare}, {"/patients/{patient}", account.SeeWards},
		{"/lines/{line}/infection", account.JudgeLines}, {"/lines/{line}/follow-up", account.JudgeLines},
		{"/l/", account.RecordCare}, {"/scan", account.RecordCare},
		{"/lines/{line}/", account.RecordCare}, {"/lines/{line}", account.SeeWards},
		{"/entries/", account.RecordCare},
		{"/audit", account.SeeAudit}, {"/access", account.SeeAudit}, {"/report", account.SeeAudit}, {"/compliance", account.SeeAudit}, {"/walk-round", account.SeeAudit},
		{"/calendar", account.SeeAudit}, {"/answered", account.SeeAudit}, {"/outcomes", account.SeeAudit},
		{"/my-record", account.SeeOwnRecord}, {"/record", account.SeeProof},
		{"/policy/edit", account.EditPolicy}, {"/policy", account.SeePolicy},
		{"/people", account.ManagePeople}, {"/tablets", account.ManagePeople}, {"/ward-values", account.ManagePeople}, {"/hospital", account.ManagePeople}, {"/begin", account.ManagePeople}, {"/backups", account.ManagePeople},
	} {
		if strings.HasPrefix(path, n.prefix) {
			return n.right
		}
	}
	return ""
}

func TestRoutes_EachLetsInWhomItShould(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	routes, ok := s.app.Routes().(chi.Routes)
	require.True(t, ok)
	walked := 0
	for _, role := range append([]account.Role{""}, account.Roles...) {
		c := s.client(t, role)
		err := chi.Walk(routes, func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
			if strings.Contains(route, "*") || strings.HasSuffix(route, "/changes") || route == "/sign-out" || route == "/sessions/end" || method != http.MethodGet && method != http.MethodPost {
				return nil
			}
			walked++
			path := route
			for name, value := range s.values {
				path = strings.ReplaceAll(path, "{"+name+"}", value)
			}
			request, err := http.NewRequest(method, s.server.URL+path, nil)
			require.NoError(t, err)
			answer, err := c.Do(request)
			require.NoError(t, err)
			require.NoError(t, answer.Body.Close())
			right := needs(route)
			switch {
			case right == "-":
				require.NotEqual(t, http.StatusForbidden, answer.StatusCode, "%s %s as %q", method, route, role)
			case role == "":
				require.Equal(t, http.StatusSeeOther, answer.StatusCode, "%s %s as nobody", method, route)
				require.Contains(t, answer.Header.Get("Location"), "/sign-in")
			case right != "" && !role.May(right):
				require.Equal(t, http.StatusForbidden, answer.StatusCode, "%s %s as %s", method, route, role)
			default:
				require.NotEqual(t, http.StatusForbidden, answer.StatusCode, "%s %s as %s", method, route, role)
				require.NotContains(t, answer.Header.Get("Location"), "/sign-in", "%s %s as %s", method, route, role)
			}
			require.Less(t, answer.StatusCode, 500, "%s %s as %q", method, route, role)
			return nil
		})
		require.NoError(t, err)
	}
	require.Greater(t, walked, 200)
}

func (s *scene) person(t *testing.T, id line.ID) desk.Person {
	t.Helper()
	p, err := s.app.Desk.Person(context.Background(), id)
	require.NoError(t, err)
	return p
}
