package web

import (
	"errors"
	"net/http"
	"net/url"
	"time"

	"dwellbook/internal/line"
)

// old is what a correction replaces; nil for a new entry.
func (r *reader) old() line.Body {
	if r.was == nil {
		return nil
	}
	return r.was.Body
}

// end reads an optional end in hours: from now, and in a correction from the
// entry's own moment. Hours that nobody changed keep the end to the minute.
func (r *reader) end(name string, most int, was line.Minute) line.Minute {
	if r.was == nil {
		return r.later(name, most)
	}
	if was != 0 {
		most = max(most, hours(r.was.Happened, was))
	}
	n := r.number(name, 1, most)
	switch {
	case n == nil:
		return 0
	case was != 0 && *n == hours(r.was.Happened, was):
		return was
	}
	return r.was.Happened + line.Minute(*n*60)
}

// hours between two moments, the last one begun counted as whole.
func hours(from, until line.Minute) int { return int(until-from+59) / 60 }

// fillWhen fills the time field as well as the moment was known.
func fillWhen(e line.Entry, zone *time.Location, v url.Values) {
	at := e.Happened.Time().In(zone)
	v.Set("when", "typed")
	v.Set("when-date", at.Format(time.DateOnly))
	v.Set("when-clock", at.Format("15:04"))
	switch e.Precision {
	case line.ToDay:
		v.Set("when", "day")
	case line.NotKnown:
		v.Set("when", "unknown")
	}
	var clock *line.WallError
	if _, err := line.OnWall(at, zone, line.NotAsked); errors.As(err, &clock) && clock.Twice {
		v.Set("when-fold", "second")
		if once, err := line.OnWall(at, zone, line.First); err == nil && once == e.Happened {
			v.Set("when-fold", "first")
		}
	}
}

// sent is the moment from which a form counts; now, where that cannot be told.
func (s *Server) sent(r *http.Request, entry string) line.Minute {
	at, err := s.desk.Sent(r.Context(), line.ID(entry))
	if err != nil {
		return s.desk.Now()
	}
	return at
}
