package web

import (
	"cmp"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// onWall reads a local date and time of a field; without a date: 0; without a
// time: midnight. FIELD-which says first or second, for the hour that happens twice.
func onWall(q url.Values, field string, zone *time.Location) (line.Minute, error) {
	text := q.Get(field)
	if text == "" {
		return 0, nil
	}
	if clock := q.Get(field + "-clock"); !strings.Contains(text, "T") {
		text += "T" + cmp.Or(clock, "00:00")
	}
	wall, err := time.Parse(view.WallLayout, text)
	if err != nil || wall.Year() < 2000 || wall.Year() > 2200 {
		return 0, fault.Field(field, "moment.unread", "text", text)
	}
	which := map[string]line.Which{"first": line.First, "second": line.Second}[q.Get(field+"-which")]
	at, err := line.OnWall(wall, zone, which)
	var clock *line.WallError
	switch {
	case errors.As(err, &clock) && clock.Twice:
		return 0, fault.Field(field, "moment.twice")
	case err != nil:
		return 0, fault.Field(field, "moment.skipped")
	}
	return at, nil
}

// momentsAsked reads the moment asked about and the moment it was known at. The
// slider counts where the field is empty.
func (s *Server) momentsAsked(q url.Values, zone *time.Location) (at line.Minute, known desk.Known, err error) {
	if at, err = onWall(q, "at", zone); err != nil {
		return 0, known, err
	}
	if hours, wrong := strconv.Atoi(q.Get("hours")); at == 0 && wrong == nil && hours > 0 && hours <= view.SliderHours {
		at = s.desk.Now().Add(-time.Duration(hours) * time.Hour)
	}
	k, err := onWall(q, "known", zone)
	if err == nil && k != 0 {
		known.At = k.Time()
	}
	return at, known, err
}

// asked is the form of a question in the address: what is wrong with it stands
// at its field, with status 422, and what was typed stays.
func asked(r *http.Request, path string, err error) (form view.Form, status int, other error) {
	form, status = view.Form{Action: path, Values: r.URL.Query()}, http.StatusOK
	if err != nil {
		status = http.StatusUnprocessableEntity
		other = refuse(r, &form, err)
	}
	return form, status, other
}
