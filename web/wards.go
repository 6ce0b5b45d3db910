package web

import (
	"net/http"

	"dwellbook/internal/account"
	"dwellbook/web/view"
)

// showHome sends each person to where their work is.
func (s *Server) showHome(w http.ResponseWriter, r *http.Request) error {
	if personOf(r).May(account.SeeWards) {
		return see(w, r, "/wards")
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	if h.Empty() {
		return see(w, r, view.BeginPath)
	}
	return see(w, r, "/people")
}

func (s *Server) showWards(w http.ResponseWriter, r *http.Request) error {
	wards, err := s.desk.Wards(r.Context(), personOf(r))
	if err != nil {
		return err
	}
	page := view.Wards{Shell: s.shell(r, say(r, "wards.title")), Notice: s.takeNotice(r)}
	for _, ward := range wards {
		b, err := s.desk.Board(r.Context(), personOf(r), ward.Ward.Ward)
		if err != nil {
			return err
		}
		page.Boards = append(page.Boards, b)
	}
	return s.show(w, r, http.StatusOK, view.WardsPage(page))
}
