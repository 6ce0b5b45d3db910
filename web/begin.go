package web

import (
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

// showBegin leads to the first step that is not done yet.
func (s *Server) showBegin(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	switch {
	case h.Hospital.Name == "":
		return see(w, r, view.BeginHospital)
	case len(h.Wards) == 0:
		return see(w, r, view.BeginWards)
	}
	return see(w, r, view.BeginStaff)
}

func (s *Server) showBeginHospital(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	form := hospitalForm(h.Hospital)
	form.Action = view.BeginHospital
	return s.beginPage(w, r, http.StatusOK, form, nil)
}

func (s *Server) takeBeginHospital(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, view.BeginHospital)
	if err != nil {
		return err
	}
	if err = s.spoken(form); err == nil {
		err = s.desk.SetHospital(r.Context(), personOf(r), hospitalOf(form))
	}
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.beginPage(w, r, http.StatusUnprocessableEntity, form, nil)
	}
	return see(w, r, view.BeginWards)
}

func (s *Server) showBeginList(step string) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		return s.beginPage(w, r, http.StatusOK, view.Form{Action: step}, nil)
	}
}

func (s *Server) beginPage(w http.ResponseWriter, r *http.Request, status int, form view.Form, rows []view.ListedLine) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	page := view.Begin{Shell: s.shell(r, say(r, "begin.title")), Form: form, House: h, Languages: s.words, Rows: rows, Notice: s.takeNotice(r)}
	if origin, only := s.origin(r); only {
		page.Only = origin
	}
	return s.show(w, r, status, view.BeginPage(page))
}

// toMake reports whether the person has seen what the list, as it now stands,
// will make, and wants it made.
func toMake(form view.Form, wrong []error) bool {
	all := !slices.ContainsFunc(wrong, func(err error) bool { return err != nil })
	return all && len(wrong) > 0 && form.Get("make") != "" && unix(form.Get("list")) == unix(form.Get("checked"))
}

// unix is a text with one kind of line end; browsers send another than they were given.
func unix(text string) string { return strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n")) }

func (s *Server) takeBeginWards(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, view.BeginWards)
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	lines := pastedLines(form.Get("list"))
	wards, unread := make([]line.Ward, len(lines)), make([]error, len(lines))
	for i, l := range lines {
		wards[i], unread[i] = wardOfLine(l, h.Zone.String())
	}
	wrong, err := s.desk.CheckNewWards(r.Context(), wards)
	if err != nil {
		return err
	}
	prefer(wrong, unread)
	if !toMake(form, wrong) {
		rows := make([]view.ListedLine, len(lines))
		for i, l := range lines {
			rows[i] = view.ListedLine{No: l.no, Ward: &wards[i], Wrong: lineFaults(r, wrong[i])}
		}
		return s.checkedPage(w, r, form, rows)
	}
	if err := s.desk.AddWards(r.Context(), personOf(r), wards); err != nil {
		return err
	}
	s.notice(r, "begin.wards-made", "n", len(wards))
	return see(w, r, view.BeginStaff)
}

func (s *Server) takeBeginStaff(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, view.BeginStaff)
	if err != nil {
		return err
	}
	lines := pastedLines(form.Get("list"))
	people, unread := make([]desk.NewAccount, len(lines)), make([]error, len(lines))
	for i, l := range lines {
		people[i], unread[i] = personOfLine(r.Context(), l)
	}
	wrong, err := s.desk.CheckNewPeople(r.Context(), people)
	if err != nil {
		return err
	}
	prefer(wrong, unread)
	if !toMake(form, wrong) {
		rows := make([]view.ListedLine, len(lines))
		for i, l := range lines {
			rows[i] = view.ListedLine{No: l.no, Person: &people[i], Wrong: lineFaults(r, wrong[i])}
		}
		return s.checkedPage(w, r, form, rows)
	}
	invitations, err := s.desk.InvitePeople(r.Context(), personOf(r), people)
	if err != nil {
		return err
	}
	return s.invitationsPage(w, r, invitations)
}

// prefer puts what could not be read before what else is wrong with a line.
func prefer(wrong, unread []error) {
	for i, err := range unread {
		if err != nil {
			wrong[i] = err
		}
	}
}

// checkedPage shows what a list will make; 422 where something in it is wrong.
func (s *Server) checkedPage(w http.ResponseWriter, r *http.Request, form view.Form, rows []view.ListedLine) error {
	bad := slices.DeleteFunc(slices.Clone(rows), func(l view.ListedLine) bool { return l.Wrong == "" })
	form.Values = url.Values{"list": {form.Get("list")}}
	status := http.StatusOK
	switch {
	case len(rows) == 0:
		status, form.Message = http.StatusUnprocessableEntity, say(r, "begin.nothing")
	case len(bad) > 0:
		status, form.Message = http.StatusUnprocessableEntity, say(r, "begin.wrong", "n", len(bad))
	}
	return s.beginPage(w, r, status, form, rows)
}

// lineFaults says what is wrong with a line of a list; "" where nothing is.
func lineFaults(r *http.Request, err error) string {
	var e *fault.Error
	if !errors.As(err, &e) {
		return ""
	}
	var said []string
	for _, name := range slices.Sorted(maps.Keys(e.Fields)) {
		said = append(said, words.Say(r.Context(), e.Fields[name].Key, e.Fields[name].Args...))
	}
	return strings.Join(said, " ")
}
