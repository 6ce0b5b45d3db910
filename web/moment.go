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

// momentsAsked reads the moment asked about, 0 for now, and the moment it was
// known at. What was known at a moment is asked about that moment, unless
// another is given.
func (s *Server) momentsAsked(q url.Values, zone *time.Location) (at line.Minute, known desk.Known, err error) {
	if at, err = s.past(q, "at", zone); err != nil {
		return 0, known, err
	}
	k, err := s.past(q, "known", zone)
	if err != nil || k == 0 {
		return at, known, err
	}
	return cmp.Or(at, k), desk.Known{At: k.Time()}, nil
}

// past reads a moment that has come.
func (s *Server) past(q url.Values, field string, zone *time.Location) (line.Minute, error) {
	at, err := onWall(q, field, zone)
	if err == nil && at > s.desk.Now() {
		err = fault.Field(field, "moment.ahead")
	}
	return at, err
}

// slid puts the moment to which the slider was moved into the field, so that
// the address of the page's links says it for good. It reports whether it was moved.
func (s *Server) slid(r *http.Request, zone *time.Location) (*http.Request, bool) {
	q := r.URL.Query()
	hours, err := strconv.Atoi(q.Get("hours"))
	moved := err == nil && hours >= 0 && hours <= view.SliderHours
	if stood := q.Get("hours-stood"); stood != "" {
		moved = moved && stood != q.Get("hours")
	} else { // an address made by hand
		moved = moved && hours > 0 && q.Get("at") == ""
	}
	q.Del("hours")
	q.Del("hours-stood")
	if moved {
		setMoment(q, s.desk.Now().Add(-time.Duration(hours)*time.Hour), hours == 0, zone)
	}
	as := r.Clone(r.Context())
	as.URL.RawQuery = q.Encode()
	return as, moved
}

// setMoment makes an address ask about a moment, or about now.
func setMoment(q url.Values, at line.Minute, now bool, zone *time.Location) {
	for _, name := range []string{"at", "at-clock", "at-which"} {
		q.Del(name)
	}
	if now {
		return
	}
	wall := at.Time().In(zone)
	q.Set("at", wall.Format(view.WallLayout))
	if _, err := line.OnWall(wall, zone, line.NotAsked); err != nil { // it happens twice
		q.Set("at-which", "second")
		if first, err := line.OnWall(wall, zone, line.First); err == nil && first == at {
			q.Set("at-which", "first")
		}
	}
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
