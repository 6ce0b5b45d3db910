package web

import (
	"context"
	"crypto/rand"
	"errors"
	"log/slog"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/words"
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

type requestKey struct{}

// requestID is the number under which the request stands in the log.
func requestID(ctx context.Context) string {
	id, _ := ctx.Value(requestKey{}).(string)
	return id
}

// route is the pattern that a request's path fits: the path itself may lead to
// a patient, or be a token.
func route(r *http.Request) string {
	if c := chi.RouteContext(r.Context()); c != nil {
		return c.RoutePattern()
	}
	return ""
}

// logged writes one line for each request, by its route: path, query and body
// may name a patient.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id := rand.Text()[:10]
		seen := &statusWriter{ResponseWriter: w, status: http.StatusOK}
		start := time.Now()
		next.ServeHTTP(seen, r.WithContext(context.WithValue(r.Context(), requestKey{}, id)))
		s.log.LogAttrs(r.Context(), slog.LevelDebug, "request",
			slog.String("id", id), slog.String("method", r.Method), slog.String("route", route(r)),
			slog.Int("status", seen.status), slog.Duration("took", time.Since(start)))
	})
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

// speaking puts the hospital's clock into the context, so that words can show times.
func (s *Server) speaking(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h, err := s.desk.House(r.Context())
		if err != nil {
			s.fail(w, r, err)
			return
		}
		ctx := words.With(r.Context(), words.Speaker{Zone: h.Zone, Now: s.desk.Now()})
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}
