package web

import (
	"net/http"
	"net/url"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

func (s *Server) showLanguage(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	chosen := h.People[line.ID(personOf(r).ID)].Language
	return s.languagePage(w, r, http.StatusOK, view.Form{Action: "/language", Values: url.Values{"language": {chosen}}})
}

func (s *Server) languagePage(w http.ResponseWriter, r *http.Request, status int, form view.Form) error {
	return s.show(w, r, status, view.LanguagePage(view.LanguageChoice{
		Shell: s.shell(r, say(r, "language.title")), Form: form, Languages: s.words,
	}))
}

// changeLanguage takes a person's choice. The next page speaks it.
func (s *Server) changeLanguage(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/language")
	if err != nil {
		return err
	}
	if err = s.spoken(form); err == nil {
		err = s.desk.SetLanguage(r.Context(), personOf(r), form.Get("language"))
	}
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.languagePage(w, r, http.StatusUnprocessableEntity, form)
	}
	chosen := words.Speaker{Language: s.words.Choose(form.Get("language"), words.To(r.Context()).Language.Tag())}
	s.notice(r.WithContext(words.With(r.Context(), chosen)), "language.changed")
	return see(w, r, "/")
}

// spoken refuses a language that is not there; none is a choice too.
func (s *Server) spoken(form view.Form) error {
	if tag := form.Get("language"); tag != "" && !s.words.Speaks(tag) {
		return fault.Field("language", "language.not-spoken")
	}
	return nil
}
