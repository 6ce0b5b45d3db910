package web

import (
	"maps"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// act is one thing that can be recorded, with its form: read makes the entry
// from it, fill makes it from an entry, for a correction.
type act struct {
	path string
	kind line.Kind
	read func(*reader, *occurrence) line.Body
	fill func(line.Entry, url.Values)
}

// answers reports whether the act is about the line's findings.
func (a act) answers() bool { return a.path == "justify" || a.path == "follow-up" }

var (
	actAdmit    = act{"admit", line.KindAdmission, readAdmission, fillAdmission}
	actOccasion = act{"place", line.KindOccasion, readOccasion, fillOccasion}
	actNotSeen  = act{"not-seen", line.KindNotSeen, readNotSeen, fillNotSeen}
	patientActs = []act{
		actOccasion, actNotSeen, {"transfer", line.KindTransfer, readTransfer, fillTransfer},
		{"discharge", line.KindDischarge, readDischarge, fillDischarge}, {"facts", line.KindFacts, readFacts, fillFacts},
	}
	lineActs = []act{
		{"review", line.KindReview, readReview, fillReview}, {"dressing", line.KindDressing, readDressing, fillDressing},
		{"remove", line.KindRemoval, readRemoval, fillRemoval}, actNotSeen, {"site-check", line.KindSiteCheck, readSiteCheck, fillSiteCheck},
		{"justify", line.KindJustification, readJustification, fillJustification},
		{"infection", line.KindInfection, readInfection, fillInfection}, {"follow-up", line.KindFollowUp, readFollowUp, fillFollowUp},
	}
	actsByKind = byKind(append(append([]act{actAdmit}, patientActs...), lineActs...))
)

func byKind(acts []act) map[line.Kind]act {
	all := make(map[line.Kind]act, len(acts))
	for _, a := range acts {
		all[a.kind] = a
	}
	return all
}

func (s *Server) showAct(a act) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		o, err := s.occurrenceOf(r, a)
		if err != nil {
			return err
		}
		values, reason, err := s.draftOf(r, o.ward.Location)
		if err != nil {
			return err
		}
		if values == nil {
			values = url.Values{"attempt.1.operator": {string(o.who)}, "attempt.1.result": {"placed"}, "outcome": {"line"}, "when": {"now"}}
			values["from"] = r.URL.Query()["from"]
			if r.URL.Query().Get("when") == "unknown" { // found where no list has it
				values.Set("when", "unknown")
			}
			if a.kind == line.KindTransfer { // most moves are within the ward
				values.Set("ward", string(o.ward.Ward.Ward))
			}
		}
		for _, id := range []string{"entry", "line", "subject"} {
			if values.Get(id) == "" {
				values.Set(id, string(desk.NewID()))
			}
		}
		return s.actPage(w, r, http.StatusOK, a, o, view.Form{Action: r.URL.Path, Values: values, Message: reason})
	}
}

func (s *Server) actPage(w http.ResponseWriter, r *http.Request, status int, a act, o *occurrence, form view.Form, inTheWay ...desk.Obstacle) error {
	r = s.onWard(r, o.ward)
	beds, of := s.bedsFor(r, a, o, form)
	page := view.Act{
		Shell: s.shell(r, say(r, "act."+a.path)), Form: form, Path: a.path, House: o.house, Ward: o.ward, Patient: o.patient,
		Line: o.line, Lines: o.lines, Subject: o.subject, Rules: o.rules, Attempts: attemptNumbers(form.Values), Now: s.desk.Now(),
		Beds: beds, BedsOf: of, InTheWay: inTheWay, Reader: o.who,
		AsksDifficulty: o.house.Rulebook.PolicyAt(s.desk.Now()).Learning().Difficulty,
	}
	if o.was != nil {
		page.Shell.Title, page.Was = say(r, "correct.title"), url.Values{}
		a.fill(*o.was, page.Was)
	}
	if a.path == "place" && o.was == nil {
		page.Advice = s.advice(r.Context(), r, o, form.Values)
	}
	return s.show(w, r, status, view.ActPage(page))
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
		return s.take(w, r, a, o, form)
	}
}

