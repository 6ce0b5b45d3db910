package web

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// formOf is the posted form as it is shown again.
func formOf(r *http.Request, action string) (view.Form, error) {
	if err := r.ParseForm(); err != nil {
		return view.Form{}, fault.Wrap(err, fault.TooLarge, "fault.too-large")
	}
	return view.Form{Action: action, Values: r.PostForm, Errors: map[string]string{}}, nil
}

func (s *Server) showSignIn(w http.ResponseWriter, r *http.Request) error {
	form := view.Form{Action: "/sign-in", Values: map[string][]string{"to": {r.URL.Query().Get("to")}}}
	return s.signInPage(w, r, http.StatusOK, form, r.URL.Query().Has("kept"))
}

func (s *Server) signInPage(w http.ResponseWriter, r *http.Request, status int, form view.Form, kept bool) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	_, people, _, err := s.desk.TabletHere(r.Context(), s.place(r))
	if err != nil {
		return err
	}
	return s.show(w, r, status, view.SignInPage(view.SignIn{
		Shell: s.shell(r, say(r, "signin.title")), Form: form, Kept: kept, Nobody: len(h.People) == 0, People: people,
	}))
}

func (s *Server) signIn(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/sign-in")
	if err != nil {
		return err
	}
	p, err := s.desk.SignIn(r.Context(), s.place(r), form.Get("sign_in"), form.Get("passphrase"))
	s.event(r, "sign in", p.ID, err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		form.Values.Del("passphrase")
		return s.signInPage(w, r, http.StatusUnprocessableEntity, form, false)
	}
	return s.afterPassphrase(w, r, p, localPath(form.Get("to")))
}

// backTo is the query that leads back to a path after signing in.
func backTo(path string) string {
	if path == "/" {
		return ""
	}
	return "?" + url.Values{"to": {path}}.Encode()
}

// localPath is a path on this server, or "/" for anything else.
func localPath(to string) string {
	// Browsers drop tabs and line ends from an address (URL standard), and read \ as /.
	odd := func(r rune) bool { return r < ' ' || r == 0x7f || r == '\\' }
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsFunc(to, odd) {
		return "/"
	}
	return to
}

func (s *Server) signOut(w http.ResponseWriter, r *http.Request) error {
	s.event(r, "sign out", personOf(r).ID, nil)
	if err := s.sessions.Destroy(r.Context()); err != nil {
		return err
	}
	return see(w, r, "/sign-in")
}

func (s *Server) showSetUp(w http.ResponseWriter, r *http.Request) error {
	token := chi.URLParam(r, "token")
	if err := s.desk.CheckSetUp(r.Context(), token); err != nil {
		return err
	}
	form := view.Form{Action: "/set-up/" + token, Values: map[string][]string{
		"account": {string(desk.NewID())}, "zone": {"Europe/London"},
	}}
	return s.show(w, r, http.StatusOK, view.SetUpPage(view.SetUp{Shell: s.shell(r, say(r, "setup.title")), Form: form, Languages: s.words}))
}

func (s *Server) setUp(w http.ResponseWriter, r *http.Request) error {
	token := chi.URLParam(r, "token")
	form, err := formOf(r, "/set-up/"+token)
	if err != nil {
		return err
	}
	id, err := line.ParseID(form.Get("account"))
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "fault.fields")
	}
	var p desk.Person
	if err = s.spoken(form); err == nil {
		p, err = s.desk.SetUp(r.Context(), token, hospitalOf(form), desk.NewAccount{
			ID: id, SignIn: form.Get("sign_in"), Name: form.Get("name"), Initials: form.Get("initials"),
			Role: account.Administrator, Passphrase: form.Get("passphrase"),
		})
	}
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.show(w, r, http.StatusUnprocessableEntity, view.SetUpPage(view.SetUp{Shell: s.shell(r, say(r, "setup.title")), Form: form, Languages: s.words}))
	}
	if err := s.begin(r.Context(), p, stateWhole); err != nil {
		return err
	}
	return see(w, r, view.BeginPath)
}

func hospitalOf(form view.Form) line.Hospital {
	return line.Hospital{
		Name: strings.TrimSpace(form.Get("hospital")), Zone: strings.TrimSpace(form.Get("zone")),
		Reference: form.Get("reference_pattern"), Example: form.Get("reference_example"), Language: form.Get("language"),
	}
}

func (s *Server) showPassphrase(w http.ResponseWriter, r *http.Request) error {
	return s.passphrasePage(w, r, http.StatusOK, view.Form{Action: "/passphrase"})
}

func (s *Server) passphrasePage(w http.ResponseWriter, r *http.Request, status int, form view.Form) error {
	return s.show(w, r, status, view.PassphrasePage(view.Passphrase{Shell: s.shell(r, say(r, "passphrase.title")), Form: form, PIN: personOf(r).Role.MayUsePIN()}))
}

func (s *Server) changePassphrase(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/passphrase")
	if err != nil {
		return err
	}
	p := personOf(r)
	_, err = s.desk.SignIn(r.Context(), s.place(r), p.SignIn, form.Get("current"))
	if err == nil {
		err = s.desk.SetPassphrase(r.Context(), p, line.ID(p.ID), form.Get("passphrase"))
	}
	s.event(r, "change own passphrase", p.ID, err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		form.Values = nil
		return s.passphrasePage(w, r, http.StatusUnprocessableEntity, form)
	}
	// A new session, and with it a grant of the new passphrase: it ended all others.
	if err := s.begin(r.Context(), p, stateWhole); err != nil {
		return err
	}
	s.notice(r, "passphrase.changed")
	return see(w, r, "/")
}

func (s *Server) endSessions(w http.ResponseWriter, r *http.Request) error {
	if err := s.desk.EndSessions(r.Context(), personOf(r), line.ID(personOf(r).ID)); err != nil {
		return err
	}
	return s.signOut(w, r)
}
