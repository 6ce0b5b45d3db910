package web

import (
	"net/http"
	"strconv"
	"time"

	"dwellbook/web/view"
)

func (s *Server) showAnswered(w http.ResponseWriter, r *http.Request) error {
	days := view.FollowUpDays[0]
	for _, n := range view.FollowUpDays {
		if r.URL.Query().Get("days") == strconv.Itoa(n) {
			days = n
		}
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	found, err := s.desk.Answered(r.Context(), personOf(r), time.Duration(days)*24*time.Hour)
	if err != nil {
		return err
	}
	return s.show(w, r, http.StatusOK, view.AnsweredPage(view.Answered{
		Shell: s.shell(r, say(r, "answered.title")), House: h, Answered: found, Days: days,
	}))
}
