package web

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strings"

	"github.com/a-h/templ"

	"dwellbook/internal/fault"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

// statuses maps each kind of fault to a status.
var statuses = map[fault.Kind]int{
	fault.Internal: http.StatusInternalServerError, fault.Invalid: http.StatusUnprocessableEntity,
	fault.Unauthenticated: http.StatusUnauthorized, fault.Forbidden: http.StatusForbidden, fault.NotFound: http.StatusNotFound,
	fault.Conflict: http.StatusConflict, fault.TooLarge: http.StatusRequestEntityTooLarge,
	fault.Busy: http.StatusServiceUnavailable, fault.Expired: http.StatusUnauthorized,
}

// handler answers a request or says what went wrong.
type handler func(w http.ResponseWriter, r *http.Request) error

// do adapts a handler.
func (s *Server) do(h handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			s.fail(w, r, err)
		}
	}
}

// fail shows an error: what to do next to the person, the cause to the log.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	kind := fault.KindOf(err)
	if large := (*http.MaxBytesError)(nil); errors.As(err, &large) {
		kind = fault.TooLarge
	}
	s.logFailure(r, kind, err)
	if signInHelps(kind) && r.Header.Get("X-Background") == "" {
		http.Redirect(w, r, signInURL(r, kind), http.StatusSeeOther)
		return
	}
	page := view.Problem{
		Shell: s.shell(r, words.Say(r.Context(), "fault.title."+kind.String())), Status: statuses[kind],
		Text: explain(r, err), Request: requestID(r.Context()),
	}
	if err := s.show(w, r, statuses[kind], view.ProblemPage(page)); err != nil {
		s.log.Error("show a problem", "error", err)
	}
}

// logFailure writes an error of our own in full; of what a person met with only
// the class, since the rest may name a patient.
func (s *Server) logFailure(r *http.Request, kind fault.Kind, err error) {
	level, text := slog.LevelError, err.Error()
	if kind != fault.Internal {
		level, text = slog.LevelInfo, kind.String()
		if e := (*fault.Error)(nil); errors.As(err, &e) {
			text = e.Class()
		}
	}
	s.log.LogAttrs(r.Context(), level, "request failed",
		slog.String("id", requestID(r.Context())), slog.String("route", route(r)), slog.String("error", text))
}

func signInHelps(kind fault.Kind) bool {
	return kind == fault.Unauthenticated || kind == fault.Expired
}

// signInURL leads to the sign-in page and from there back. A form that was
// kept as a draft is offered after signing in.
func signInURL(r *http.Request, kind fault.Kind) string {
	q := url.Values{}
	if r.Method == http.MethodGet && r.URL.Path != "/" {
		q.Set("to", r.URL.RequestURI())
	}
	if kind == fault.Expired {
		q.Set("kept", "1")
	}
	if len(q) == 0 {
		return "/sign-in"
	}
	return "/sign-in?" + q.Encode()
}

// explain is the sentence of an error. What nobody classified has a fixed one.
func explain(r *http.Request, err error) string { return explainOr(r, err, "fault.internal") }

// explainOr is the sentence of an error, or another where nobody classified it.
func explainOr(r *http.Request, err error, key string) string {
	var e *fault.Error
	if errors.As(err, &e) && e.Kind != fault.Internal {
		return words.Say(r.Context(), e.Key, e.Args...)
	}
	return words.Say(r.Context(), key)
}

// refuse puts an Invalid or Conflict error into a form; other errors it gives back.
func refuse(r *http.Request, form *view.Form, err error) error {
	var e *fault.Error
	if !errors.As(err, &e) || e.Kind != fault.Invalid && e.Kind != fault.Conflict && e.Kind != fault.Busy {
		return err
	}
	form.Message = explain(r, err)
	if form.Errors == nil {
		form.Errors = map[string]string{}
	}
	for name, m := range e.Fields {
		form.Errors[name] = words.Say(r.Context(), m.Key, m.Args...)
	}
	return nil
}

// show renders the whole page before the first byte is sent, so that a page is
// never half there.
func (s *Server) show(w http.ResponseWriter, r *http.Request, status int, page templ.Component) error {
	var b bytes.Buffer
	if err := page.Render(r.Context(), &b); err != nil {
		return fmt.Errorf("render: %w", err)
	}
	return send(w, r, status, "text/html; charset=utf-8", b.Bytes())
}

// send sends a body, compressed where the client takes that.
func send(w http.ResponseWriter, r *http.Request, status int, kind string, body []byte) error {
	w.Header().Set("Content-Type", kind)
	w.Header().Add("Vary", "Accept-Encoding")
	if len(body) > 1400 && strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		var z bytes.Buffer
		gz, err := gzip.NewWriterLevel(&z, gzip.BestSpeed)
		if err != nil {
			return fmt.Errorf("compress: %w", err)
		}
		if _, err := gz.Write(body); err != nil {
			return fmt.Errorf("compress: %w", err)
		}
		if err := gz.Close(); err != nil {
			return fmt.Errorf("compress: %w", err)
		}
		w.Header().Set("Content-Encoding", "gzip")
		body = z.Bytes()
	}
	hurry(w) // from now on: making the answer may have taken long
	w.WriteHeader(status)
	_, _ = w.Write(body) // an error means that the client has gone
	return nil
}
