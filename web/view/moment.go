package view

import (
	"context"
	"slices"
	"strings"
	"time"

	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// WallLayout is how an address carries a local date and time.
const WallLayout = "2006-01-02T15:04"

// SliderHours is how far back the slider of a moment reaches: two weeks.
const SliderHours = 14 * 24

// Moment is the fields that ask for a moment.
type Moment struct {
	Form  Form
	Now   line.Minute
	Hours int    // where the slider stands: hours before now
	Slid  bool   // the slider was moved to get here; it keeps the focus
	Zone  string // the hospital's
}

// day and clock are the two halves of a moment as typed; an address may carry
// both in the first.
func (m Moment) day(name string) string {
	day, _, _ := strings.Cut(m.Form.Get(name), "T")
	return day
}

func (m Moment) clock(name string) string {
	if clock := m.Form.Get(name + "-clock"); clock != "" {
		return clock
	}
	_, clock, _ := strings.Cut(m.Form.Get(name), "T")
	return clock
}

// NewMoment places the slider at the moment asked about; 0: now.
func NewMoment(form Form, at, now line.Minute, zone *time.Location) Moment {
	m := Moment{Form: form, Now: now, Zone: zone.String()}
	if at != 0 && at < now {
		m.Hours = min(SliderHours, int(now.Sub(at)/time.Hour))
	}
	return m
}

type leadPage struct{ href, key string }

// leadPages are the pages beside each other.
var leadPages = []leadPage{
	{"/audit", "leadnav.now"}, {"/compliance", "leadnav.compliance"}, {"/walk-round", "leadnav.walk-round"},
	{"/calendar", "calendar.title"}, {"/outcomes", "outcomespage.title"}, {"/answered", "answered.title"}, {"/report", "report.nav"}, {"/access", "access.title"},
}

// IsLeadPage reports whether a path is of one of them.
func IsLeadPage(path string) bool {
	return slices.ContainsFunc(leadPages, func(p leadPage) bool { return strings.HasPrefix(path, p.href) })
}

// said is where the slider stands, in words.
func (m Moment) said(ctx context.Context) string {
	if m.Hours == 0 {
		return words.Say(ctx, "moment.now")
	}
	return words.Say(ctx, "moment.hours-ago", "n", m.Hours)
}
