package app_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// acts are addresses at the bedside, each with a form that fits it.
var acts = []struct{ path, form string }{
	{"/wards/{ward}/admit", "subject=P&bed=1&group=adult&limb-0=left-arm&limb-why-0=fistula"},
	{"/patients/{patient}/place", "line=L&outcome=line&site=forearm&side=right&gauge=20&asepsis=full&attempt.1.result=placed&attempt.1.operator=person-nurse"},
	{"/patients/{patient}/place", "outcome=no-line&attempt.1.result=vein-rolled&attempt.1.site=wrist&attempt.1.side=left&attempt.1.gauge=22&attempt.1.operator=person-doctor"},
	{"/patients/{patient}/not-seen", "why=off-ward&returns_hours=2"},
	{"/patients/{patient}/transfer", "ward=birch&bed=3"},
	{"/patients/{patient}/discharge", "answer.line-1=out&reason.line-1=not-needed&complete.line-1=yes&answer.l0=left-in&why=at+home"},
	{"/patients/{patient}/facts", "group=child&watch=child"},
	{"/lines/{line}/look", "nothing_wrong=1"},
	{"/lines/{line}/review", "sign=pain&sign=redness&state=intact&needed=no"},
	{"/lines/{line}/dressing", "material=film"},
	{"/lines/{line}/remove", "reason=phlebitis&complete=yes"},
	{"/lines/{line}/site-check", "score=1"},
	{"/lines/{line}/justify", "rule=review-overdue&clinician=Dr+A&why=asleep&hours=4"},
	{"/lines/{line}/infection", "outcome=not-confirmed"},
	{"/lines/{line}/follow-up", "rule=review-overdue&note=spoke"},
	{"/entries/{entry}/void", "seen=E&why=other+arm"},
	{"/entries/{entry}/correct", "seen=E&why_corrected=other+arm&side=right&site=wrist&reason=leak&sign=pain&bed=2&ward=birch&material=gauze"},
	{"/entries/{entry}/undo", ""},
	{"/wards/{ward}/back-entry", ""},
}

// oddly is what a field may hold beside what fits it.
var oddly = []string{"", "0", "-1", "99999999999", "now", "unknown", "line", "forearm", "e0", "p0", "l0", "alder", "2026-03-29T01:30", "\x00", "<b>", strings.Repeat("é", 500)}

// moments are answers to when it was.
var moments = []string{
	"when=now", "when=now", "when=now", "when=now", "when=now", "when=now", "when=ago&when-ago=30", "when=ago&when-ago=400", "when=unknown", "when=day&when-date=2026-03-04",
	"when=typed&when-date=2026-03-04&when-clock=09:00", "when=typed&when-date=2026-03-29&when-clock=01:30", "when=typed&when-date=2031-01-01&when-clock=01:30",
}

// hospital is a record with which every sequence of requests begins, and the
// browsers of people of all roles.
type hospital struct {
	file    string
	now     time.Time
	cookies map[account.Role]*http.Cookie
	routes  []string // METHOD path
	values  map[string][]string
}

func newHospital(t *testing.T) *hospital {
	t.Helper()
	s := newScene(t)
	h := &hospital{file: filepath.Join(t.TempDir(), "begin.db"), now: s.now, cookies: map[account.Role]*http.Cookie{}, values: map[string][]string{}}
	require.NoError(t, s.app.Desk.SetWard(t.Context(), desk.System(), line.Ward{Ward: "birch", Name: "Birch", Zone: "Pacific/Auckland"}))
	base, err := url.Parse(s.server.URL)
	require.NoError(t, err)
	for _, role := range account.Roles {
		cookies := s.client(t, role).Jar.Cookies(base)
		h.cookies[role] = cookies[slices.IndexFunc(cookies, func(c *http.Cookie) bool { return c.Name == "dwellbook" })]
	}
	for name, value := range s.values {
		h.values[name] = []string{value, value, value, "none"}
	}
	for name, ids := range map[string][]string{
		"ward": {"birch"}, "patient": {"p0", "p0", "p1"}, "line": {"l0", "l0", "l1"}, "account": {"person-lead", "person-administrator"},
		"entry": {"entry-1", "e0", "e1", "e2", "e3", "e4", "e5", "e6", "e0.facts"}, "kind": {"png", "csv"}, "version": {"1"},
	} {
		h.values[name] = append(h.values[name], ids...)
	}
	routes, ok := s.app.Routes().(chi.Routes)
	require.True(t, ok)
	require.NoError(t, chi.Walk(routes, func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		if !strings.Contains(route, "*") && !strings.HasSuffix(route, "/changes") && (method == http.MethodGet || method == http.MethodPost) {
			h.routes = append(h.routes, method+" "+route)
		}
		return nil
	}))
	require.NoError(t, app.Backup(t.Context(), s.file, h.file))
	return h
}

