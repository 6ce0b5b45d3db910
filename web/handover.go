package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

func (s *Server) showHandover(w http.ResponseWriter, r *http.Request) error {
	next := r.URL.Query().Get("shift") == "next"
	sheet, err := s.desk.Handover(r.Context(), personOf(r), line.ID(chi.URLParam(r, "ward")), next)
	if err != nil {
		return err
	}
	r = r.WithContext(words.With(r.Context(), words.Speaker{Zone: sheet.Ward.Location, Now: sheet.At}))
	return s.show(w, r, http.StatusOK, view.HandoverPage(view.Handover{Shell: s.shell(r, say(r, "handover.title")), Handover: sheet, Next: next}))
}
