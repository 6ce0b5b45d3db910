package view

import (
	"context"
	"net/url"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Compliance is the duties of a period.
type Compliance struct {
	Shell  Shell
	House  *desk.House
	Count  *desk.Compliance
	Rule   line.Rule // shown alone; empty: all
	Worst  []desk.WorstStretch
	Query  string
	Moment Moment
}

// day is a day of the period for its field: as typed, else as counted.
func (p Compliance) day(name string) string {
	if typed := p.Moment.Form.Get(name); typed != "" {
		return typed
	}
	at := p.Count.Period.From
	if name == "to" {
		at = p.Count.Period.Until - 1
	}
	return at.Time().In(p.House.Zone).Format(time.DateOnly)
}

func (p Compliance) date(at line.Minute) string {
	return at.Time().In(p.House.Zone).Format("Mon 2 Jan 2006")
}

// shows says in words what the page shows.
func (p Compliance) shows(ctx context.Context) string {
	clock := words.Speaker{Zone: p.House.Zone}
	text := words.Say(ctx, "compliancepage.shows", "from", p.date(p.Count.Period.From), "to", p.date(p.Count.Period.Until-1), "at", clock.Stamp(p.Count.At))
	if p.Moment.Form.Get("known") != "" {
		text += " " + words.Say(ctx, "compliancepage.shows-known", "known", clock.Stamp(line.MinuteOf(p.Count.Known.At)))
	}
	return text
}

func (p Compliance) rows() []desk.Group {
	var rows []desk.Group
	for _, g := range p.Count.Groups {
		if p.Rule == "" || g.Rule == p.Rule {
			rows = append(rows, g)
		}
	}
	return rows
}

func (p Compliance) caption(ctx context.Context) string {
	if p.Rule == "" {
		return words.Say(ctx, "report.by-rule")
	}
	return words.Say(ctx, "compliancepage.caption", "duty", words.Say(ctx, "duty."+string(p.Rule)), "by", words.Say(ctx, "compliancepage.by-"+p.Count.By.String()))
}

// metRule is the rule of which the page says what met its duties.
func (p Compliance) metRule() line.Rule {
	if p.Rule != "" {
		return p.Rule
	}
	return looks
}

func (p Compliance) groupings(ctx context.Context) []Option {
	var all []Option
	for _, by := range []audit.By{audit.ByRule, audit.ByWard, audit.ByShift, audit.ByWeekday} {
		all = append(all, Option{Value: by.String(), Label: words.Say(ctx, "compliancepage.by-"+by.String())})
	}
	return all
}

func (p Compliance) duties(ctx context.Context) []Option {
	all := []Option{{Value: "", Label: "–"}}
	for _, r := range audit.Rules() {
		if r.IsDuty {
			all = append(all, Option{Value: string(r.Rule), Label: words.Say(ctx, "duty."+string(r.Rule))})
		}
	}
	return all
}

// presets are periods often asked for, for the same ward and grouping.
func (p Compliance) presets(ctx context.Context) []NavItem {
	now := p.Count.At.Time().In(p.House.Zone)
	day := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }
	y, m, d := now.Date()
	var all []NavItem
	for _, one := range []struct {
		key      string
		from, to time.Time
	}{
		{"last-7", day(y, m, d-6), day(y, m, d)}, {"last-28", day(y, m, d-27), day(y, m, d)},
		{"this-month", day(y, m, 1), day(y, m, d)}, {"last-month", day(y, m-1, 1), day(y, m, 0)},
	} {
		q := url.Values{"from": {one.from.Format(time.DateOnly)}, "to": {one.to.Format(time.DateOnly)}}
		for _, keep := range []string{"ward", "by", "rule"} {
			if v := p.Moment.Form.Get(keep); v != "" {
				q.Set(keep, v)
			}
		}
		all = append(all, NavItem{Label: words.Say(ctx, "compliancepage."+one.key), Href: "/compliance?" + q.Encode()})
	}
	return all
}

func wardOptions(ctx context.Context, h *desk.House) []Option {
	all := []Option{{Value: "", Label: words.Say(ctx, "auditpage.all-wards")}}
	for _, w := range h.Wards {
		all = append(all, Option{Value: string(w.Ward.Ward), Label: w.Name})
	}
	return all
}

// WalkRound is the survey at one hour.
type WalkRound struct {
	Shell  Shell
	Found  *desk.WalkRound
	Moment Moment
}

func (p WalkRound) stamp() string { return words.Speaker{Zone: p.Found.House.Zone}.Stamp(p.Found.At) }

func (p WalkRound) month(ctx context.Context) string {
	return monthText(ctx, p.Found.At.Time().In(p.Found.House.Zone))
}

func monthText(ctx context.Context, t time.Time) string {
	return words.Say(ctx, "report.month-name", "month", words.Say(ctx, monthKeys[t.Month()-1]), "year", t.Year())
}

func (p WalkRound) table(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "walkround.caption"), Columns: []Column{{Label: words.Say(ctx, "report.by-ward-head")}}}
	for _, key := range []string{"lines", "faulty", "unheard"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "walkround."+key), Num: true})
	}
	for _, r := range p.Found.Rules {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, r.Word()), Num: true})
	}
	t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "walkround.answered"), Num: true})
	for _, w := range p.Found.Wards {
		name := w.Ward.Name
		if name == "" {
			name = words.Say(ctx, "walkround.all")
		}
		row := []Cell{{Text: name}, {Text: count(w.Lines)}, {Text: count(w.Faulty)}, {Text: count(w.Unheard)}}
		for _, r := range p.Found.Rules {
			row = append(row, Cell{Text: count(w.ByRule[r])})
		}
		t.Rows = append(t.Rows, TableRow{Cells: append(row, Cell{Text: count(w.Answered)})})
	}
	return t
}

// hides says what the hour does not show: for looks and for dressings, what
// stood at the hour beside the month's share.
func (p WalkRound) hides(ctx context.Context) string {
	all := p.Found.Wards[len(p.Found.Wards)-1]
	text := ""
	for i := range p.Found.Month.Groups {
		g := &p.Found.Month.Groups[i]
		share, ok := g.Proportion()
		if !ok || g.Rule != looks && g.Rule != audit.DressingOverdue {
			continue
		}
		text += words.Say(ctx, "walkround.hides", "rule", words.Say(ctx, "duty."+string(g.Rule)), "stood", all.ByRule[g.Rule], "lines", all.Lines,
			"not", tenths(1-share), "ended", g.Decided(), "hours", hours(g.Overdue.Hours())) + " "
	}
	return text
}