// take records what a form says, of a new entry or of one that is corrected,
// or shows the form again with what is wrong and everything typed.
func (s *Server) take(w http.ResponseWriter, r *http.Request, a act, o *occurrence, form view.Form) error {
	if repeat := form.Get("repeat"); repeat != "" {
		repeatRows(form.Values, repeat)
		return s.actPage(w, r, http.StatusOK, a, o, form)
	}
	if form.Get("check") != "" {
		return s.actPage(w, r, http.StatusOK, a, o, form)
	}
	o.now = s.sent(r, form.Get("entry"))
	what, err := s.record(r, a, o, form.Values)
	if err != nil {
		inTheWay, err := s.refuseAct(r, o, what, &form, err)
		if err != nil {
			return err
		}
		renameFields(a, o, form)
		return s.actPage(w, r, http.StatusUnprocessableEntity, a, o, form, inTheWay...)
	}
	if err := s.dropSent(r, form); err != nil {
		return err
	}
	if o.was != nil {
		s.notice(r, "correct.done")
		page := pageOf(*o.was)
		if o.was.Line != "" && form.Get("outcome") == line.WithLine.String() {
			page = "/lines/" + string(o.was.Line) // a placement that still has its line
		}
		return see(w, r, page)
	}
	if to := afterLook(form, o); to != "" {
		return see(w, r, to)
	}
	s.notice(r, "act.done."+a.path)
	return see(w, r, after(a, o, what))
}

// record makes the entries that a form says and records them.
func (s *Server) record(r *http.Request, a act, o *occurrence, form url.Values) (desk.Act, error) {
	what, err := s.build(a, o, form)
	if err == nil && a.path == "admit" && o.was == nil {
		err = s.sameAgain(r, &what)
	}
	if err == nil {
		_, err = s.desk.Record(r.Context(), personOf(r), what)
	}
	return what, err
}

// refuseAct puts an error into the form, and finds what stands in the way of
// an act that contradicts the record.
func (s *Server) refuseAct(r *http.Request, o *occurrence, what desk.Act, form *view.Form, err error) ([]desk.Obstacle, error) {
	conflict := fault.Is(err, fault.Conflict)
	if err := refuse(s.onWard(r, o.ward), form, err); err != nil || !conflict {
		return nil, err
	}
	return s.desk.Obstacles(r.Context(), personOf(r), what)
}

// bedsFor are the beds to choose from, and the ward they are of.
func (s *Server) bedsFor(r *http.Request, a act, o *occurrence, form view.Form) ([]desk.Bed, line.ID) {
	if a.kind != line.KindAdmission && a.kind != line.KindTransfer {
		return nil, ""
	}
	of := o.ward.Ward.Ward
	if w, ok := o.house.Ward(line.ID(form.Get("ward"))); ok {
		of = w.Ward.Ward
	}
	beds, err := s.desk.Beds(r.Context(), personOf(r), of)
	if err != nil {
		return nil, "" // the bed is typed
	}
	return beds, of
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
	next, operator := 1, ""
	for _, n := range attemptNumbers(form) {
		if i, err := strconv.Atoi(n); err == nil {
			next, operator = max(next, i+1), form.Get("attempt."+n+".operator")
		}
	}
	form.Set("attempt."+strconv.Itoa(next)+".result", "placed")
	form.Set("attempt."+strconv.Itoa(next)+".operator", operator) // mostly the same hand tries again
}

// renameFields puts what the record found wrong at the form's own fields.
func renameFields(a act, o *occurrence, form view.Form) {
	names := map[string]string{
		"happened": "when", "limits": "limb-0", "until": "hours", "keep_until": "keep_hours", "returns": "returns_hours", "attempts": "outcome",
	}
	if rows := attemptNumbers(form.Values); len(rows) > 0 {
		names["attempts"] = "attempt." + rows[0] + ".result"
	}
	if o.was != nil { // of the correction itself
		names["why"] = "why_corrected"
	}
	switch a.path {
	case "review":
		names["dressing"] = "state"
	case "place": // of the clinician's answer in the same act
		names["until"] = "clinician"
		if o.was == nil {
			names["why"] = "clinician_why"
		}
	}
	for from, text := range maps.Clone(form.Errors) {
		to, replaced := strings.CutPrefix(from, "replacement.")
		if other, ok := names[to]; ok && !(replaced && to == "why") {
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
	switch {
	case a.path == "admit":
		return "/patients/" + string(what.Entries[0].Subject)
	case a.path == "review" || a.path == "discharge":
		return "/wards/" + string(o.ward.Ward.Ward)
	case o.line != nil:
		return "/lines/" + string(o.line.ID)
	case a.path == "place":
		return "/lines/" + string(what.Entries[0].Line)
	}
	return "/patients/" + string(o.patient.ID)
}
