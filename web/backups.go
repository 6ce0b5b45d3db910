package web

import (
	"net/http"

	"dwellbook/web/view"
)

func (s *Server) showBackups(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	b, err := s.desk.Backups(personOf(r))
	if err != nil {
		return err
	}
	page := view.Backups{Shell: s.shell(r, say(r, "nav.backups")), House: h, Backups: b, Now: s.clock()}
	if b.Failed != nil {
		page.Cause = explainOr(r, b.Failed.Err, "backups.cause-unknown")
	}
	return s.show(w, r, http.StatusOK, view.BackupsPage(page))
}
