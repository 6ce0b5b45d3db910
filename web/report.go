package web

import (
	"bytes"
	"net/http"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/web/view"
)

// monthAsked reads the month of a request; a bad one gives the month before now
// and the error.
func (s *Server) monthAsked(r *http.Request, text string) (*desk.MonthReport, error) {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return nil, err
	}
	month, err := desk.ParseMonth(text, s.desk.Now().Time(), h.Zone)
	if err != nil {
		return nil, err
	}
	return s.desk.Month(r.Context(), personOf(r), month, desk.Known{})
}

func (s *Server) showReport(w http.ResponseWriter, r *http.Request) error {
	form := view.Form{Action: "/report", Values: r.URL.Query()}
	status := http.StatusOK
	month, err := s.monthAsked(r, form.Get("month"))
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		status = http.StatusUnprocessableEntity
		if month, err = s.monthAsked(r, ""); err != nil {
			return err
		}
	} else if form.Get("month") == "" {
		form.Values = map[string][]string{"month": {month.Start.Format("2006-01")}}
	}
	return s.show(w, r, status, view.ReportPage(view.Report{Shell: s.shell(r, say(r, "report.nav")), Form: form, Month: month}))
}

func (s *Server) downloadReport(w http.ResponseWriter, r *http.Request) error {
	month, err := s.monthAsked(r, chi.URLParam(r, "month"))
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := view.ReportFile(view.Report{Month: month}).Render(r.Context(), &b); err != nil {
		return err
	}
	w.Header().Set("Content-Disposition", `attachment; filename="cannulas-`+month.Start.Format("2006-01")+`.html"`)
	return send(w, r, http.StatusOK, "text/html; charset=utf-8", b.Bytes())
}
