package view

import (
	"context"
	"fmt"
	"net/url"
	"strconv"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Calendar is one ward's month.
type Calendar struct {
	Shell Shell
	*desk.Calendar
	Form  Form
	Plain bool // cells open to nothing: in a file that stands alone
}

// shades are the steps in which a share is shaded, from the lowest share of
// each; the less was met in time, the darker.
var shades = []struct {
	least float64
	class string
}{
	{1, "s0"}, {0.9, "s1"}, {0.75, "s2"}, {0.5, "s3"}, {0, "s4"},
}

func shadeOf(share float64) string {
	for _, s := range shades {
		if share >= s.least {
			return s.class
		}
	}
	return shades[len(shades)-1].class
}

// cellState is what a cell shows besides its counts.
type cellState uint8

const (
	cellCounted cellState = iota
	cellNone              // nothing fell due
	cellRunning           // the shift is not over, and nothing has fallen due so far
	cellLater             // it has not begun
)

func stateOf(c desk.ShiftCell, at line.Minute) cellState {
	switch {
	case c.From > at:
		return cellLater
	case c.Asked() > 0:
		return cellCounted
	case c.Until > at:
		return cellRunning
	}
	return cellNone
}

func cellClass(c desk.ShiftCell, at line.Minute) string {
	switch stateOf(c, at) {
	case cellLater, cellRunning:
		return "later"
	case cellNone:
		return "none"
	}
	if share, ok := c.Share(); ok {
		return shadeOf(share)
	}
	return "apart"
}

func (p Calendar) href(month time.Time, shift line.Minute) string {
	q := url.Values{"month": {month.Format("2006-01")}}
	if p.Rule != audit.ReviewOverdue {
		q.Set("rule", string(p.Rule))
	}
	anchor := ""
	if shift != 0 {
		q.Set("shift", strconv.FormatInt(int64(shift), 10))
		anchor = "#shift"
	}
	return "/calendar/" + url.PathEscape(string(p.Ward.Ward.Ward)) + "?" + q.Encode() + anchor
}

func (p Calendar) caption(ctx context.Context) string {
	return words.Say(ctx, "calendar.caption", "duty", words.Say(ctx, "duty."+string(p.Rule)), "ward", p.Ward.Name, "month", monthText(ctx, p.Month))
}

func (p Calendar) wardOptions() []Option {
	var all []Option
	for _, w := range p.Wards {
		all = append(all, Option{Value: string(w.Ward.Ward), Label: w.Name})
	}
	return all
}

func dutyOptions(ctx context.Context) []Option {
	var all []Option
	for _, r := range audit.Rules() {
		if r.IsDuty {
			all = append(all, Option{Value: string(r.Rule), Label: words.Say(ctx, "duty."+string(r.Rule))})
		}
	}
	return all
}

func dayClass(d desk.CalendarDay) string {
	switch d.Date.Weekday() {
	case time.Saturday:
		return "weekend sat"
	case time.Sunday:
		return "weekend sun"
	}
	return ""
}

// dayAndNight is a shift's kind in a word.
func dayAndNight(ctx context.Context, n audit.ShiftName) string {
	if n.Night() {
		return words.Say(ctx, "calendar.night")
	}
	return words.Say(ctx, "calendar.day-shift")
}

// shiftTimes are a shift's times of day.
func shiftTimes(n audit.ShiftName) string {
	return fmt.Sprintf("%02d:%02d–%02d:%02d", n.From/60, n.From%60, n.Until/60, n.Until%60)
}

// fraction is the count in a cell: met in time of those that came to an end.
func fraction(s desk.ShiftSum) string { return fmt.Sprintf("%d/%d", s.MetInTime, s.Ended) }

// beside are the counts outside the share, in words; empty where there are none.
func beside(ctx context.Context, s desk.ShiftSum) string {
	text := ""
	for _, one := range []struct {
		key string
		n   int
	}{
		{"calendar.open", s.Open}, {"calendar.accepted", s.Accepted}, {"calendar.not-seen", s.NotSeen},
	} {
		if one.n > 0 {
			if text != "" {
				text += ", "
			}
			text += words.Say(ctx, one.key, "n", one.n)
		}
	}
	return text
}

func (p Calendar) openedTitle(ctx context.Context) string {
	o := p.Opened
	return words.Say(ctx, "calendar.opened", "day", words.To(ctx).Write(o.Date, words.WeekdayDate), "kind", dayAndNight(ctx, o.Name),
		"from", p.clock(ctx, o.From), "until", p.clock(ctx, o.Until))
}

func (p Calendar) clock(ctx context.Context, at line.Minute) string {
	return words.To(ctx).In(p.Ward.Location).At(at, words.Clock)
}

// openedTable is each duty of the opened shift and how it ended.
func (p Calendar) openedTable(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "calendar.lines", "duty", words.Say(ctx, "duty."+string(p.Rule)))}
	columns := []string{"line", "due", "ended"}
	if p.dueTogether() {
		columns = []string{"line", "ended"}
	}
	for _, key := range columns {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "calendar.col-"+key)})
	}
	for i := range p.Opened.Duties {
		d := &p.Opened.Duties[i]
		cells := []Cell{{Text: placeText(ctx, d.Current), Href: "/lines/" + string(d.Current.ID)}}
		if !p.dueTogether() {
			cells = append(cells, Cell{Text: p.stamp(ctx, d.Due)})
		}
		t.Rows = append(t.Rows, TableRow{Cells: append(cells, Cell{Text: p.ended(ctx, d)})})
	}
	return t
}

// dueTogether reports whether all duties of the opened shift fell due at one moment.
func (p Calendar) dueTogether() bool {
	list := p.Opened.Duties
	for i := range list {
		if list[i].Due != list[0].Due {
			return false
		}
	}
	return len(list) > 0
}

func (p Calendar) judged(ctx context.Context) string {
	return words.To(ctx).In(p.Ward.Location).Stamp(p.At)
}

func (p Calendar) stamp(ctx context.Context, at line.Minute) string {
	return words.To(ctx).In(p.Ward.Location).At(at, words.WeekdayDateClock)
}

// ended says how a duty ended: by what, when, how late.
func (p Calendar) ended(ctx context.Context, d *desk.ShiftDuty) string {
	key := "calendar.how." + d.How.String()
	switch d.How {
	case audit.MetInTime:
		return words.Say(ctx, key, "by", words.Say(ctx, "calendar.by-"+d.MetBy.String()), "at", p.stamp(ctx, d.Ended))
	case audit.MetLate:
		return words.Say(ctx, key, "by", words.Say(ctx, "calendar.by-"+d.MetBy.String()), "at", p.stamp(ctx, d.Ended), "late", d.Ended.Sub(d.Due))
	case audit.Open:
		return words.Say(ctx, key, "late", p.At.Sub(d.Due))
	case audit.Missed:
		if d.Ended <= p.At {
			return words.Say(ctx, "calendar.how.missed-ended", "at", p.stamp(ctx, d.Ended), "late", d.Ended.Sub(d.Due))
		}
		return words.Say(ctx, key, "late", p.At.Sub(d.Due))
	}
	return words.Say(ctx, key)
}

// compliance leads to the month's share with its interval.
func (p Calendar) compliance() string {
	last := p.Month.AddDate(0, 1, -1)
	return "/compliance?" + url.Values{
		"from": {p.Month.Format(time.DateOnly)}, "to": {last.Format(time.DateOnly)}, "ward": {string(p.Ward.Ward.Ward)},
		"by": {audit.ByShift.String()}, "rule": {string(p.Rule)},
	}.Encode()
}
