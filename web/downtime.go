package web

import (
	"cmp"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

func (s *Server) showDowntime(w http.ResponseWriter, r *http.Request) error {
	sheets, err := s.desk.Downtime(r.Context(), personOf(r))
	if err != nil {
		return err
	}
	return s.show(w, r, http.StatusOK, view.DowntimePage(view.Downtime{Shell: s.shell(r, say(r, "downtime.title")), Downtime: sheets}))
}

// What was written on paper for a line, in the order of the sheet's columns.
var paperActs = map[string]func(*reader, string) line.Body{
	view.PaperLook:     readPaperLook,
	view.PaperDressing: func(r *reader, row string) line.Body { return line.Dressing{Material: parsed1(r, row, line.Film)} },
	view.PaperRemoval:  func(r *reader, row string) line.Body { return line.Removal{Reason: parsed1(r, row, line.NotNeeded)} },
}

func readPaperLook(r *reader, row string) line.Body {
	b := line.Review{Signs: ticked(r, row+"-sign", line.Pain)}
	switch r.get(row) {
	case "intact":
		b.Dressing = line.SetOf(line.Intact)
		if b.Signs != 0 {
			r.wrong(row, "downtime.signs-and-nothing")
		}
	case "seen":
		if b.Signs == 0 {
			r.wrong(row+"-sign", "downtime.which-signs")
		}
	}
	return b
}

// paperRow is one thing written on paper: a row of the form, such as
// "look.LINE". Its fields have names that start with the row's.
type paperRow struct {
	name  string
	entry line.Entry
}

func (s *Server) showBackEntry(w http.ResponseWriter, r *http.Request) error {
	values, _, err := s.draftOf(r, time.UTC) // its times are typed
	if err != nil {
		return err
	}
	if values == nil {
		values = url.Values{}
	}
	return s.backEntryPage(w, r, http.StatusOK, view.Form{Action: r.URL.Path, Values: values}, nil)
}

// backEntryPage shows a row for each line of the ward and each thing that may
// have been done, and those rows of the form whose line is no longer there.
func (s *Server) backEntryPage(w http.ResponseWriter, r *http.Request, status int, form view.Form, stored []view.PaperStored) error {
	round, err := s.desk.Round(r.Context(), personOf(r), line.ID(chi.URLParam(r, "ward")))
	if err != nil {
		return err
	}
	r = s.onWard(r, round.Ward)
	page := view.BackEntry{Shell: s.shell(r, say(r, "act.back-entry")), Ward: round.Ward, Form: form, Stored: stored}
	for _, stop := range round.Stops {
		page.Lines = append(page.Lines, view.PaperLine{Line: stop.Line, Patient: stop.Patient})
	}
	for _, name := range slices.Sorted(maps.Keys(form.Values)) {
		_, id, _ := strings.Cut(name, ".")
		if !typedRow(form.Values, name) || slices.ContainsFunc(page.Lines, func(l view.PaperLine) bool { return string(l.Line.ID) == id }) {
			continue
		}
		if current, patient, _, err := s.desk.Whose(r.Context(), personOf(r), line.ID(id)); err == nil {
			page.Lines = append(page.Lines, view.PaperLine{Line: current, Patient: patient})
		}
	}
	if form.Values.Get("day") == "" {
		form.Values.Set("day", s.desk.Now().Time().In(round.Ward.Location).Format(time.DateOnly))
	}
	for _, l := range page.Lines {
		for _, what := range view.PaperWhats {
			if id := l.Row(what) + "-id"; form.Get(id) == "" {
				form.Values.Set(id, string(desk.NewID()))
			}
		}
	}
	return s.show(w, r, status, view.BackEntryPage(page))
}

// typedRow reports whether the name is that of a row in which anything stands.
func typedRow(form url.Values, row string) bool {
	what, _, _ := strings.Cut(row, ".")
	if paperActs[what] == nil || !form.Has(row+"-id") {
		return false
	}
	return form.Get(row) != "" || form.Get(row+"-clock") != "" || form.Get(row+"-by") != "" || len(form[row+"-sign"]) > 0
}

// takeBackEntry records each row apart, the earliest first. What is refused
// stays in the form with the reason.
func (s *Server) takeBackEntry(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	ward, ok := h.Ward(line.ID(chi.URLParam(r, "ward")))
	if !ok {
		return fault.New(fault.NotFound, "fault.no-such-ward")
	}
	r = s.onWard(r, ward)
	rows, err := s.readPaper(r, ward, form)
	if err != nil {
		return err
	}
	var stored []view.PaperStored
	for _, row := range rows {
		_, err := s.desk.Record(r.Context(), personOf(r), desk.Act{Entries: []line.Entry{row.entry}})
		if err != nil {
			if err := refuseRow(r, form, row.name, err); err != nil {
				return err
			}
			continue
		}
		stored = append(stored, view.PaperStored{Entry: row.entry})
		for name := range form.Values {
			if name == row.name || strings.HasPrefix(name, row.name+"-") {
				form.Values.Del(name)
			}
		}
	}
	switch {
	case len(form.Errors) > 0:
		return s.backEntryPage(w, r, http.StatusUnprocessableEntity, form, stored)
	case len(stored) == 0:
		form.Message = say(r, "act.nothing-said")
		return s.backEntryPage(w, r, http.StatusUnprocessableEntity, form, nil)
	}
	if err := s.dropSent(r, form); err != nil {
		return err
	}
	s.notice(r, "downtime.stored", "n", len(stored))
	return see(w, r, "/wards/"+string(ward.Ward.Ward))
}

// readPaper reads the rows in which something stands; what cannot be read is
// noted in the form. The earliest comes first, so that what was done on a line
// is recorded before it is out.
func (s *Server) readPaper(r *http.Request, ward desk.Ward, form view.Form) ([]paperRow, error) {
	var rows []paperRow
	for name := range maps.Clone(form.Values) {
		if !typedRow(form.Values, name) {
			continue
		}
		what, id, _ := strings.Cut(name, ".")
		current, patient, _, err := s.desk.Whose(r.Context(), personOf(r), line.ID(id))
		if err != nil {
			return nil, err
		}
		form.Values.Set(name+"-date", form.Get("day"))
		in := &reader{form: form.Values, zone: ward.Location, now: s.desk.Now(), fields: fault.Fields{}}
		if in.get(name) == "" {
			in.wrong(name, "act.choose")
		}
		by := in.text(name + "-by")
		if n := utf8.RuneCountInString(string(by)); n == 0 || n > 80 {
			in.wrong(name+"-by", "downtime.by")
		}
		body := paperActs[what](in, name)
		e := line.Entry{
			ID: line.ID(in.get(name + "-id")), Kind: body.Kind(), Subject: patient.ID, Line: current.ID, By: by,
			Happened: in.typed(name), Precision: line.ToMinute, Body: body,
		}
		if len(in.fields) == 0 {
			rows = append(rows, paperRow{name, e})
		}
		for field, m := range in.fields {
			form.Errors[field] = words.Say(r.Context(), m.Key, m.Args...)
		}
	}
	slices.SortFunc(rows, func(a, b paperRow) int {
		return cmp.Or(cmp.Compare(a.entry.Happened, b.entry.Happened), cmp.Compare(a.entry.Kind, b.entry.Kind), strings.Compare(a.name, b.name))
	})
	return rows, nil
}

// refuseRow puts why a row was refused beside it; other errors it gives back.
func refuseRow(r *http.Request, form view.Form, row string, err error) error {
	one := view.Form{}
	if err := refuse(r, &one, err); err != nil {
		return err
	}
	form.Errors[row] = one.Message
	for _, field := range slices.Sorted(maps.Keys(one.Errors)) {
		form.Errors[row] = one.Errors[field]
	}
	return nil
}
