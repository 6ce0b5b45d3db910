package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// afterPassphrase goes on with a person whose passphrase was right: to the
// second step where they have one, to setting it up where it is wanted.
func (s *Server) afterPassphrase(w http.ResponseWriter, r *http.Request, p desk.Person, to string) error {
	on, _, err := s.desk.SecondStep(r.Context(), p)
	if err != nil {
		return err
	}
	if on {
		if err := s.begin(r.Context(), p, stateCode); err != nil {
			return err
		}
		return see(w, r, "/sign-in/code"+backTo(to))
	}
	rule, err := s.desk.StepRule(r.Context())
	if err != nil {
		return err
	}
	state := stateWhole
	if rule == account.StepRequired && rule.Applies(p.Role) {
		state = stateEnrol
	}
	if rule.Applies(p.Role) {
		to = "/second-step"
	}
	return s.letIn(w, r, p, state, to)
}

// letIn starts the person's session and goes on: to what waits for them, else where they wanted.
func (s *Server) letIn(w http.ResponseWriter, r *http.Request, p desk.Person, state, to string) error {
	if err := s.begin(r.Context(), p, state); err != nil {
		return err
	}
	if err := s.desk.KnowDevice(r.Context(), p, s.device(w, r)); err != nil {
		return err
	}
	tray, err := s.desk.Tray(r.Context(), p)
	if err != nil {
		return err
	}
	if len(tray) > 0 && to != "/second-step" {
		return see(w, r, "/tray")
	}
	return see(w, r, to)
}

// awaited is who has given the passphrase and still owes a code.
func (s *Server) awaited(r *http.Request) (line.ID, error) {
	ctx := r.Context()
	id := line.ID(s.sessions.GetString(ctx, sessionAccount))
	begun := s.sessions.GetInt64(ctx, sessionStarted)
	if id == "" || s.sessions.GetString(ctx, sessionState) != stateCode || s.clock().Unix()-begun > int64(codeWithin.Seconds()) {
		return "", fault.New(fault.Unauthenticated, "fault.sign-in-first")
	}
	return id, nil
}

func (s *Server) showCode(w http.ResponseWriter, r *http.Request) error {
	if _, err := s.awaited(r); err != nil {
		return err
	}
	return s.codePage(w, r, http.StatusOK, view.Form{Action: "/sign-in/code", Values: map[string][]string{"to": {r.URL.Query().Get("to")}}})
}

func (s *Server) codePage(w http.ResponseWriter, r *http.Request, status int, form view.Form) error {
	form.Values.Del("code")
	return s.show(w, r, status, view.CodePage(view.SignIn{Shell: s.shell(r, say(r, "secondstep.code-title")), Form: form}))
}

func (s *Server) takeCode(w http.ResponseWriter, r *http.Request) error {
	id, err := s.awaited(r)
	if err != nil {
		return err
	}
	form, err := formOf(r, "/sign-in/code")
	if err != nil {
		return err
	}
	p, err := s.desk.CheckCode(r.Context(), s.place(r), id, form.Get("code"))
	s.event(r, "second step", account.ID(id), err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.codePage(w, r, http.StatusUnprocessableEntity, form)
	}
	return s.letIn(w, r, p, stateWhole, localPath(form.Get("to")))
}

func (s *Server) showSecondStep(w http.ResponseWriter, r *http.Request) error {
	return s.secondStepPage(w, r, http.StatusOK, view.Form{})
}

func (s *Server) secondStepPage(w http.ResponseWriter, r *http.Request, status int, form view.Form) error {
	p := personOf(r)
	page := view.SecondStep{Shell: s.shell(r, say(r, "secondstep.title")), Form: form, Owed: s.sessions.GetString(r.Context(), sessionState) == stateEnrol}
	var err error
	if page.On, page.Left, err = s.desk.SecondStep(r.Context(), p); err != nil {
		return err
	}
	if !page.On {
		if err := s.keyFor(r, p, &page); err != nil {
			return err
		}
	}
	return s.show(w, r, status, view.SecondStepPage(page))
}

// keyFor puts the key to be given to the person's device on the page.
func (s *Server) keyFor(r *http.Request, p desk.Person, page *view.SecondStep) error {
	key, err := s.desk.BeginSecondStep(r.Context(), p)
	if err != nil {
		return err
	}
	page.Key = key.String()
	page.URI = key.URI(say(r, "kit.brand"), p.SignIn)
	page.QR, err = view.NewQR(page.URI)
	return err
}

func (s *Server) confirmSecondStep(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/second-step")
	if err != nil {
		return err
	}
	p := personOf(r)
	codes, err := s.desk.ConfirmSecondStep(r.Context(), s.place(r), p, form.Get("code"))
	s.event(r, "turn second step on", p.ID, err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		form.Values.Del("code")
		return s.secondStepPage(w, r, http.StatusUnprocessableEntity, form)
	}
	if err := s.begin(r.Context(), p, stateWhole); err != nil {
		return err
	}
	return s.show(w, r, http.StatusOK, view.RecoveryPage(view.Recovery{Shell: s.shell(r, say(r, "secondstep.recovery-title")), Codes: codes}))
}

func (s *Server) renewSecondStep(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/second-step/renew")
	if err != nil {
		return err
	}
	err = s.desk.RenewSecondStep(r.Context(), s.place(r), personOf(r), form.Get("code"))
	s.event(r, "take second step off", personOf(r).ID, err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		form.Values.Del("code")
		return s.secondStepPage(w, r, http.StatusUnprocessableEntity, form)
	}
	return see(w, r, "/second-step")
}

func (s *Server) resetSecondStep(w http.ResponseWriter, r *http.Request) error {
	a, err := s.account(r)
	if err != nil {
		return err
	}
	err = s.desk.ResetSecondStep(r.Context(), personOf(r), line.ID(chi.URLParam(r, "account")))
	s.event(r, "reset second step", a.ID, err)
	if err != nil {
		return err
	}
	s.notice(r, "secondstep.reset-done", "name", a.Name)
	return see(w, r, "/people")
}

func (s *Server) setStepRule(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/people-second-step")
	if err != nil {
		return err
	}
	if err := s.desk.SetStepRule(r.Context(), personOf(r), account.StepRule(form.Get("rule"))); err != nil {
		return err
	}
	s.notice(r, "secondstep.rule-set")
	return see(w, r, "/people")
}
