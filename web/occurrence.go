package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// occurrence is what an act is about: the ward, the patient and the line it
// was opened on, and what is recorded beside its main entry.
type occurrence struct {
	house   *desk.House
	ward    desk.Ward
	patient line.Patient
	line    *line.Current
	lines   []line.Current // of the patient, in now
	subject line.Subject
	rules   []line.Rule // with findings, that can be answered
	who     line.ID
	now     line.Minute // from which the form counts
	was     *line.Entry // what a correction replaces
	seen    line.ID     // the version of it that was looked at
	root    line.ID
	also    []also
}

// also is an entry beside the main one; its id is the main one's with a suffix.
type also struct {
	suffix string
	of     line.ID // a line other than the act's
	onLine bool    // of the line the act makes
	first  bool    // recorded before the main entry
	body   line.Body
}

// occurrenceOf loads what the address names.
func (s *Server) occurrenceOf(r *http.Request, a act) (*occurrence, error) {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return nil, err
	}
	o := &occurrence{house: h, who: line.ID(personOf(r).ID), now: s.desk.Now()}
	switch {
	case chi.URLParam(r, "line") != "" && r.Method == http.MethodPost && !a.answers():
		current, patient, ward, err := s.desk.Whose(r.Context(), personOf(r), line.ID(chi.URLParam(r, "line")))
		if err != nil {
			return nil, err
		}
		o.line, o.patient, o.ward = &current, patient, ward
	case chi.URLParam(r, "line") != "":
		page, err := s.desk.Line(r.Context(), personOf(r), line.ID(chi.URLParam(r, "line")))
		if err != nil {
			return nil, err
		}
		o.line, o.patient, o.ward = &page.Line, page.Patient, page.Ward
		for _, f := range page.Findings {
			o.rules = append(o.rules, f.Rule)
		}
	case chi.URLParam(r, "patient") != "":
		page, err := s.desk.Patient(r.Context(), personOf(r), line.ID(chi.URLParam(r, "patient")))
		if err != nil {
			return nil, err
		}
		o.patient, o.ward, o.subject = page.Patient, h.WardByKey(page.Patient.LastWard), page.Subject
		for _, l := range page.Lines {
			if l.Outcome == line.WithLine && l.Out == line.Far {
				o.lines = append(o.lines, l)
			}
		}
	default:
		w, ok := h.Ward(line.ID(chi.URLParam(r, "ward")))
		if !ok {
			return nil, fault.New(fault.NotFound, "fault.no-such-ward")
		}
		o.ward = w
	}
	return o, nil
}
