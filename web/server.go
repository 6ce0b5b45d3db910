// Package web is the screens. It decodes a request, asks the desk, and shows
// the answer; it holds no rule, no SQL and no arithmetic of the ward's.
//
// The routes stand on one screen in routes.go. A handler returns an error, and
// one place (errors.go) maps the kinds of fault to pages.
package web

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/internal/words"
)

// Config is what the screens stand on.
type Config struct {
	Desk     *desk.Desk
	Sessions scs.Store
	Clock    func() time.Time
	Log      *slog.Logger
	Secure   bool   // people come over TLS: cookies go over nothing else
	Proxied  bool   // what stands in front names the client in X-Forwarded-For
	Public   string // scheme and host under which people reach the screens; empty: as each request names it
	Words    words.Languages

	Ready    func(context.Context) error // nil while requests can be answered
	Observe  func(Request)               // told of each request once it is answered; nil: nobody
	Stopping <-chan struct{}             // closed when no more requests come; nil: never
}

// Server holds what the handlers share.
type Server struct {
	desk     *desk.Desk
	sessions *scs.SessionManager
	clock    func() time.Time
	log      *slog.Logger
	boards   *boardCache
	recent   *recent
	secure   bool
	proxied  bool
	public   string
	words    words.Languages
	routes   chi.Router
	ready    func(context.Context) error
	observe  func(Request)
	stopping <-chan struct{}
}

// New makes the screens.
func New(c Config) *Server {
	s := &Server{desk: c.Desk, clock: c.Clock, log: c.Log, boards: newBoardCache(), recent: newRecent(), secure: c.Secure, proxied: c.Proxied, public: c.Public, words: c.Words}
	s.ready, s.observe, s.stopping = c.Ready, c.Observe, c.Stopping
	if s.observe == nil {
		s.observe = func(Request) {}
	}
	s.sessions = newSessions(c.Sessions, c.Secure)
	s.routes = s.install()
	return s
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.routes.ServeHTTP(w, r) }

// Routes is the router itself, which can be walked.
func (s *Server) Routes() chi.Router { return s.routes }
