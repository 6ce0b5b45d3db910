package web

import (
	"net/http"
	"net/url"
	"strings"

	"dwellbook/internal/line"
	"dwellbook/web/view"
)

func (s *Server) showAccess(w http.ResponseWriter, r *http.Request) error {
	return s.accessPage(w, r, http.StatusOK, view.Form{Action: "/access"})
}

// findAccess takes the reference as a form, so that it stands in no address.
func (s *Server) findAccess(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/access")
	if err != nil {
		return err
	}
	p, err := s.desk.PatientForAccess(r.Context(), personOf(r), strings.TrimSpace(form.Get("reference")))
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.accessPage(w, r, http.StatusUnprocessableEntity, form)
	}
	return see(w, r, "/access?"+url.Values{"patient": {string(p.ID)}}.Encode())
}

func (s *Server) accessPage(w http.ResponseWriter, r *http.Request, status int, form view.Form) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	patient := line.ID(r.URL.Query().Get("patient"))
	opened, err := s.desk.Accesses(r.Context(), personOf(r), patient)
	if err != nil {
		return err
	}
	return s.show(w, r, status, view.AccessPage(view.Access{
		Shell: s.shell(r, say(r, "access.title")), Form: form, House: h, Opened: opened, OfOne: patient != "",
	}))
}
