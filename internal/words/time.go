package words

import (
	"context"
	"strings"
	"time"

	"dwellbook/internal/line"
)

// Span is a length of time as wards say it: minutes up to an hour, hours and
// minutes up to a day, hours up to two days, then days and hours. Its units are
// symbols, which no language bends.
func Span(ctx context.Context, d time.Duration) string {
	d = d.Truncate(time.Minute)
	h, m := int(d/time.Hour), int(d%time.Hour/time.Minute)
	switch {
	case d < 0:
		return "-" + Span(ctx, -d)
	case h == 0:
		return Say(ctx, "span.minutes", "minutes", m)
	case h < 24 && m != 0:
		return Say(ctx, "span.hours-minutes", "hours", h, "tens", m/10, "ones", m%10)
	case h < 48:
		return Say(ctx, "span.hours", "hours", h)
	case h%24 == 0:
		return Say(ctx, "span.days", "days", h/24)
	}
	return Say(ctx, "span.days-hours", "days", h/24, "hours", h%24)
}

// Form is a form in which a date or time is written: a key of the catalogue,
// whose sentence is a layout of package time.
type Form string

// The forms.
const (
	Clock            Form = "time.clock"
	WeekdayClock     Form = "time.weekday-clock"
	DateClock        Form = "time.date-clock"
	WeekdayDateClock Form = "time.weekday-date-clock"
	FullClock        Form = "time.full-clock"
	Full             Form = "time.full" // with weekday and zone
	Date             Form = "time.date"
	WeekdayDate      Form = "time.weekday-date"
	WeekdayDay       Form = "time.weekday-day" // of a month that is known
	DayMonth         Form = "time.day-month"   // of a year that is known
	ShortDate        Form = "time.short-date"  // for axes: the year in two figures
	ShortMonth       Form = "time.short-month" // for axes
)

// Write writes a time, in the zone it has, in a form of the reader's language.
func (s Speaker) Write(at time.Time, form Form) string {
	l := s.Language
	if l == nil {
		l = english
	}
	text := at.Format(l.say(string(form)))
	if l.names == nil {
		return text
	}
	return l.names.Replace(text)
}

// At writes a minute in a form.
func (s Speaker) At(m line.Minute, form Form) string { return s.Write(m.Time().In(s.Zone), form) }

// Moment is a minute on the ward's clock: the time alone today, the weekday
// within six days, else the date. In the hour that happens twice when the
// clocks go back, the zone's short name tells which.
func (s Speaker) Moment(m line.Minute) string {
	at, now := m.Time().In(s.Zone), s.Now.Time().In(s.Zone)
	form := FullClock
	switch gap := at.Sub(now); {
	case sameDay(at, now):
		form = Clock
	case gap > -6*24*time.Hour && gap < 6*24*time.Hour:
		form = WeekdayClock
	case at.Year() == now.Year():
		form = DateClock
	}
	return s.named(at, form)
}

// Stamp is a minute in full, for records and prints: date, time and zone.
func (s Speaker) Stamp(m line.Minute) string { return s.At(m, Full) }

// Dated is a minute on paper that outlives the day: date and time, with the
// zone's short name in the hour that happens twice.
func (s Speaker) Dated(m line.Minute) string { return s.named(m.Time().In(s.Zone), FullClock) }

// Day is the day of a minute, with its year.
func (s Speaker) Day(m line.Minute) string { return s.At(m, Date) }

// named is Write, with the zone's short name where the wall clock alone leaves
// two moments.
func (s Speaker) named(at time.Time, form Form) string {
	text := s.Write(at, form)
	if twice(at) {
		text += at.Format(" MST")
	}
	return text
}

// calendar puts the language's short names of months and weekdays in the place
// of the English ones, the only ones that package time writes; nil where they
// are the same.
func (l *Language) calendar() *strings.Replacer {
	var names []string
	add := func(from, key string) {
		if to := l.say(key); to != from {
			names = append(names, from, to)
		}
	}
	for day := time.Sunday; day <= time.Saturday; day++ {
		add(day.String()[:3], "weekday.short."+strings.ToLower(day.String()))
	}
	for month := time.January; month <= time.December; month++ {
		add(month.String()[:3], "month.short."+strings.ToLower(month.String()))
	}
	if len(names) == 0 {
		return nil
	}
	return strings.NewReplacer(names...)
}

func sameDay(a, b time.Time) bool {
	return a.Year() == b.Year() && a.YearDay() == b.YearDay()
}

// twice reports whether the wall-clock time of t happens a second time within
// an hour of it, as when clocks go back.
func twice(t time.Time) bool {
	wall := t.Format("2006-01-02 15:04")
	return t.Add(time.Hour).Format("2006-01-02 15:04") == wall || t.Add(-time.Hour).Format("2006-01-02 15:04") == wall
}
