package web

import (
	"context"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// watchEvery is how often an open stream looks whether its session still
// stands; what it then sends keeps it open through what stands in front.
const watchEvery = 3 * time.Second

// redrawWithin is how long a board stands at most: the spans on it ("35 min
// ago") are drawn, not counted on the screen.
const redrawWithin = 5 * time.Minute

// eventStream is the type of an answer that goes on (HTML standard, server-sent events).
const eventStream = "text/event-stream"

// The events of a board's stream.
const (
	eventNothing = ": still here\n\n"
	eventChanged = "event: changed\ndata:\n\n" // the board is to be fetched anew
	eventEnded   = "event: ended\ndata:\n\n"   // the session is over
)

// streamChanges tells a board when something on its ward changed or fell due.
// It watches before it looks at the board, so that no change falls between;
// what changed between the page and this stream shows in the page's version.
func (s *Server) streamChanges(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	ward, _ := h.Ward(line.ID(chi.URLParam(r, "ward")))
	changes, stop := s.desk.WatchWard(ward.Key)
	defer stop()
	b, err := s.desk.Board(r.Context(), personOf(r), line.ID(chi.URLParam(r, "ward")))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", eventStream)
	out := http.NewResponseController(w)
	tell := func(text string) bool {
		hurry(w)
		_, err := w.Write([]byte(text))
		return err == nil && out.Flush() == nil
	}
	first := eventNothing
	if view.BoardState(b) != r.URL.Query().Get("seen") {
		first = eventChanged
	}
	if !tell(first) {
		return nil
	}
	s.follow(r, b, changes, tell)
	return nil
}

// follow tells of changes until the client, the session or the server goes.
func (s *Server) follow(r *http.Request, b *desk.Board, changes <-chan struct{}, tell func(string) bool) {
	watch := time.NewTicker(watchEvery)
	defer watch.Stop()
	due := time.NewTimer(s.until(b))
	defer due.Stop()
	for {
		text := eventChanged
		select {
		case <-r.Context().Done():
			return
		case <-s.stopping:
			return
		case <-watch.C:
			text = eventNothing
			if !s.stands(r) {
				tell(eventEnded)
				return
			}
		case <-changes:
		case <-due.C:
		}
		if !tell(text) {
			return
		}
		if text == eventChanged {
			var err error
			if b, err = s.desk.Board(r.Context(), personOf(r), b.Ward.Ward.Ward); err != nil {
				return // the browser opens the stream again, and is told why it cannot
			}
			due.Reset(s.until(b))
		}
	}
}

// stands reports whether the session a long request belongs to is still its
// person's: it may have ended in another tab, or the account been closed.
func (s *Server) stands(r *http.Request) bool {
	// The request's context holds the session as it was when the request began.
	fresh, err := s.sessions.Load(context.Background(), s.sessions.Token(r.Context()))
	if err != nil {
		return false
	}
	if s.sessions.GetString(fresh, sessionAccount) != personOf(r).ID || s.ended(fresh) {
		return false
	}
	p, err := s.desk.Still(r.Context(), line.ID(personOf(r).ID), s.sessions.GetInt64(fresh, sessionGeneration))
	return err == nil && p.May(account.SeeWards)
}

// until is how long the board stays as it is by itself.
func (s *Server) until(b *desk.Board) time.Duration {
	if b.Next == line.Far {
		return redrawWithin
	}
	return min(redrawWithin, max(time.Second, b.Next.Time().Sub(s.clock())))
}
