package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

// chooseCalendar leads to the calendar of the ward asked for; of the first, where none is.
func (s *Server) chooseCalendar(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	ward, ok := h.Ward(line.ID(r.URL.Query().Get("ward")))
	if !ok {
		if len(h.Wards) == 0 {
			return see(w, r, "/wards")
		}
		ward = h.Wards[0]
	}
	keep := url.Values{}
	for _, name := range []string{"month", "rule"} {
		if v := r.URL.Query().Get(name); v != "" {
			keep.Set(name, v)
		}
	}
	to := "/calendar/" + url.PathEscape(string(ward.Ward.Ward))
	if len(keep) > 0 {
		to += "?" + keep.Encode()
	}
	return see(w, r, to)
}

// calendarAsked reads what the address asks for.
func (s *Server) calendarAsked(r *http.Request) (q desk.CalendarQuestion, err error) {
	q.Ward = line.ID(chi.URLParam(r, "ward"))
	typed := r.URL.Query()
	if text := typed.Get("month"); text != "" {
		if q.Month, err = desk.ParseMonth(text, s.desk.Now().Time(), time.UTC); err != nil {
			return q, err
		}
	}
	if text := typed.Get("rule"); text != "" {
		rule := line.Rule(text)
		if !slices.ContainsFunc(audit.Rules(), func(i audit.RuleInfo) bool { return i.Rule == rule && i.IsDuty }) {
			return q, fault.Field("rule", "calendar.no-duty")
		}
		q.Rule = rule
	}
	if shift, err := strconv.ParseInt(typed.Get("shift"), 10, 40); err == nil && shift > 0 {
		q.Shift = line.Minute(shift)
	}
	return q, nil
}

func (s *Server) showCalendar(w http.ResponseWriter, r *http.Request) error {
	q, wrong := s.calendarAsked(r)
	form, status, err := asked(r, "/calendar", wrong)
	if err != nil {
		return err
	}
	c, err := s.desk.Calendar(r.Context(), personOf(r), q)
	if err != nil {
		return err
	}
	r = r.WithContext(words.With(r.Context(), words.Speaker{Zone: c.Ward.Location, Now: c.At}))
	return s.show(w, r, status, view.CalendarPage(view.Calendar{Shell: s.shell(r, say(r, "calendar.title")), Calendar: c, Form: form}))
}
