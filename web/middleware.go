package web

import (
	"context"
	"crypto/rand"
	"errors"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/static"
)

// largestForm bounds a request's body.
const largestForm = 256 << 10

const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; " +
	"connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// devices says which pages may use the camera; none may know the place or listen.
func devices(camera string) string { return "camera=(" + camera + "), geolocation=(), microphone=()" }

// strict tells browsers to come over TLS only, for two years.
func strict(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Strict-Transport-Security", "max-age=63072000")
		next.ServeHTTP(w, r)
	})
}

// writeTimeout is how long a client may take over an answer, or a stream over
// one of its lines.
const writeTimeout = 30 * time.Second

// hurry cuts off a client that does not take what it asked for.
func hurry(w http.ResponseWriter) {
	// Where the writer cannot (a test's recorder), nothing is slow.
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(writeTimeout))
}

// headers sets what every answer carries: no source from outside, nothing
// inline, nothing kept by caches between people.
func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", devices(""))
		h.Set("Cache-Control", "no-store")
		r.Body = http.MaxBytesReader(w, r.Body, largestForm)
		hurry(w)
		next.ServeHTTP(w, r)
	})
}

// Request is one request that was answered, as logs and figures may know it:
// by its route, since addresses hold the ids of patients, and never with its
// query or body.
type Request struct {
	Method string
	Route  string // as routes.go writes it; "": there is no such route
	Status int
	Took   time.Duration
	Stream bool // it stayed open to tell of changes, so that Took is no time to answer
}

type requestKey struct{}

// requestID is the number under which the request stands in the log.
func requestID(ctx context.Context) string {
	id, _ := ctx.Value(requestKey{}).(string)
	return id
}

// logged writes one line for each request, under a number of its own that the
// answer carries too.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id := rand.Text()[:10]
		w.Header().Set("X-Request-Id", id)
		seen := &statusWriter{ResponseWriter: w, status: http.StatusOK}
		start := time.Now()
		next.ServeHTTP(seen, r.WithContext(context.WithValue(r.Context(), requestKey{}, id)))
		done := Request{
			Method: r.Method, Route: route(r), Status: seen.status, Took: time.Since(start),
			Stream: w.Header().Get("Content-Type") == eventStream,
		}
		s.log.LogAttrs(r.Context(), done.level(), "request", slog.String("id", id), slog.String("method", done.Method),
			slog.String("route", done.Route), slog.Int("status", done.Status), slog.Duration("took", done.Took))
		s.observe(done)
	})
}

// level keeps what machines ask for all the time out of the usual log.
func (r Request) level() slog.Level {
	switch r.Route {
	case "/healthz", "/readyz", static.Prefix + "*":
		return slog.LevelDebug
	}
	return slog.LevelInfo
}

// route is the pattern that answers the request.
func route(r *http.Request) string {
	pattern := chi.RouteContext(r.Context()).RoutePattern()
	if pattern == "/*" {
		return ""
	}
	return pattern
}

// event logs an act of signing in or out, or on what people sign in with. err
// is why it was refused.
func (s *Server) event(r *http.Request, what string, id account.ID, err error) {
	attrs := []slog.Attr{
		slog.String("id", requestID(r.Context())), slog.String("account", id), slog.String("address", s.address(r)),
	}
	if e := (*fault.Error)(nil); errors.As(err, &e) {
		attrs = append(attrs, slog.String("refused", e.Class()))
	}
	s.log.LogAttrs(r.Context(), slog.LevelInfo, what, attrs...)
}

type statusWriter struct {
	http.ResponseWriter
	status int
}

func (w *statusWriter) WriteHeader(status int) {
	w.status = status
	w.ResponseWriter.WriteHeader(status)
}

// Unwrap lets http.ResponseController reach what flushing needs.
func (w *statusWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// speaking puts the reader's language and the hospital's clock into the context:
// the language that the person chose, else the hospital's, else one that the
// browser asks for.
func (s *Server) speaking(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h, err := s.desk.House(r.Context())
		if err != nil {
			s.fail(w, r, err)
			return
		}
		chosen := h.People[line.ID(personOf(r).ID)].Language
		language := s.words.Choose(chosen, h.Hospital.Language, r.Header.Get("Accept-Language"))
		ctx := words.With(r.Context(), words.Speaker{Language: language, Zone: h.Zone, Now: s.desk.Now()})
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

// worded gives tables that machines read the same words for everybody, English.
func (s *Server) worded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, ".csv") {
			to := words.To(r.Context())
			to.Language = s.words.Choose()
			r = r.WithContext(words.With(r.Context(), to))
		}
		next.ServeHTTP(w, r)
	})
}
