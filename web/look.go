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

// actLook is a look in two taps: nothing wrong, or not seen and why.
var actLook = act{"look", line.KindReview, readLook, fillReview}

func readLook(r *reader, _ *occurrence) line.Body {
	if r.form.Has("why") {
		return line.NotSeen{Why: parsed1(r, "why", line.OffWard), Returns: r.later("returns_hours", 72)}
	}
	if !r.form.Has("nothing_wrong") {
		r.wrong("nothing_wrong", "act.choose")
	}
	return line.Review{Dressing: line.SetOf(line.Intact), Needed: parsed0(r, "needed", line.Yes)}
}

// showLook is what a label's code opens: first whose line it is, then the look.
func (s *Server) showLook(w http.ResponseWriter, r *http.Request) error {
	values, reason, err := s.draftOf(r, time.UTC) // it has no time to choose
	if err != nil {
		return err
	}
	if values == nil {
		values = url.Values{"entry": {string(desk.NewID())}, "from": {view.FromLook}}
	}
	return s.lookPage(w, r, http.StatusOK, view.Form{Values: values, Message: reason})
}

func (s *Server) lookPage(w http.ResponseWriter, r *http.Request, status int, form view.Form) error {
	stop, ward, err := s.desk.Look(r.Context(), personOf(r), line.ID(chi.URLParam(r, "line")))
	if err != nil {
		return err
	}
	r = s.onWard(r, ward)
	look := view.Look{Stop: stop, Form: form, Part: view.AskWhose}
	switch {
	case stop.Line.Out != line.Far || stop.Line.Outcome != line.WithLine:
		look.Part = view.LineIsOut
	case form.Message != "" || r.URL.Query().Get("step") == view.AskFound:
		look.Part = view.AskFound
	}
	page := view.LookPage{Shell: s.shell(r, say(r, "act.look")), Ward: ward, Look: look, Stored: s.storedLook(r)}
	if page.Stored != nil {
		page.Stored.Back = r.URL.Path
	}
	return s.show(w, r, status, view.ShowLook(page))
}

// storedLook is the look that the person came from, while it can be undone.
func (s *Server) storedLook(r *http.Request) *view.Stored {
	id := r.URL.Query().Get("stored")
	if id == "" {
		return nil
	}
	e, ok := s.desk.JustRecorded(r.Context(), personOf(r), line.ID(id))
	if !ok {
		return nil
	}
	return &view.Stored{Entry: e}
}

func (s *Server) takeLook(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	o, err := s.occurrenceOf(r, actLook)
	if err != nil {
		return err
	}
	o.now = s.sent(r, form.Get("entry"))
	what, err := s.build(actLook, o, form.Values)
	if err == nil {
		_, err = s.desk.Record(r.Context(), personOf(r), what)
	}
	if err != nil {
		if err := refuse(s.onWard(r, o.ward), &form, err); err != nil {
			return err
		}
		return s.lookPage(w, r, http.StatusUnprocessableEntity, form)
	}
	if err := s.dropSent(r, form); err != nil {
		return err
	}
	if r.Header.Get("X-In-Place") != "" { // the script has gone on already
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	return see(w, r, afterLook(form, o))
}

// afterLook is where a person goes on after a look: the rest of the round, or
// the line's look, which says what was recorded. "" where the form was opened
// from elsewhere.
func afterLook(form view.Form, o *occurrence) string {
	if o.line == nil {
		return ""
	}
	q := url.Values{"stored": {form.Get("entry")}}
	switch form.Get("from") {
	case view.FromRound:
		q.Set("after", string(o.line.ID))
		return "/wards/" + string(o.ward.Ward.Ward) + "/round?" + q.Encode()
	case view.FromLook:
		return "/lines/" + string(o.line.ID) + "/look?" + q.Encode()
	}
	return ""
}

// undo withdraws what was recorded a moment ago; later the reason is asked for.
func (s *Server) undo(w http.ResponseWriter, r *http.Request) error {
	id := line.ID(chi.URLParam(r, "entry"))
	err := s.desk.Undo(r.Context(), personOf(r), id, line.Text(say(r, "look.undo-why")))
	if fault.Is(err, fault.Conflict) {
		return see(w, r, "/entries/"+url.PathEscape(string(id))+"/void")
	}
	if err != nil {
		return err
	}
	s.notice(r, "look.undone")
	return see(w, r, localPath(r.PostFormValue("to")))
}
