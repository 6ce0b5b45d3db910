package outcomes

import (
	"cmp"
	"slices"
	"time"

	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// Event is what a control chart is of.
type Event int

// The events.
const (
	PhlebitisAtRemoval Event = iota
	InfectionSuspected       // by who took the line out
	InfectionConfirmed       // by the infection-control lead, local or of the bloodstream
)

var eventWords = [...]string{"phlebitis", "infection-suspected", "infection-confirmed"}

// Events lists them.
func Events() []Event { return []Event{PhlebitisAtRemoval, InfectionSuspected, InfectionConfirmed} }

// Word is the key of the catalogue.
func (e Event) Word() string { return "outcomes.event." + eventWords[e] }

// String is the event's word.
func (e Event) String() string { return eventWords[e] }

// of reports whether the line came to the event.
func (e Event) of(c line.Course) bool {
	switch e {
	case PhlebitisAtRemoval:
		return c.Reason == line.Phlebitis
	case InfectionSuspected:
		return c.Reason == line.InfectionSuspected
	}
	return c.Infection == line.InfectionConfirmed || c.Infection == line.InfectionBloodstream
}

// Watched is an event over time, on the chart that suits how often it happens.
type Watched struct {
	Event  Event
	Events int
	// Rates are by month or week, in events per thousand cannula-days; nil where
	// the event is rare.
	Rates   *stats.Chart
	Periods []line.Stretch // of the points of Rates
	Weekly  bool           // else by month
	Samples []stats.Sample
	// Gaps are lines that came out between two with the event; nil where there
	// are rates, or fewer than two events.
	Gaps *stats.GChart
	When []line.Minute // of the event that ended each gap
	// Signals are special causes, as indices into Periods or When.
	Signals []stats.Signal
}

const (
	// rare is the mean count of a point below which counts are charted as gaps
	// (house rule; Benneyan 2001 has the g chart for events so rare).
	rare = 2
	// fewPoints is how many points tell nothing of what is usual (house rule).
	fewPoints = 8
)

// Few reports whether there are too few points to tell what is usual.
func (w *Watched) Few() bool {
	switch {
	case w.Rates != nil:
		points := 0
		for _, s := range w.Samples {
			if s.Size > 0 {
				points++
			}
		}
		return points < fewPoints
	case w.Gaps != nil:
		return len(w.When) < fewPoints
	}
	return true
}

// weekly is the longest period charted by week; longer ones are by month.
const weekly = 26 * 7 * 24 * time.Hour

// Watch charts an event over a period, from the first line that was in, by when
// each line came out. Weeks and months begin at midnight in the zone.
func Watch(courses []line.Course, event Event, period line.Stretch, zone *time.Location) *Watched {
	first := period.Until
	for _, c := range courses {
		first = min(first, c.Placed)
	}
	period.From = max(period.From, first)
	w := &Watched{Event: event, Weekly: period.Until.Sub(period.From) <= weekly}
	step := months
	if w.Weekly {
		step = weeks
	}
	parts := cut(period, func(at line.Minute) line.Minute { return step(at, zone) })
	w.Periods, w.Samples = parts, make([]stats.Sample, len(parts))
	var out []line.Course
	for _, c := range courses {
		for k := firstAfter(parts, c.Placed); k < len(parts) && parts[k].From <= c.Out; k++ {
			w.Samples[k].Size += DaysOf(dwellIn(c, parts[k])) / PerThousand
			if endedIn(c, parts[k]) && event.of(c) {
				w.Samples[k].Count++
				w.Events++
			}
		}
		if endedIn(c, period) {
			out = append(out, c)
		}
	}
	if len(parts) > 0 && float64(w.Events) >= rare*float64(len(parts)) {
		chart := stats.LaneyUChart(w.Samples)
		w.Rates, w.Signals = &chart, stats.Signals(chart.Z(), stats.WesternElectricRules())
		return w
	}
	w.gaps(out)
	return w
}

// firstAfter is the first part that ends after the moment.
func firstAfter(parts []line.Stretch, at line.Minute) int {
	k, _ := slices.BinarySearchFunc(parts, at, func(p line.Stretch, at line.Minute) int {
		if p.Until <= at {
			return -1
		}
		return 1
	})
	return k
}

// gaps counts the lines out between one with the event and the next.
func (w *Watched) gaps(out []line.Course) {
	slices.SortFunc(out, func(a, b line.Course) int { return cmp.Or(cmp.Compare(a.Out, b.Out), cmp.Compare(a.Line, b.Line)) })
	var gaps []int
	between, begun := 0, false
	for _, c := range out {
		if !w.Event.of(c) {
			between++
			continue
		}
		if begun {
			gaps, w.When = append(gaps, between), append(w.When, c.Out)
		}
		between, begun = 0, true
	}
	if len(gaps) == 0 {
		return
	}
	chart := stats.NewGChart(gaps)
	w.Gaps = &chart
	for _, k := range chart.Outside() {
		w.Signals = append(w.Signals, stats.Signal{Rule: stats.BeyondLimits, From: k, At: k})
	}
}

// months and weeks give where the part that a moment begins ends.
func months(at line.Minute, zone *time.Location) line.Minute {
	y, m, _ := at.Time().In(zone).Date()
	return line.DayStart(time.Date(y, m+1, 1, 0, 0, 0, 0, time.UTC), zone)
}

func weeks(at line.Minute, zone *time.Location) line.Minute {
	y, m, d := at.Time().In(zone).Date()
	return line.DayStart(time.Date(y, m, d+7, 0, 0, 0, 0, time.UTC), zone)
}

// cut cuts a period where next says.
func cut(period line.Stretch, next func(line.Minute) line.Minute) (parts []line.Stretch) {
	for from := period.From; from < period.Until; {
		until := min(next(from), period.Until)
		parts = append(parts, line.Stretch{From: from, Until: until})
		from = until
	}
	return parts
}
