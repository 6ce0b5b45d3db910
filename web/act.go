package web

import (
	"bytes"
	"context"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
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

func (s *Server) showAct(a act) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		o, err := s.occurrenceOf(r, a)
		if err != nil {
			return err
		}
		values, err := s.draftOf(r)
		if err != nil {
			return err
		}
		if values == nil {
			values = url.Values{"attempt.1.operator": {string(o.who)}, "attempt.1.result": {"placed"}, "outcome": {"line"}, "when": {"now"}}
		}
		for _, id := range []string{"entry", "line", "subject"} {
			if values.Get(id) == "" {
				values.Set(id, string(desk.NewID()))
			}
		}
		return s.actPage(w, r, http.StatusOK, a, o, view.Form{Action: r.URL.Path, Values: values})
	}
}

// draftOf is the person's own draft that the address names; nil where it names none.
func (s *Server) draftOf(r *http.Request) (url.Values, error) {
	id := r.URL.Query().Get("draft")
	if id == "" {
		return nil, nil
	}
	drafts, err := s.desk.Drafts(r.Context(), personOf(r))
	if err != nil {
		return nil, err
	}
	for _, d := range drafts {
		if d.ID == id {
			values := maps.Clone(d.Form)
			values.Set("draft", id)
			return values, nil
		}
	}
	return nil, fault.New(fault.NotFound, "fault.no-such-page")
}

func (s *Server) actPage(w http.ResponseWriter, r *http.Request, status int, a act, o *occurrence, form view.Form) error {
	r = s.onWard(r, o.ward)
	page := view.Act{
		Shell: s.shell(r, say(r, "act."+a.path)), Form: form, Path: a.path, House: o.house, Ward: o.ward, Patient: o.patient,
		Line: o.line, Lines: o.lines, Subject: o.subject, Rules: o.rules, Attempts: attemptNumbers(form.Values), Now: s.desk.Now(),
	}
	if a.path == "place" {
		page.Findings, _ = s.advice(r.Context(), r, o, form.Values)
	}
	return s.show(w, r, status, view.ActPage(page))
}

// build makes the entries of an act from its form.
func (s *Server) build(a act, o *occurrence, form url.Values) (desk.Act, error) {
	in := &reader{form: form, zone: o.ward.Location, now: o.now, was: o.was, fields: fault.Fields{}}
	o.also = nil
	at, precision, now := in.moment("when")
	body := a.read(in, o)
	if a.path == "admit" {
		if err := o.house.CheckReference(strings.ToUpper(in.get("reference"))); err != nil {
			in.wrong("reference", "desk.reference-pattern", "example", o.house.Hospital.Example)
		}
	}
	id := line.ID(in.get("entry"))
	e := line.Entry{ID: id, Kind: body.Kind(), Subject: o.patient.ID, Happened: at, Precision: precision, Body: body}
	switch {
	case a.path == "admit":
		e.Subject = line.ID(in.get("subject"))
	case o.line != nil:
		e.Line = o.line.ID
	case e.Kind == line.KindOccasion:
		e.Line = line.ID(in.get("line"))
	}
	entries := []line.Entry{e}
	for _, more := range o.also {
		beside := e
		beside.ID, beside.Kind, beside.Body, beside.Line = id+line.ID(more.suffix), more.body.Kind(), more.body, more.of
		if more.onLine {
			beside.Line = e.Line
		}
		if f, ok := more.body.(line.Facts); ok && f.Limits == nil && f.Watches == nil && f.Group == 0 {
			continue
		}
		if more.first {
			entries = slices.Insert(entries, len(entries)-1, beside)
			continue
		}
		entries = append(entries, beside)
	}
	return desk.Act{Entries: entries, Now: now, BedConfirmed: in.get("bed_confirmed") != ""}, in.err()
}

func (s *Server) takeAct(a act) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		form, err := formOf(r, r.URL.Path)
		if err != nil {
			return err
		}
		o, err := s.occurrenceOf(r, a)
		if err != nil {
			return err
		}
		if repeat := form.Get("repeat"); repeat != "" {
			repeatRows(form.Values, repeat)
			return s.actPage(w, r, http.StatusOK, a, o, form)
		}
		if form.Get("check") != "" {
			return s.actPage(w, r, http.StatusOK, a, o, form)
		}
		o.now = s.sent(r, form.Get("entry"))
		what, err := s.build(a, o, form.Values)
		if err == nil && a.path == "admit" {
			err = s.sameAgain(r, &what)
		}
		if err == nil {
			_, err = s.desk.Record(r.Context(), personOf(r), what)
		}
		if err != nil {
			if err := refuse(s.onWard(r, o.ward), &form, err); err != nil {
				return err
			}
			renameFields(a, form)
			return s.actPage(w, r, http.StatusUnprocessableEntity, a, o, form)
		}
		if err := s.dropSent(r, form); err != nil {
			return err
		}
		s.notice(r, "act.done."+a.path)
		return see(w, r, after(a, o, what))
	}
}

