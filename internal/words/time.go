package words

import (
	"fmt"
	"time"

	"dwellbook/internal/line"
)

// Span is a length of time as wards say it: minutes up to an hour, hours and
// minutes up to a day, hours up to two days, then days and hours.
func Span(d time.Duration) string {
	d = d.Truncate(time.Minute)
	h, m := int(d/time.Hour), int(d%time.Hour/time.Minute)
	switch {
	case d < 0:
		return "-" + Span(-d)
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case h < 24 && m != 0:
		return fmt.Sprintf("%d h %02d", h, m)
	case h < 48:
		return fmt.Sprintf("%d h", h)
	case h%24 == 0:
		return fmt.Sprintf("%d d", h/24)
	}
	return fmt.Sprintf("%d d %d h", h/24, h%24)
}

// Moment is a minute on the ward's clock: the time alone today, the weekday
// within six days, else the date. In the hour that happens twice when the
// clocks go back, the zone's short name tells which.
func (s Speaker) Moment(m line.Minute) string {
	at, now := m.Time().In(s.Zone), s.Now.Time().In(s.Zone)
	layout := "2 Jan 2006 15:04"
	switch gap := at.Sub(now); {
	case sameDay(at, now):
		layout = "15:04"
	case gap > -6*24*time.Hour && gap < 6*24*time.Hour:
		layout = "Mon 15:04"
	case at.Year() == now.Year():
		layout = "2 Jan 15:04"
	}
	if twice(at) {
		layout += " MST"
	}
	return at.Format(layout)
}

// Stamp is a minute in full, for records and prints: date, time and zone.
func (s Speaker) Stamp(m line.Minute) string {
	return m.Time().In(s.Zone).Format("Mon 2 Jan 2006 15:04 MST")
}

// Dated is a minute on paper that outlives the day: date and time, with the
// zone's short name in the hour that happens twice.
func (s Speaker) Dated(m line.Minute) string {
	at := m.Time().In(s.Zone)
	layout := "2 Jan 2006 15:04"
	if twice(at) {
		layout += " MST"
	}
	return at.Format(layout)
}

// Day is the day of a minute, with its year.
func (s Speaker) Day(m line.Minute) string { return m.Time().In(s.Zone).Format("2 Jan 2006") }

func sameDay(a, b time.Time) bool {
	return a.Year() == b.Year() && a.YearDay() == b.YearDay()
}

// twice reports whether the wall-clock time of t happens a second time within
// an hour of it, as when clocks go back.
func twice(t time.Time) bool {
	wall := t.Format("2006-01-02 15:04")
	return t.Add(time.Hour).Format("2006-01-02 15:04") == wall || t.Add(-time.Hour).Format("2006-01-02 15:04") == wall
}
