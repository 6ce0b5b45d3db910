package web

import (
	"net/http"
	"net/url"
	"slices"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// opened loads an entry with what it is about: as it now stands, or, where a
// form comes in, the version that its author saw.
func (s *Server) opened(r *http.Request) (*occurrence, error) {
	o := &occurrence{root: line.ID(chi.URLParam(r, "entry")), who: line.ID(personOf(r).ID)}
	var entry line.Entry
	var err error
	if o.seen = line.ID(r.PostFormValue("seen")); o.seen != "" {
		entry, err = s.desk.Version(r.Context(), personOf(r), o.root, o.seen)
	} else {
		entry, o.seen, err = s.desk.Latest(r.Context(), personOf(r), o.root)
	}
	if err != nil {
		return nil, err
	}
	page, err := s.desk.Patient(r.Context(), personOf(r), entry.Subject)
	if err != nil {
		return nil, err
	}
	if o.house, err = s.desk.House(r.Context()); err != nil {
		return nil, err
	}
	o.ward, o.patient, o.subject, o.was = o.house.WardByKey(page.Patient.LastWard), page.Patient, page.Subject, &entry
	o.now = s.sent(r, r.PostFormValue("entry"))
	for i, l := range page.Lines {
		if l.ID == entry.Line {
			o.line = &page.Lines[i]
		}
	}
	switch b := entry.Body.(type) {
	case line.Discharge:
		o.lines = answered(entry, page.Lines)
	case line.Justification:
		o.rules = []line.Rule{b.Rule}
	case line.FollowUp:
		o.rules = []line.Rule{b.Rule}
	}
	for _, f := range page.Findings {
		if (f.Line == 0 || o.line != nil && f.Line == o.line.Key) && !slices.Contains(o.rules, f.Rule) {
			o.rules = append(o.rules, f.Rule)
		}
	}
	return o, nil
}

func (s *Server) showCorrection(w http.ResponseWriter, r *http.Request) error {
	o, err := s.opened(r)
	if err != nil {
		return err
	}
	a, ok := actsByKind[o.was.Kind]
	if !ok {
		return see(w, r, "/entries/"+chi.URLParam(r, "entry")+"/void")
	}
	values, reason, err := s.draftOf(r, o.ward.Location)
	if err != nil {
		return err
	}
	if values == nil {
		values = url.Values{"seen": {string(o.seen)}, "entry": {string(desk.NewID())}, "line": {string(o.was.Line)}}
		fillWhen(*o.was, o.ward.Location, values)
		a.fill(*o.was, values)
	}
	return s.actPage(w, r, http.StatusOK, a, o, view.Form{Action: r.URL.Path, Values: values, Message: reason})
}

func (s *Server) takeCorrection(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	o, err := s.opened(r)
	if err != nil {
		return err
	}
	a, ok := actsByKind[o.was.Kind]
	if !ok {
		return fault.New(fault.NotFound, "fault.no-such-page")
	}
	return s.take(w, r, a, o, form)
}

func pageOf(e line.Entry) string {
	if e.Line != "" && e.Kind != line.KindOccasion {
		return "/lines/" + string(e.Line)
	}
	return "/patients/" + string(e.Subject)
}

func (s *Server) showVoid(w http.ResponseWriter, r *http.Request) error {
	o, err := s.opened(r)
	if err != nil {
		return err
	}
	values, reason, err := s.draftOf(r, o.ward.Location)
	if err != nil {
		return err
	}
	if values == nil {
		values = url.Values{"seen": {string(o.seen)}, "entry": {string(desk.NewID())}}
	}
	return s.voidPage(w, r, http.StatusOK, o, view.Form{Action: r.URL.Path, Values: values, Message: reason})
}

func (s *Server) voidPage(w http.ResponseWriter, r *http.Request, status int, o *occurrence, form view.Form, inTheWay ...desk.Obstacle) error {
	r = s.onWard(r, o.ward)
	return s.show(w, r, status, view.VoidPage(view.Void{
		Shell: s.shell(r, say(r, "void.title")), Form: form, House: o.house, Entry: *o.was, Back: pageOf(*o.was), InTheWay: inTheWay, Reader: o.who,
	}))
}

func (s *Server) takeVoid(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	o, err := s.opened(r)
	if err != nil {
		return err
	}
	in := &reader{form: form.Values, now: o.now, fields: fault.Fields{}}
	body := line.Void{Root: o.root, Seen: o.seen, Why: in.text("why")}
	void := line.Entry{
		ID: line.ID(form.Get("entry")), Kind: body.Kind(), Subject: o.was.Subject, Happened: o.now, Precision: line.ToMinute, Body: body,
	}
	what := desk.Act{Entries: append([]line.Entry{void}, withdrawals(in, void, o.now)...)}
	if err = in.err(); err == nil {
		_, err = s.desk.Record(r.Context(), personOf(r), what)
	}
	if err != nil {
		inTheWay, err := s.refuseAct(r, o, what, &form, err)
		if err != nil {
			return err
		}
		return s.voidPage(w, r, http.StatusUnprocessableEntity, o, form, inTheWay...)
	}
	if err := s.dropSent(r, form); err != nil {
		return err
	}
	s.notice(r, "void.done")
	return see(w, r, "/patients/"+string(o.was.Subject))
}
