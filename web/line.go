package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

// onWard shows times by the ward's clock.
func (s *Server) onWard(r *http.Request, w desk.Ward) *http.Request {
	if w.Location == nil {
		return r
	}
	return r.WithContext(words.With(r.Context(), words.Speaker{Zone: w.Location, Now: s.desk.Now()}))
}

func (s *Server) showLine(w http.ResponseWriter, r *http.Request) error {
	page, err := s.desk.Line(r.Context(), personOf(r), line.ID(chi.URLParam(r, "line")))
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	r = s.onWard(r, page.Ward)
	p := personOf(r)
	return s.show(w, r, http.StatusOK, view.LinePage(view.Line{
		Shell: s.shell(r, say(r, "line.title")), LinePage: page, House: h, Reader: line.ID(personOf(r).ID), Notice: s.takeNotice(r),
		MayRecord: p.May(account.RecordCare), MayJudge: p.May(account.JudgeLines),
		Nights: h.Rulebook.Nights(page.Ward.Key, page.At-84*60, page.At+180),
	}))
}

func (s *Server) showPatient(w http.ResponseWriter, r *http.Request) error {
	page, err := s.desk.Patient(r.Context(), personOf(r), line.ID(chi.URLParam(r, "patient")))
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	r = s.onWard(r, h.WardByKey(page.Patient.LastWard))
	return s.show(w, r, http.StatusOK, view.PatientPage(view.Patient{
		Shell: s.shell(r, say(r, "patient.title")), PatientPage: page, House: h, Reader: line.ID(personOf(r).ID), Notice: s.takeNotice(r),
		MayRecord: personOf(r).May(account.RecordCare),
	}))
}
