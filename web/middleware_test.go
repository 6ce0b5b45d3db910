package web

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// guarded is a handler that reads its body behind what every route stands behind.
func guarded(read *int64, failed *error) http.Handler {
	return headers(http.NewCrossOriginProtection().Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		*read, *failed = io.Copy(io.Discard, r.Body)
		w.WriteHeader(http.StatusNoContent)
	})))
}

func TestHeaders_LetNothingInFromOutside(t *testing.T) {
	t.Parallel()
	var n int64
	var err error
	answer := httptest.NewRecorder()
	guarded(&n, &err).ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/", nil))
	// OWASP's HTTP headers and CSP cheat sheets, from memory.
	policy := map[string]string{}
	for _, directive := range strings.Split(answer.Header().Get("Content-Security-Policy"), "; ") {
		name, sources, _ := strings.Cut(directive, " ")
		policy[name] = sources
	}
	require.Equal(t, map[string]string{
		"default-src": "'none'", "script-src": "'self'", "style-src": "'self'", "img-src": "'self'", "manifest-src": "'self'", "font-src": "'self'",
		"connect-src": "'self'", "form-action": "'self'", "base-uri": "'none'", "frame-ancestors": "'none'",
	}, policy, "nothing inline, nothing evaluated, no other host")
	for name, want := range map[string]string{
		"X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Cache-Control": "no-store",
		"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
	} {
		require.Equal(t, want, answer.Header().Get(name), name)
	}
}

func TestHeaders_BoundTheBody(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		size  int
		whole bool
	}{{0, true}, {largestForm, true}, {largestForm + 1, false}, {4 * largestForm, false}} {
		var n int64
		var err error
		body := strings.NewReader(strings.Repeat("a", c.size))
		guarded(&n, &err).ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodPost, "/", body))
		require.LessOrEqual(t, n, int64(largestForm))
		var large *http.MaxBytesError
		if c.whole {
			require.NoError(t, err)
			continue
		}
		require.ErrorAs(t, err, &large, "%d bytes", c.size)
	}
}

// Sec-Fetch-Site is of the W3C's Fetch Metadata Request Headers; older browsers send Origin alone.
func TestCrossOrigin_OnlyOurOwnPagesPost(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, method string
		headers      map[string]string
		passes       bool
	}{
		{"our own form", http.MethodPost, map[string]string{"Sec-Fetch-Site": "same-origin"}, true},
		{"typed into the address bar", http.MethodPost, map[string]string{"Sec-Fetch-Site": "none"}, true},
		{"another site's form", http.MethodPost, map[string]string{"Sec-Fetch-Site": "cross-site"}, false},
		{"a sister site's form", http.MethodPost, map[string]string{"Sec-Fetch-Site": "same-site"}, false},
		{"an older browser, our own", http.MethodPost, map[string]string{"Origin": "http://example.com"}, true},
		{"an older browser, another's", http.MethodPost, map[string]string{"Origin": "http://elsewhere.example"}, false},
		{"a frame without an origin", http.MethodPost, map[string]string{"Origin": "null"}, false},
		{"a link from elsewhere only reads", http.MethodGet, map[string]string{"Sec-Fetch-Site": "cross-site"}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var n int64
			var err error
			request := httptest.NewRequest(c.method, "http://example.com/lines/l/review", strings.NewReader("a=b"))
			for name, value := range c.headers {
				request.Header.Set(name, value)
			}
			answer := httptest.NewRecorder()
			guarded(&n, &err).ServeHTTP(answer, request)
			want := http.StatusForbidden
			if c.passes {
				want = http.StatusNoContent
			}
			require.Equal(t, want, answer.Code)
			require.NotEmpty(t, answer.Header().Get("Content-Security-Policy"), "also on a refusal")
		})
	}
}
