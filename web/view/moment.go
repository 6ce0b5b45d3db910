package view

import (
	"time"

	"dwellbook/internal/line"
)

// WallLayout is how a browser sends a local date and time.
const WallLayout = "2006-01-02T15:04"

// SliderHours is how far back the slider of a moment reaches: two weeks.
const SliderHours = 14 * 24

// Moment is the fields that ask for a moment.
type Moment struct {
	Form  Form
	Now   string // on the hospital's wall
	Hours int    // where the slider stands: hours before now
}

// NewMoment places the slider at the moment asked about; 0: now.
func NewMoment(form Form, at, now line.Minute, zone *time.Location) Moment {
	m := Moment{Form: form, Now: now.Time().In(zone).Format(WallLayout)}
	if at != 0 && at < now {
		m.Hours = min(SliderHours, int(now.Sub(at)/time.Hour))
	}
	return m
}

// leadPages are the pages beside each other.
var leadPages = []struct{ href, key string }{
	{"/audit", "leadnav.now"}, {"/compliance", "leadnav.compliance"}, {"/walk-round", "leadnav.walk-round"},
	{"/calendar", "calendar.title"}, {"/report", "report.nav"},
}
