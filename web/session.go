package web

import (
	"context"
	"net/http"
	"regexp"
	"time"

	"github.com/alexedwards/scs/v2"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// A session ends after so long without a person's act, and after so long in
// any case. It is kept longer than that, so that a form posted too late is
// still known to be its author's.
const (
	idleTimeout   = 15 * time.Minute
	longestShift  = 13 * time.Hour
	rememberedFor = 7 * 24 * time.Hour
)

// Keys of the session's values.
const (
	sessionAccount    = "account"
	sessionGeneration = "generation" // of the account's secret
	sessionState      = "state"
	sessionStarted    = "started" // Unix seconds
	sessionActed      = "acted"   // Unix seconds of the last act of a person, as of the last write
)

// States of a session.
const (
	stateWhole = ""
	stateCode  = "code"  // the passphrase was right, the code of the second step is awaited
	stateEnrol = "enrol" // signed in, to set up a second step before anything else
)

// codeWithin is how long a code is awaited.
const codeWithin = 5 * time.Minute

func newSessions(store scs.Store, secure bool) *scs.SessionManager {
	m := scs.New()
	m.Store = store
	m.Codec = codec{}
	m.Lifetime = rememberedFor
	m.Cookie.Name = cookieName("dwellbook", secure)
	m.Cookie.Secure = secure
	m.Cookie.HttpOnly = true
	m.Cookie.SameSite = http.SameSiteLaxMode
	m.Cookie.Path = "/"
	m.Cookie.Persist = false
	return m
}

type personKey struct{}

// personOf is who is signed in; nobody where the session has ended.
func personOf(r *http.Request) desk.Person {
	p, _ := r.Context().Value(personKey{}).(desk.Person)
	return p
}

// identify puts the signed-in person into the context. Requests that no person
// made (a board that refreshes itself) do not extend the session.
func (s *Server) identify(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ctx := r.Context()
		id := line.ID(s.sessions.GetString(ctx, sessionAccount))
		if id == "" || s.ended(ctx) || s.sessions.GetString(ctx, sessionState) == stateCode {
			next.ServeHTTP(w, r)
			return
		}
		p, err := s.desk.Still(ctx, id, s.sessions.GetInt64(ctx, sessionGeneration))
		if fault.Is(err, fault.Unauthenticated) {
			// It was ended on purpose: it keeps no drafts either.
			if err = s.sessions.Destroy(ctx); err == nil {
				next.ServeHTTP(w, r)
				return
			}
		}
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if byPerson(r) {
			s.acted(ctx)
		}
		next.ServeHTTP(w, r.WithContext(context.WithValue(ctx, personKey{}, p)))
	})
}

// acted extends the session. It is written now and then only; in between the
// server remembers.
func (s *Server) acted(ctx context.Context) {
	now := s.clock().Unix()
	s.recent.act(s.sessions.Token(ctx), now)
	if now-s.sessions.GetInt64(ctx, sessionActed) >= int64(savedEvery/time.Second) {
		s.sessions.Put(ctx, sessionActed, now)
	}
}

// byPerson reports whether a person made the request, not a script by itself.
// A browser opens a stream of events again without anybody's act; it asks for
// one with this Accept (HTML standard, server-sent events).
func byPerson(r *http.Request) bool {
	return r.Header.Get("X-Background") == "" && r.Header.Get("Accept") != eventStream
}

// ended reports whether the session has ended by idling or by length.
func (s *Server) ended(ctx context.Context) bool {
	now := s.clock().Unix()
	idle := now - max(s.sessions.GetInt64(ctx, sessionActed), s.recent.lastAct(s.sessions.Token(ctx)))
	length := now - s.sessions.GetInt64(ctx, sessionStarted)
	return idle > int64(idleTimeout/time.Second) || length > int64(longestShift/time.Second)
}

