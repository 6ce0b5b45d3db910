package web

import (
	"net/http"
	"net/url"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// opened loads an entry as it now stands, with what it is about.
func (s *Server) opened(r *http.Request) (entry line.Entry, seen line.ID, o *occurrence, err error) {
	entry, seen, err = s.desk.Latest(r.Context(), personOf(r), line.ID(chi.URLParam(r, "entry")))
	if err != nil {
		return entry, seen, nil, err
	}
	page, err := s.desk.Patient(r.Context(), personOf(r), entry.Subject)
	if err != nil {
		return entry, seen, nil, err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return entry, seen, nil, err
	}
	o = &occurrence{house: h, ward: h.WardByKey(page.Patient.LastWard), patient: page.Patient, subject: page.Subject, who: line.ID(personOf(r).ID), was: &entry}
	o.now = s.sent(r, r.PostFormValue("entry"))
	for i, l := range page.Lines {
		if l.ID == entry.Line {
			o.line = &page.Lines[i]
		}
	}
	return entry, seen, o, nil
}

func (s *Server) showCorrection(w http.ResponseWriter, r *http.Request) error {
	e, seen, o, err := s.opened(r)
	if err != nil {
		return err
	}
	a, ok := actOf(e.Kind)
	if !ok {
		return see(w, r, "/entries/"+chi.URLParam(r, "entry")+"/void")
	}
	values, err := s.draftOf(r)
	if err != nil {
		return err
	}
	if values == nil {
		values = url.Values{"seen": {string(seen)}, "entry": {string(desk.NewID())}}
		fillWhen(e, o.ward.Location, values)
		a.fill(e, values)
	}
	return s.correctionPage(w, r, http.StatusOK, a, o, view.Form{Action: r.URL.Path, Values: values})
}

func (s *Server) correctionPage(w http.ResponseWriter, r *http.Request, status int, a act, o *occurrence, form view.Form) error {
	r = s.onWard(r, o.ward)
	return s.show(w, r, status, view.ActPage(view.Act{
		Shell: s.shell(r, say(r, "correct.title")), Form: form, Path: a.path, House: o.house, Ward: o.ward, Patient: o.patient,
		Line: o.line, Subject: o.subject, Attempts: attemptNumbers(form.Values), Now: s.desk.Now(), Correcting: true,
	}))
}

func (s *Server) takeCorrection(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	e, _, o, err := s.opened(r)
	if err != nil {
		return err
	}
	a, ok := actOf(e.Kind)
	if !ok {
		return fault.New(fault.NotFound, "fault.no-such-page")
	}
	if repeat := form.Get("repeat"); repeat != "" {
		repeatRows(form.Values, repeat)
		return s.correctionPage(w, r, http.StatusOK, a, o, form)
	}
	what, err := s.build(a, o, form.Values)
	if err == nil {
		fixed := e
		fixed.Recorded = time.Time{} // it is the correction that is recorded
		fixed.Body, fixed.Happened, fixed.Precision = what.Entries[0].Body, what.Entries[0].Happened, what.Entries[0].Precision
		err = s.amend(r, line.ID(form.Get("entry")), e, line.Correction{
			Root: line.ID(chi.URLParam(r, "entry")), Seen: line.ID(form.Get("seen")), Why: line.Text(form.Get("why_corrected")), Replacement: fixed,
		})
	}
	if err != nil {
		if err := refuse(s.onWard(r, o.ward), &form, err); err != nil {
			return err
		}
		if text, ok := form.Errors["why"]; ok {
			form.Errors["why_corrected"] = text
			delete(form.Errors, "why")
		}
		renameFields(a, form)
		return s.correctionPage(w, r, http.StatusUnprocessableEntity, a, o, form)
	}
	if err := s.dropSent(r, form); err != nil {
		return err
	}
	s.notice(r, "correct.done")
	return see(w, r, pageOf(e))
}

// amend records a correction or a void.
func (s *Server) amend(r *http.Request, id line.ID, of line.Entry, body line.Body) error {
	_, err := s.desk.Record(r.Context(), personOf(r), desk.Act{Entries: []line.Entry{{
		ID: id, Kind: body.Kind(), Subject: of.Subject, Precision: line.ToMinute, Body: body,
	}}, Now: true})
	return err
}

func pageOf(e line.Entry) string {
	if e.Line != "" && e.Kind != line.KindOccasion {
		return "/lines/" + string(e.Line)
	}
	return "/patients/" + string(e.Subject)
}

func (s *Server) showVoid(w http.ResponseWriter, r *http.Request) error {
	e, seen, o, err := s.opened(r)
	if err != nil {
		return err
	}
	values, err := s.draftOf(r)
	if err != nil {
		return err
	}
	if values == nil {
		values = url.Values{"seen": {string(seen)}, "entry": {string(desk.NewID())}}
	}
	return s.voidPage(w, r, http.StatusOK, e, o, view.Form{Action: r.URL.Path, Values: values})
}

func (s *Server) voidPage(w http.ResponseWriter, r *http.Request, status int, e line.Entry, o *occurrence, form view.Form) error {
	r = s.onWard(r, o.ward)
	return s.show(w, r, status, view.VoidPage(view.Void{
		Shell: s.shell(r, say(r, "void.title")), Form: form, House: o.house, Entry: e, Back: pageOf(e),
	}))
}

func (s *Server) takeVoid(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	e, _, o, err := s.opened(r)
	if err != nil {
		return err
	}
	err = s.amend(r, line.ID(form.Get("entry")), e, line.Void{
		Root: line.ID(chi.URLParam(r, "entry")), Seen: line.ID(form.Get("seen")), Why: line.Text(form.Get("why")),
	})
	if err != nil {
		if err := refuse(s.onWard(r, o.ward), &form, err); err != nil {
			return err
		}
		return s.voidPage(w, r, http.StatusUnprocessableEntity, e, o, form)
	}
	if err := s.dropSent(r, form); err != nil {
		return err
	}
	s.notice(r, "void.done")
	return see(w, r, "/patients/"+string(e.Subject))
}
