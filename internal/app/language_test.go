package app_test

import (
	"html"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// preferring asks for pages in a language, as a browser does.
type preferring struct {
	http.RoundTripper
	accept string
}

func (p preferring) RoundTrip(r *http.Request) (*http.Response, error) {
	r.Header.Set("Accept-Language", p.accept)
	return p.RoundTripper.RoundTrip(r)
}

var (
	visible = regexp.MustCompile(`(?s)>([^<]+)<|(?:aria-label|alt|title|placeholder|data-failed|data-left|data-said)="([^"]*)"`)
	unread  = regexp.MustCompile(`(?s)<(script|style|code|pre|textarea)\b.*?</(script|style|code|pre|textarea)>|<[a-z]+[^>]* lang="en"[^>]*>[^<]*`)
	english = regexp.MustCompile(`\b(the|and|this|that|recorded|wards|lines?|looks?|overdue|of|with|patients?|choose|since|until|there|not|no|is|are)\b`)
	quoted  = regexp.MustCompile(`^(Viskosität|Dichte|Kanüle|Nadelfreier|Verlängerung|Übliches|Weites).*: `) // sources stand as they were published
	missing = regexp.MustCompile(`\[[a-z][a-z-]*\.[\w.-]+\]`)
)

func shownText(page string) string {
	var all []string
	for _, m := range visible.FindAllStringSubmatch(unread.ReplaceAllString(page, "<"), -1) {
		all = append(all, strings.TrimSpace(html.UnescapeString(m[1]+m[2])))
	}
	return strings.Join(all, "\n")
}

// asWritten are the texts that no catalogue holds, since they are the hospital's
// own: a policy's reasons and sources, and the values of its file.
func asWritten() *strings.Replacer {
	var texts []string
	for _, r := range audit.DefaultPolicy().Rules() {
		texts = append(texts, r.Why, r.Source)
		for _, s := range r.Settings {
			texts = append(texts, s.Key+" = "+s.Value)
		}
	}
	slices.SortFunc(texts, func(a, b string) int { return len(b) - len(a) }) // one may begin another
	var none []string
	for _, text := range texts {
		none = append(none, text, "")
	}
	return strings.NewReplacer(none...)
}

func TestLanguage_EveryPageSpeaksGermanToWhoeverAsks(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	routes, ok := s.app.Routes().(chi.Routes)
	require.True(t, ok)
	walked, own := 0, asWritten()
	for _, role := range append([]account.Role{""}, account.Roles...) {
		c := s.client(t, role)
		c.Transport = preferring{http.DefaultTransport, "de-AT, de;q=0.9, en;q=0.5"}
		require.NoError(t, chi.Walk(routes, func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
			if method != http.MethodGet || strings.Contains(route, "*") || strings.HasSuffix(route, "/changes") {
				return nil
			}
			path := route
			for name, value := range s.values {
				path = strings.ReplaceAll(path, "{"+name+"}", value)
			}
			answer, err := c.Get(s.server.URL + path)
			require.NoError(t, err)
			page, err := io.ReadAll(answer.Body)
			require.NoError(t, err)
			require.NoError(t, answer.Body.Close())
			if !strings.HasPrefix(answer.Header.Get("Content-Type"), "text/html") || answer.StatusCode == http.StatusSeeOther {
				return nil
			}
			walked++
			if strings.HasPrefix(string(page), "<!doctype") {
				require.Contains(t, string(page), `<html lang="de"`, path)
			}
			text := own.Replace(shownText(string(page)))
			require.NotRegexp(t, missing, text, path)
			for _, said := range strings.Split(text, "\n") {
				if english.MatchString(said) && !quoted.MatchString(said) {
					t.Errorf("%s says %q", path, said)
				}
			}
			return nil
		}))
	}
	require.Greater(t, walked, 120)
}

// The order: the person's own choice, the hospital's, the browser's, English.
func TestLanguage_ThePersonsChoiceComesBeforeTheHospitalsAndTheBrowsers(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	c := s.client(t, account.Nurse)
	speaks := func(tag string) {
		t.Helper()
		require.Contains(t, body(t, c, s.server.URL+"/wards"), `<html lang="`+tag+`"`)
		require.Contains(t, body(t, c, s.server.URL+"/wards/alder"), `<html lang="`+tag+`"`)
	}
	choose := func(tag string, status int) {
		t.Helper()
		answer, err := c.PostForm(s.server.URL+"/language", url.Values{"language": {tag}})
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		require.Equal(t, status, answer.StatusCode)
	}
	speaks("en-GB")
	c.Transport = preferring{http.DefaultTransport, "de"}
	speaks("de")
	require.NoError(t, s.app.Desk.SetHospital(t.Context(), desk.System(), line.Hospital{Name: "Larkwell", Zone: "Europe/London", Language: "en-GB"}))
	speaks("en-GB")
	choose("de", http.StatusSeeOther)
	c.Transport = preferring{http.DefaultTransport, "en"}
	speaks("de")
	require.Contains(t, body(t, c, s.server.URL+"/wards/alder"), "Ellenbeuge")
	require.Contains(t, body(t, s.client(t, account.Doctor), s.server.URL+"/wards/alder"), "elbow crease", "the board kept for one language is not shown in another")
	choose("tlh", http.StatusUnprocessableEntity)
	speaks("de")
	choose("", http.StatusSeeOther)
	speaks("en-GB")

	// An administrator who changes the account leaves the choice as it is.
	choose("de", http.StatusSeeOther)
	h, err := s.app.Desk.House(t.Context())
	require.NoError(t, err)
	nurse := h.People["person-nurse"]
	nurse.Name = "Nell Ashdown"
	require.NoError(t, s.app.Desk.ChangeAccount(t.Context(), s.person(t, "person-administrator"), nurse))
	speaks("de")
}

func TestLanguage_WhatMachinesReadIsWordedAlike(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	c := s.client(t, account.Lead)
	for _, path := range []string{"/audit.csv", "/compliance.csv?from=2026-03-01&to=2026-03-04&by=ward", "/outcomes/survival.csv", "/my-record/attempts.csv"} {
		c.Transport = preferring{http.DefaultTransport, "en"}
		plain := body(t, c, s.server.URL+path)
		c.Transport = preferring{http.DefaultTransport, "de"}
		require.Equal(t, plain, body(t, c, s.server.URL+path), path)
	}
}

func TestReadWords_RefusesWithFileAndLine(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	all, err := app.ReadWords("")
	require.NoError(t, err)
	require.Nil(t, all)
	require.NoError(t, os.Mkdir(filepath.Join(folder, "fr"), 0o700))
	file := filepath.Join(folder, "fr", "ours.toml")
	require.NoError(t, os.WriteFile(file, []byte("[\"nav.wards\"]\nother = \"Services\"\n"), 0o600))
	all, err = app.ReadWords(folder)
	require.NoError(t, err)
	require.True(t, all.Speaks("fr"))
	require.NoError(t, os.WriteFile(file, []byte("\n[\"nav.warts\"]\nother = \"Services\"\n"), 0o600))
	_, err = app.ReadWords(folder)
	var misuse *app.Misuse
	require.ErrorAs(t, err, &misuse)
	require.Contains(t, misuse.Text, "fr/ours.toml:2: ")
}
