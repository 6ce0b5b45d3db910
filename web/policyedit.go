package web

import (
	"errors"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// The edit in hand is kept among the person's drafts, whole and valid, so that
// lines can be opened and the session can end between trial and putting in
// force. A form that was refused is shown again with everything typed.

func (s *Server) showPolicyEdit(w http.ResponseWriter, r *http.Request) error {
	typed, _, err := s.draftOf(r, time.UTC)
	if err != nil {
		return err
	}
	return s.policyEditPage(w, r, http.StatusOK, view.Form{Values: typed}, nil)
}

func (s *Server) policyInHand(r *http.Request) (*desk.PolicyEdit, error) {
	return s.desk.PolicyEdit(r.Context(), personOf(r))
}

// policyEditPage shows the fields of the base: what the form was made from,
// else the edit in hand, else the policy in force.
func (s *Server) policyEditPage(w http.ResponseWriter, r *http.Request, status int, form view.Form, wrong audit.PolicyErrors) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	page := view.PolicyEdit{Shell: s.shell(r, say(r, "policyedit.title")), Form: form, Wrong: wrong}
	page.Base = h.InForce(s.desk.Now()).Policy
	inHand, err := s.policyInHand(r)
	if err != nil {
		return err
	}
	if page.InHand = inHand != nil; page.InHand {
		page.Base = inHand.Policy
	}
	if p, err := audit.ParsePolicy("base", []byte(newlines(form.Get("base")))); err == nil && form.Values.Has("base") {
		page.Base = p
	}
	return s.show(w, r, status, view.PolicyEditPage(page))
}

// newlines undoes what browsers do to the ends of lines (HTML standard,
// constructing the entry list: each newline is sent as CR LF).
func newlines(text string) string { return strings.ReplaceAll(text, "\r\n", "\n") }

// takePolicyEdit takes either the fields or the whole text.
func (s *Server) takePolicyEdit(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	if !form.Values.Has("text") && !form.Values.Has("base") {
		return see(w, r, "/policy/edit")
	}
	text := []byte(newlines(form.Get("text")))
	if !form.Values.Has("text") {
		text, err = editedText(form)
	}
	return s.keepPolicy(w, r, form, text, err)
}

// editedText is the base with the fields that were typed.
func editedText(form view.Form) ([]byte, error) {
	base, err := audit.ParsePolicy("base", []byte(newlines(form.Get("base"))))
	if err != nil {
		return nil, err
	}
	typed := map[string]string{}
	note := func(rule line.Rule) {
		for _, f := range base.Fields(rule) {
			switch {
			case f.Form == audit.FlagForm: // a box that is not ticked is not sent
				typed[f.Key] = strconv.FormatBool(form.Get(f.Key) == "true")
			case form.Values.Has(f.Key):
				typed[f.Key] = form.Get(f.Key)
			}
		}
	}
	note("")
	for _, r := range audit.Rules() {
		note(r.Rule)
	}
	return base.Edit(typed)
}

// keepPolicy keeps a valid text and goes on to its trial, or shows what is wrong.
func (s *Server) keepPolicy(w http.ResponseWriter, r *http.Request, form view.Form, text []byte, err error) error {
	var p *audit.Policy
	if err == nil {
		p, err = audit.ParsePolicy("", text)
	}
	var wrong audit.PolicyErrors
	if errors.As(err, &wrong) {
		form.Message = say(r, "policyedit.wrong", "n", len(wrong))
		return s.policyEditPage(w, r, http.StatusUnprocessableEntity, form, wrong)
	}
	if err != nil {
		return err
	}
	if err := s.desk.KeepPolicyEdit(r.Context(), personOf(r), desk.PolicyEdit{Policy: p}); err != nil {
		return err
	}
	if err := s.dropSent(r, form); err != nil {
		return err
	}
	return see(w, r, "/policy/edit/trial")
}

// takePolicyFile takes a file from the person's computer.
func (s *Server) takePolicyFile(w http.ResponseWriter, r *http.Request) error {
	file, _, err := r.FormFile("file")
	if errors.Is(err, http.ErrMissingFile) || errors.Is(err, http.ErrNotMultipart) {
		form := view.Form{Errors: map[string]string{"file": say(r, "policyedit.no-file")}, Message: say(r, "policyedit.no-file")}
		return s.policyEditPage(w, r, http.StatusUnprocessableEntity, form, nil)
	}
	if err != nil {
		return fault.Wrap(err, fault.TooLarge, "fault.too-large")
	}
	text, err := io.ReadAll(file)
	if err != nil {
		return fault.Wrap(err, fault.TooLarge, "fault.too-large")
	}
	whole := strings.ToValidUTF8(strings.TrimPrefix(string(text), "\ufeff"), "\ufffd")
	return s.keepPolicy(w, r, view.Form{Values: url.Values{"text": {whole}}}, []byte(whole), nil)
}

// returnToPolicy takes an earlier policy in hand; it is tried like any other.
func (s *Server) returnToPolicy(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	v, err := versionOf(h, chi.URLParam(r, "version"))
	if err != nil {
		return err
	}
	return s.keepPolicy(w, r, view.Form{Values: url.Values{}}, v.Policy.Text(), nil)
}

func (s *Server) dropPolicyEdit(w http.ResponseWriter, r *http.Request) error {
	if err := s.desk.DropPolicyEdit(r.Context(), personOf(r)); err != nil {
		return err
	}
	s.notice(r, "policyedit.dropped")
	return see(w, r, "/policy")
}
