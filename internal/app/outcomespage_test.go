package app_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/outcomes"
	"dwellbook/web/view"
)

// invented serves the invented hospital to its lead.
func invented(t *testing.T) (lead *http.Client, server, db string, now time.Time) {
	t.Helper()
	now = time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	db = filepath.Join(t.TempDir(), "record.db")
	_, err := app.MakeDemo(context.Background(), db, 1, now)
	require.NoError(t, err)
	a, err := app.New(context.Background(), app.Config{DB: db, Clock: func() time.Time { return now }})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Close()) })
	s := httptest.NewServer(a.Handler)
	t.Cleanup(s.Close)
	lead = (&scene{server: s}).client(t, "")
	status, _ := post(t, lead, s.URL+"/sign-in", url.Values{"sign_in": {"lead"}, "passphrase": {app.DemoPassphrase}})
	require.Equal(t, http.StatusSeeOther, status)
	return lead, s.URL, db, now
}

// fetch gives an answer whole.
func fetch(t *testing.T, c *http.Client, address string) (*http.Response, []byte) {
	t.Helper()
	answer, err := c.Get(address)
	require.NoError(t, err)
	all, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return answer, all
}

var (
	noSentence = regexp.MustCompile(`\[[a-z]+[a-z-]*\.[\w.-]+\]|<no value>|\{\{`)
	noNumber   = regexp.MustCompile(`\bNaN\b|[+-]?\bInf\b`)
)

func sound(t *testing.T, text []byte, what string) {
	t.Helper()
	require.NotRegexp(t, noSentence, string(text), what)
	require.NotRegexp(t, noNumber, string(text), what)
}

var chartsOfPage = []string{"survival", "ends", "rates", "funnel", "phlebitis", "infection-suspected", "infection-confirmed"}

func TestOutcomesPage_OfTheInventedHospital(t *testing.T) {
	t.Parallel()
	lead, server, db, now := invented(t)
	t.Run("every grouping and cause", func(t *testing.T) { drawsEveryGroupingAndCause(t, lead, server) })
	t.Run("each chart as a file", func(t *testing.T) { givesEachChartAsAFile(t, lead, server, db, now) })
}

func drawsEveryGroupingAndCause(t *testing.T, lead *http.Client, server string) {
	for _, by := range append(outcomes.Bys(), outcomes.ByNothing) {
		answer, page := fetch(t, lead, server+"/outcomes?by="+by.String())
		require.Equal(t, http.StatusOK, answer.StatusCode)
		sound(t, page, by.String())
		for _, name := range chartsOfPage {
			require.Contains(t, string(page), `id="title-`+name+`"`)
		}
		require.Contains(t, string(page), `id="chart-survival`)
		answer, page = fetch(t, lead, server+"/outcomes?like-for-like=yes&by="+by.String())
		require.Equal(t, http.StatusOK, answer.StatusCode)
		sound(t, page, by.String())
		require.Contains(t, string(page), `id="like-for-like"`)
	}
	for _, cause := range view.Causes() {
		answer, page := fetch(t, lead, server+"/outcomes?cause="+cause.String())
		require.Equal(t, http.StatusOK, answer.StatusCode)
		sound(t, page, cause.String())
	}
}