// dropSent drops the draft that the form was filled from, once it is recorded.
func (s *Server) dropSent(r *http.Request, form view.Form) error {
	draft := form.Get("draft")
	if draft == "" {
		return nil
	}
	return s.desk.DropDraft(r.Context(), personOf(r), draft)
}

// sameAgain gives a patient who comes back the subject of before.
func (s *Server) sameAgain(r *http.Request, what *desk.Act) error {
	admission, ok := what.Entries[0].Body.(line.Admission)
	if !ok || admission.Reference == "" {
		return nil
	}
	known, err := s.desk.FindPatient(r.Context(), personOf(r), string(admission.Reference))
	if err != nil {
		return err
	}
	for _, p := range known {
		if p.ID == what.Entries[0].Subject {
			return nil // the same form again
		}
		if p.Ward != 0 {
			return fault.Field("reference", "act.admitted-already", "bed", p.Bed)
		}
		for i := range what.Entries {
			what.Entries[i].Subject = p.ID
		}
	}
	return nil
}

// repeatRows adds or takes out an attempt for those without script.
func repeatRows(form url.Values, how string) {
	if n, ok := strings.CutPrefix(how, "remove-"); ok {
		for name := range form {
			if strings.HasPrefix(name, "attempt."+n+".") {
				form.Del(name)
			}
		}
		return
	}
	next := 1
	for _, n := range attemptNumbers(form) {
		if i, err := strconv.Atoi(n); err == nil {
			next = max(next, i+1)
		}
	}
	form.Set("attempt."+strconv.Itoa(next)+".result", "placed")
}

// renameFields puts what the record found wrong at the form's own fields.
func renameFields(a act, form view.Form) {
	names := map[string]string{
		"happened": "when", "limits": "limb-0", "until": "hours", "keep_until": "keep_hours", "returns": "returns_hours", "attempts": "outcome",
	}
	if rows := attemptNumbers(form.Values); len(rows) > 0 {
		names["attempts"] = "attempt." + rows[0] + ".result"
	}
	switch a.path {
	case "review":
		names["dressing"] = "state"
	case "place": // of the clinician's answer in the same act
		names["why"], names["until"] = "clinician_why", "clinician"
	}
	for from, text := range maps.Clone(form.Errors) {
		to := strings.TrimPrefix(from, "replacement.")
		if other, ok := names[to]; ok {
			to = other
		}
		if to != from {
			delete(form.Errors, from)
			form.Errors[to] = text
		}
	}
}

// after is where the person goes on.
func after(a act, o *occurrence, what desk.Act) string {
	e := what.Entries[len(what.Entries)-1]
	switch {
	case a.path == "admit":
		return "/patients/" + string(e.Subject)
	case a.path == "review" || a.path == "discharge":
		return "/wards/" + string(o.ward.Ward.Ward)
	case o.line != nil:
		return "/lines/" + string(o.line.ID)
	case a.path == "place":
		return "/lines/" + string(what.Entries[0].Line)
	}
	return "/patients/" + string(o.patient.ID)
}

// advise answers with the findings of the line in the form, before it is recorded.
func (s *Server) advise(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	o, err := s.occurrenceOf(r, actOccasion)
	if err != nil {
		return err
	}
	r = s.onWard(r, o.ward)
	findings, known := s.advice(r.Context(), r, o, form.Values)
	var b bytes.Buffer
	if err := view.AdviceFindings(findings, known).Render(r.Context(), &b); err != nil {
		return err
	}
	return send(w, r, http.StatusOK, "text/html; charset=utf-8", b.Bytes())
}

// advice is what would be found; known is false while site or gauge are missing.
func (s *Server) advice(ctx context.Context, r *http.Request, o *occurrence, form url.Values) (findings []audit.Finding, known bool) {
	if form.Get("site") == "" || form.Get("gauge") == "" {
		return nil, false
	}
	what, _ := s.build(act{path: "place", read: readOccasion}, o, form)
	for i := range what.Entries {
		if b, ok := what.Entries[i].Body.(line.Occasion); ok {
			b.Outcome = line.WithLine
			what.Entries[i].Body = b
		}
	}
	findings, err := s.desk.Advise(ctx, personOf(r), desk.Act{Entries: what.Entries[:1], Now: what.Now})
	return findings, err == nil
}
