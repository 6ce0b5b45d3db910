package static_test

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/web/static"
)

func get(t *testing.T, url string, headers ...string) *http.Response {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, url, nil)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	static.Handler().ServeHTTP(w, r)
	return w.Result()
}

func TestHandlerServesEachKindOfFile(t *testing.T) {
	t.Parallel()
	kinds := map[string]string{
		"dwellbook.css":                      "text/css; charset=utf-8",
		"dwellbook.js":                       "text/javascript; charset=utf-8",
		"atkinson-hyperlegible-next.woff2":   "font/woff2",
		"atkinson-hyperlegible-next.OFL.txt": "text/plain; charset=utf-8",
		"mark.svg":                           "image/svg+xml",
	}
	for name, kind := range kinds {
		answer := get(t, static.URL(name))
		require.Equal(t, http.StatusOK, answer.StatusCode, name)
		require.Equal(t, kind, answer.Header.Get("Content-Type"), name)
		require.Contains(t, answer.Header.Get("Cache-Control"), "immutable", name)
		require.Equal(t, "nosniff", answer.Header.Get("X-Content-Type-Options"), name)
	}
}

// All script that a phone can be sent, packed: 40 kB, the project's own budget.
func TestScript_StaysSmall(t *testing.T) {
	t.Parallel()
	scripts, err := filepath.Glob("*.js")
	require.NoError(t, err)
	require.NotEmpty(t, scripts)
	total := 0
	for _, name := range scripts {
		packed, err := io.ReadAll(get(t, static.URL(name), "Accept-Encoding", "gzip").Body)
		require.NoError(t, err)
		total += len(packed)
	}
	require.Less(t, total, 40_000)
}

// A file asked for without the hash of what it holds now must be checked again
// next time, or an old page would keep a new file under an old name.
func TestHandlerKeepsOnlyTheRightHash(t *testing.T) {
	t.Parallel()
	for _, url := range []string{"/static/dwellbook.css", "/static/dwellbook.css?v=000000000000"} {
		require.Equal(t, "no-cache", get(t, url).Header.Get("Cache-Control"), url)
	}
}

func TestHandlerPacksWhatGetsSmaller(t *testing.T) {
	t.Parallel()
	plain, err := io.ReadAll(get(t, static.URL("dwellbook.css")).Body)
	require.NoError(t, err)

	answer := get(t, static.URL("dwellbook.css"), "Accept-Encoding", "br, gzip;q=0.8")
	require.Equal(t, "gzip", answer.Header.Get("Content-Encoding"))
	unpack, err := gzip.NewReader(answer.Body)
	require.NoError(t, err)
	unpacked, err := io.ReadAll(unpack)
	require.NoError(t, err)
	require.Equal(t, plain, unpacked)

	refused := get(t, static.URL("dwellbook.css"), "Accept-Encoding", "gzip;q=0, identity")
	require.Empty(t, refused.Header.Get("Content-Encoding"))
	font := get(t, static.URL("atkinson-hyperlegible-next.woff2"), "Accept-Encoding", "gzip")
	require.Empty(t, font.Header.Get("Content-Encoding"))
}

func TestHandlerAnswersWhatIsKeptAlready(t *testing.T) {
	t.Parallel()
	first := get(t, static.URL("dwellbook.js"))
	again := get(t, static.URL("dwellbook.js"), "If-None-Match", first.Header.Get("ETag"))
	require.Equal(t, http.StatusNotModified, again.StatusCode)
}

func TestHandlerKnowsNothingElse(t *testing.T) {
	t.Parallel()
	for _, url := range []string{"/static/", "/static/static.go", "/static/../static.go", "/static/none.css"} {
		require.Equal(t, http.StatusNotFound, get(t, url).StatusCode, url)
	}
	require.Panics(t, func() { static.URL("none.css") })
}

// The stylesheet asks for the typeface by the address that is kept for a year,
// and for nothing from outside.
func TestStylesheetStandsAlone(t *testing.T) {
	t.Parallel()
	css, err := io.ReadAll(get(t, static.URL("dwellbook.css")).Body)
	require.NoError(t, err)
	require.Contains(t, string(css), static.URL("atkinson-hyperlegible-next.woff2"))
	require.False(t, strings.Contains(string(css), "http"), "an address from outside")
}