// request draws the n-th one: mostly an act that fits its form, now and then anything
// anywhere, with fields put wrong.
func (h *hospital) request(r *rapid.T, n int) (method, path string, form url.Values) {
	method, form = http.MethodPost, url.Values{}
	pick := func(of string) string { return rapid.SampledFrom(h.values[of]).Draw(r, of) }
	if rapid.IntRange(0, 3).Draw(r, "bedside") > 0 {
		a := rapid.SampledFrom(acts).Draw(r, "act")
		path = a.path
		entry := fmt.Sprintf("e%d", n)
		if rapid.IntRange(0, 5).Draw(r, "again") == 0 {
			entry = pick("entry")
		}
		text := a.form + "&" + rapid.SampledFrom(moments).Draw(r, "when") + "&entry=" + entry
		text = strings.NewReplacer("=P&", "="+pick("patient")+"&", "=L&", "="+pick("line")+"&", "=E&", "="+pick("entry")+"&").Replace(text)
		form, _ = url.ParseQuery(text)
		if rapid.Bool().Draw(r, "confirmed") {
			form.Set("bed_confirmed", "yes")
		}
	} else {
		method, path, _ = strings.Cut(rapid.SampledFrom(h.routes).Draw(r, "route"), " ")
		for _, name := range rapid.SliceOfN(rapid.SampledFrom(names()), 0, 6).Draw(r, "fields") {
			form.Set(name, rapid.SampledFrom(oddly).Draw(r, name))
		}
	}
	for range rapid.SampledFrom([]int{0, 0, 0, 1, 2}).Draw(r, "wrong") {
		form.Set(rapid.SampledFrom(names()).Draw(r, "field"), rapid.SampledFrom(oddly).Draw(r, "value"))
	}
	for name := range h.values {
		if strings.Contains(path, "{"+name+"}") {
			path = strings.ReplaceAll(path, "{"+name+"}", url.PathEscape(pick(name)))
		}
	}
	return method, path, form
}

// names are all fields of the bedside's forms, and some of others.
func names() []string {
	seen := map[string]bool{"at": true, "known": true, "ward": true, "month": true, "from": true, "until": true, "role": true, "name": true, "zone": true, "text": true, "list": true, "sign_in": true}
	for _, a := range acts {
		form, _ := url.ParseQuery(a.form + "&when=&when-date=&when-clock=&when-ago=&entry=&withdraw=&note=&draft=&check=&repeat=&score=")
		for name := range form {
			seen[name] = true
		}
	}
	all := make([]string, 0, len(seen))
	for name := range seen {
		all = append(all, name)
	}
	slices.Sort(all)
	return all
}

// Whoever asks whatever in whatever order: no answer is a failure of the
// server's own, the log and the derived tables are those of the entries, and
// no entry of a patient contradicts another.
func TestRequests_AnySequenceByAnyRolesLeavesTheRecordValid(t *testing.T) {
	t.Parallel()
	h := newHospital(t)
	begin, err := os.ReadFile(h.file)
	require.NoError(t, err)
	dir := t.TempDir()
	recorded, tries := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		tries++
		file := filepath.Join(dir, fmt.Sprintf("%d.db", tries))
		require.NoError(r, os.WriteFile(file, begin, 0o600))
		now := h.now
		a, err := app.New(t.Context(), app.Config{DB: file, Clock: func() time.Time { return now }})
		require.NoError(r, err)
		defer func() { require.NoError(r, a.Close()) }()
		for n := range rapid.IntRange(5, 25).Draw(r, "requests") {
			method, path, form := h.request(r, n)
			role := rapid.SampledFrom(slices.Concat([]account.Role{""}, account.Roles, slices.Repeat([]account.Role{account.Nurse}, 8))).Draw(r, "role")
			now = now.Add(time.Duration(rapid.SampledFrom([]int{0, 0, 0, 1, 1, 2, 9}).Draw(r, "minutes")) * time.Minute)
			var request *http.Request
			if method == http.MethodGet {
				request = httptest.NewRequest(method, path+"?"+form.Encode(), nil)
			} else {
				request = httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
				request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			}
			if cookie := h.cookies[role]; cookie != nil {
				request.AddCookie(cookie)
			}
			answer := httptest.NewRecorder()
			a.Handler.ServeHTTP(answer, request)
			require.Less(r, answer.Code, 500, "%s %s as %q with %v", method, path, role, form)
			if method == http.MethodPost && answer.Code == http.StatusSeeOther && !strings.HasPrefix(answer.Header().Get("Location"), "/sign-in") {
				recorded++
			}
		}
		requireValid(r, a, file)
	})
	require.Greater(t, recorded, tries, "too little was recorded to prove anything")
	t.Logf("%d sequences, %d acts recorded", tries, recorded)
}

func requireValid(r *rapid.T, a *app.App, file string) {
	found, err := app.Verify(r.Context(), file, "")
	require.NoError(r, err)
	var said strings.Builder
	require.NoError(r, found.Write(&said))
	require.True(r, found.Clean(), said.String())
	for _, id := range []line.ID{"patient-1", "p0", "p1"} {
		page, err := a.Desk.Patient(r.Context(), desk.System(), id)
		if err != nil {
			continue // never admitted
		}
		require.Empty(r, page.Subject.Conflicts, "of %s", id)
	}
}
