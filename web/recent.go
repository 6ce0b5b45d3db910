package web

import (
	"net/http"
	"sync"
	"time"
)

// recent is what is known of the sessions in use between two writes of them:
// when a person last acted, and what the next page says was done. It is kept in
// memory, so that an act costs no second write. A restart forgets it: a session
// then counts from the act that was written last, savedEvery earlier at most.
type recent struct {
	mu sync.Mutex
	of map[string]*doing // by session token
}

type doing struct {
	acted  int64 // Unix seconds
	notice string
}

// savedEvery is how often a session that is in use is written.
const savedEvery = time.Minute

// mostRecent bounds what is kept; beyond it those that have ended are dropped.
const mostRecent = 4096

func newRecent() *recent { return &recent{of: map[string]*doing{}} }

// act notes that a person acted.
func (m *recent) act(token string, now int64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.at(token, now).acted = now
}

// lastAct is when a person last acted, as far as is remembered.
func (m *recent) lastAct(token string) int64 {
	m.mu.Lock()
	defer m.mu.Unlock()
	if d := m.of[token]; d != nil {
		return d.acted
	}
	return 0
}

// leave keeps a notice for the next page.
func (m *recent) leave(token, text string, now int64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.at(token, now).notice = text
}

// take gives the notice, once.
func (m *recent) take(token string) (text string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if d := m.of[token]; d != nil {
		text, d.notice = d.notice, ""
	}
	return text
}

// at is what is known of a session.
func (m *recent) at(token string, now int64) *doing {
	if d := m.of[token]; d != nil {
		return d
	}
	if len(m.of) >= mostRecent {
		for t, d := range m.of {
			if now-d.acted > int64(idleTimeout/time.Second) {
				delete(m.of, t)
			}
		}
	}
	d := &doing{}
	m.of[token] = d
	return d
}

// notice leaves a sentence for the next page this person sees.
func (s *Server) notice(r *http.Request, key string, args ...any) {
	s.recent.leave(s.sessions.Token(r.Context()), say(r, key, args...), s.clock().Unix())
}

// takeNotice gives the sentence left for this page, once.
// A page that a script fetches shows none, so it must not use one up.
func (s *Server) takeNotice(r *http.Request) string {
	if !byPerson(r) {
		return ""
	}
	return s.recent.take(s.sessions.Token(r.Context()))
}
