package web

import (
	"net/http"
	"slices"

	"github.com/go-chi/chi/v5"

	"dwellbook/web/view"
)

// sessionGreeting stands in the session of a person's first sign-in until they
// have read what to know.
const sessionGreeting = "greeting"

// greets lists the screens on which work starts: there a person reads, at the
// first sign-in, the three things to know.
var greets = []string{"/wards", "/wards/{ward}", "/my-record", "/audit", "/people", view.BeginHospital, view.BeginWards, view.BeginStaff}

// greeting is what a page says to who signed in for the first time; nil after that.
func (s *Server) greeting(r *http.Request) *view.Greeting {
	screen := chi.RouteContext(r.Context()).RoutePattern()
	if r.Method != http.MethodGet || !byPerson(r) || !slices.Contains(greets, screen) || !s.sessions.GetBool(r.Context(), sessionGreeting) {
		return nil
	}
	return &view.Greeting{Role: personOf(r).Role, Here: r.URL.RequestURI()}
}

// readGreeting puts the greeting away, for good.
func (s *Server) readGreeting(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/greeting")
	if err != nil {
		return err
	}
	s.sessions.Remove(r.Context(), sessionGreeting)
	return see(w, r, localPath(form.Get("to")))
}