func givesEachChartAsAFile(t *testing.T, lead *http.Client, server, db string, now time.Time) {
	rows := map[string][][]string{}
	for _, name := range chartsOfPage {
		address := server + "/outcomes/" + name
		answer, table := fetch(t, lead, address+".csv?by=site")
		require.Equal(t, http.StatusOK, answer.StatusCode, name)
		require.Equal(t, "text/csv; charset=utf-8", answer.Header.Get("Content-Type"))
		require.Equal(t, `attachment; filename="`+name+`.csv"`, answer.Header.Get("Content-Disposition"))
		sound(t, table, name)
		if len(table) > 1 {
			read, err := csv.NewReader(bytes.NewReader(table)).ReadAll() // every row as long as its head
			require.NoError(t, err, name)
			rows[name] = read
		}

		answer, drawing := fetch(t, lead, address+".svg?by=site")
		if answer.StatusCode == http.StatusNotFound {
			require.Equal(t, "infection-confirmed", name, "only the rarest may have nothing to draw")
			continue
		}
		require.Equal(t, http.StatusOK, answer.StatusCode, name)
		require.Equal(t, "image/svg+xml", answer.Header.Get("Content-Type"))
		sound(t, drawing, name)
		wellFormed(t, drawing, name)

		answer, picture := fetch(t, lead, address+".png?by=site")
		require.Equal(t, http.StatusOK, answer.StatusCode, name)
		require.Equal(t, "image/png", answer.Header.Get("Content-Type"))
		image, err := png.Decode(bytes.NewReader(picture))
		require.NoError(t, err, name)
		require.Greater(t, image.Bounds().Dx(), 600)
		require.Greater(t, image.Bounds().Dy(), 200)
	}
	// The numbers are those of the command.
	survival := rows["survival"]
	require.Equal(t, []string{"Group", "Lines", "Failed", "Half fail within", "95 % from", "95 % to", "At 24 h"}, survival[0][:7])
	require.Equal(t, "Followed at 24 h", survival[0][9])
	b, _ := became(t, app.OutcomesQuery{DB: db, From: "2025-11-26", To: "2026-11-26", By: "site", AtHours: "24", Transform: "loglog"}, now)
	require.Len(t, survival, 1+len(b.Groups))
	for i, g := range b.Groups {
		row := survival[1+i]
		require.Equal(t, g.Name, strings.ToLower(row[0]))
		require.Equal(t, strconv.Itoa(g.Lines), row[1])
		require.Equal(t, strconv.Itoa(g.Failures), row[2])
		share, err := strconv.ParseFloat(row[6], 64)
		require.NoError(t, err)
		require.InEpsilon(t, *g.Survival[0].Estimate, share, 1e-5)
		require.Equal(t, strconv.Itoa(g.Survival[0].AtRisk), row[9])
	}
	require.Equal(t, []string{"Ward", "Events", "Cannula-days"}, rows["rates"][0][:3])
	wards, _ := became(t, app.OutcomesQuery{DB: db, From: "2025-11-26", To: "2026-11-26", By: "ward", AtHours: "24", Transform: "loglog"}, now)
	require.Len(t, rows["rates"], 1+len(wards.Groups))
	events := map[string]string{}
	for _, row := range rows["rates"][1:] {
		events[row[0]] = row[1]
	}
	for _, g := range wards.Groups {
		require.Equal(t, strconv.Itoa(g.Failing.Events), events[g.Name], g.Name)
	}
}

func wellFormed(t *testing.T, text []byte, what string) {
	t.Helper()
	for d := xml.NewDecoder(bytes.NewReader(text)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		require.NoError(t, err, what)
		if e, ok := token.(xml.StartElement); ok {
			require.NotContains(t, []string{"script", "image", "foreignObject"}, e.Name.Local, what)
		}
	}
}

func TestOutcomesPage_KeepsWhatWasTypedBesideWhatIsWrong(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	for query, keeps := range map[string][]string{
		"from=2026-02-30&to=2026-03-01&by=site&cause=leak": {`value="2026-02-30"`, `value="2026-03-01"`, `value="site" selected`, `value="leak" selected`},
		"from=2026-03-02&to=2026-03-01&by=ward":            {`value="2026-03-02"`, `value="2026-03-01"`, `value="ward" selected`},
		"from=2026-02-03&by=nurse":                         {`value="2026-02-03"`},
		"from=2026-02-03&cause=not-needed&by=gauge":        {`value="2026-02-03"`, `value="gauge" selected`},
	} {
		answer, page := fetch(t, lead, s.server.URL+"/outcomes?"+query)
		require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode, query)
		sound(t, page, query)
		require.Contains(t, string(page), `aria-invalid="true"`, query)
		for _, kept := range keeps {
			require.Contains(t, string(page), kept, query)
		}
		answer, _ = fetch(t, lead, s.server.URL+"/outcomes/survival.csv?"+query)
		require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode, query)
	}
}

func TestOutcomesPage_SaysSoWhereThereIsNothing(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	for _, query := range []string{"", "from=2020-01-01&to=2020-02-01", "from=2030-01-01&to=2030-02-01&by=operator-role&like-for-like=yes", "from=2026-03-04&to=2026-03-04"} {
		answer, page := fetch(t, lead, s.server.URL+"/outcomes?"+query)
		require.Equal(t, http.StatusOK, answer.StatusCode, query)
		sound(t, page, query)
		require.Contains(t, string(page), "Too few to tell", query)
	}
	_, page := fetch(t, lead, s.server.URL+"/outcomes?from=2030-01-01&to=2030-02-01")
	require.Contains(t, string(page), "1 Jan 2030 to 1 Jan 2030")
	for path, want := range map[string]int{
		"survival.svg?from=2020-01-01&to=2020-02-01": http.StatusNotFound, "survival.csv?from=2020-01-01&to=2020-02-01": http.StatusOK,
		"survival.pdf": http.StatusNotFound, "nothing.svg": http.StatusNotFound,
	} {
		answer, _ := fetch(t, lead, s.server.URL+"/outcomes/"+path)
		require.Equal(t, want, answer.StatusCode, path)
	}
	for _, role := range []account.Role{account.Nurse, account.Doctor, account.Administrator} {
		for _, path := range []string{"/outcomes", "/outcomes/survival.csv", "/outcomes/rates.png"} {
			answer, _ := fetch(t, s.client(t, role), s.server.URL+path)
			require.Equal(t, http.StatusForbidden, answer.StatusCode, "%s as %s", path, role)
		}
	}
}
