package web

import (
	"errors"
	"io"
	"net/http"
	"strings"

	"dwellbook/internal/fault"
	"dwellbook/web/view"
)

func (s *Server) showRecord(w http.ResponseWriter, r *http.Request) error {
	return s.recordPage(w, r, http.StatusOK, view.RecordOfHeads{})
}

func (s *Server) recordPage(w http.ResponseWriter, r *http.Request, status int, page view.RecordOfHeads) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	now, err := s.desk.Head(r.Context(), personOf(r))
	if err != nil {
		return err
	}
	page.Shell, page.House, page.Now = s.shell(r, say(r, "record.title")), h, now
	return s.show(w, r, status, view.RecordPage(page))
}

func (s *Server) downloadHead(w http.ResponseWriter, r *http.Request) error {
	now, err := s.desk.Head(r.Context(), personOf(r))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Disposition", `attachment; filename="head-`+now.At.Format("2006-01-02-1504")+`.txt"`)
	return send(w, r, http.StatusOK, "text/plain; charset=utf-8", []byte(now.Text))
}

// checkHead takes a kept head as a file or as text.
func (s *Server) checkHead(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseMultipartForm(largestForm); err != nil && !errors.Is(err, http.ErrNotMultipart) { // #nosec G120 -- every body is bounded by the middleware
		return fault.Wrap(err, fault.TooLarge, "fault.too-large")
	}
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	text := form.Get("text")
	if strings.TrimSpace(text) == "" {
		file, _, err := r.FormFile("file")
		switch {
		case errors.Is(err, http.ErrMissingFile), errors.Is(err, http.ErrNotMultipart):
			form.Errors = map[string]string{"file": say(r, "record.no-head-given")}
			form.Message = say(r, "record.no-head-given")
			return s.recordPage(w, r, http.StatusUnprocessableEntity, view.RecordOfHeads{Form: form})
		case err != nil:
			return fault.Wrap(err, fault.TooLarge, "fault.too-large")
		}
		read, err := io.ReadAll(file)
		if err != nil {
			return fault.Wrap(err, fault.TooLarge, "fault.too-large")
		}
		text = string(read)
	}
	check, err := s.desk.CheckHead(r.Context(), personOf(r), []byte(text))
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.recordPage(w, r, http.StatusUnprocessableEntity, view.RecordOfHeads{Form: form})
	}
	return s.recordPage(w, r, http.StatusOK, view.RecordOfHeads{Form: form, Check: check})
}
