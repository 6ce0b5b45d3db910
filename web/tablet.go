package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

func (s *Server) showTablets(w http.ResponseWriter, r *http.Request) error {
	return s.tabletsPage(w, r, http.StatusOK, view.Form{})
}

func (s *Server) tabletsPage(w http.ResponseWriter, r *http.Request, status int, form view.Form) error {
	list, err := s.desk.Tablets(r.Context(), personOf(r))
	if err != nil {
		return err
	}
	here, _, _, err := s.desk.TabletHere(r.Context(), s.place(r))
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	return s.show(w, r, status, view.TabletsPage(view.Tablets{
		Shell: s.shell(r, say(r, "tablet.title")), Form: form, House: h, Tablets: list, Here: here.Device, Notice: s.takeNotice(r),
	}))
}

func (s *Server) enrolTablet(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/tablets")
	if err != nil {
		return err
	}
	err = s.desk.EnrolTablet(r.Context(), personOf(r), s.device(w, r), form.Get("name"))
	s.event(r, "enrol a tablet", personOf(r).ID, err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.tabletsPage(w, r, http.StatusUnprocessableEntity, form)
	}
	s.notice(r, "tablet.enrolled", "name", form.Get("name"))
	return see(w, r, "/tablets")
}

func (s *Server) dropTablet(w http.ResponseWriter, r *http.Request) error {
	err := s.desk.DropTablet(r.Context(), personOf(r), chi.URLParam(r, "tablet"))
	s.event(r, "drop a tablet", personOf(r).ID, err)
	if err != nil {
		return err
	}
	return see(w, r, "/tablets")
}

func (s *Server) signInByPIN(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/sign-in/pin")
	if err != nil {
		return err
	}
	id := line.ID(form.Get("person"))
	p, err := s.desk.SignInByPIN(r.Context(), s.place(r), id, form.Get("pin"))
	s.event(r, "sign in by PIN", p.ID, err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		form.Values.Del("pin")
		return s.signInPage(w, r, http.StatusUnprocessableEntity, form, false)
	}
	return s.letIn(w, r, p, stateWhole, localPath(form.Get("to")))
}

func (s *Server) setPIN(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/pin")
	if err != nil {
		return err
	}
	p := personOf(r)
	_, err = s.desk.SignIn(r.Context(), s.place(r), p.SignIn, form.Get("current"))
	if fault.Is(err, fault.Invalid) {
		err = fault.Field("pin-current", "desk.sign-in-wrong")
	}
	if err == nil {
		err = s.desk.SetPIN(r.Context(), p, form.Get("pin"))
	}
	s.event(r, "set PIN", p.ID, err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		form.Values = nil
		return s.passphrasePage(w, r, http.StatusUnprocessableEntity, form)
	}
	s.notice(r, "tablet.pin-set")
	return see(w, r, "/")
}