// sessionEnd is when the session ends in any case.
func (s *Server) sessionEnd(ctx context.Context) time.Time {
	return time.Unix(s.sessions.GetInt64(ctx, sessionStarted), 0).Add(longestShift)
}

// begin starts the person's session, in the state, under a fresh token.
func (s *Server) begin(ctx context.Context, p desk.Person, state string) error {
	generation, err := s.desk.Generation(ctx, p)
	if err != nil {
		return err
	}
	if err := s.sessions.Clear(ctx); err != nil {
		return err
	}
	if err := s.sessions.RenewToken(ctx); err != nil {
		return err
	}
	now := s.clock().Unix()
	s.sessions.Put(ctx, sessionAccount, p.ID)
	s.sessions.Put(ctx, sessionGeneration, generation)
	s.sessions.Put(ctx, sessionState, state)
	s.sessions.Put(ctx, sessionStarted, now)
	s.sessions.Put(ctx, sessionActed, now)
	first, err := s.desk.Greet(ctx, p)
	if err != nil {
		return err
	}
	if first {
		s.sessions.Put(ctx, sessionGreeting, true)
	}
	_, _, err = s.sessions.Commit(ctx) // here, where its failing can still be said
	return err
}

type sessionReadKey struct{}

// keepSessions loads each request's session and saves it with the answer. One
// that cannot be read is said. One that cannot be saved stops no answer: its
// last act is remembered, and whatever else must be kept was committed before.
func (s *Server) keepSessions(next http.Handler) http.Handler {
	s.sessions.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		if read, _ := r.Context().Value(sessionReadKey{}).(*bool); read != nil && *read {
			s.log.Warn("save a session", "id", requestID(r.Context()), "error", err)
			return
		}
		s.log.Error("read a session", "id", requestID(r.Context()), "error", err)
		http.Error(w, words.Say(r.Context(), "fault.internal"), statuses[fault.KindOf(err)])
	}
	kept := s.sessions.LoadAndSave(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if read, ok := r.Context().Value(sessionReadKey{}).(*bool); ok {
			*read = true
		}
		next.ServeHTTP(w, r)
	}))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		kept.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), sessionReadKey{}, new(bool))))
	})
}

// signedIn lets only signed-in people pass. What others typed is kept as a
// draft for the account whose session ended.
func (s *Server) signedIn(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		state := s.sessions.GetString(r.Context(), sessionState)
		if personOf(r).ID != "" {
			if state == stateEnrol && r.URL.Path != "/second-step" && r.URL.Path != "/sign-out" {
				http.Redirect(w, r, "/second-step", http.StatusSeeOther)
				return
			}
			next.ServeHTTP(w, r)
			return
		}
		if id := line.ID(s.sessions.GetString(r.Context(), sessionAccount)); id != "" && state == stateWhole && r.Method == http.MethodPost && byPerson(r) {
			kept, err := s.keepDraft(r, id)
			if err == nil && kept {
				err = fault.New(fault.Expired, "fault.expired")
			}
			if err != nil {
				s.fail(w, r, err)
				return
			}
		}
		s.fail(w, r, fault.New(fault.Unauthenticated, "fault.sign-in-first"))
	})
}

// reopens matches the forms that take a draft back.
var reopens = regexp.MustCompile(`^/(wards/[^/]+/(admit|back-entry)|(patients|lines)/[^/]+/[^/]+|entries/[^/]+/(correct|void)|policy/edit)$`)

// keepDraft keeps what was typed; kept is false where no page could show it again.
func (s *Server) keepDraft(r *http.Request, id line.ID) (kept bool, err error) {
	if err := r.ParseForm(); err != nil {
		return false, fault.Wrap(err, fault.TooLarge, "fault.too-large")
	}
	if len(r.PostForm) == 0 || !reopens.MatchString(r.URL.Path) {
		return false, nil
	}
	return true, s.desk.KeepDraft(r.Context(), id, r.URL.Path, r.PostForm)
}
