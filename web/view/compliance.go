package view

import (
	"context"
	"net/url"
	"slices"
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
	Count  *desk.Detailed
	Rule   line.Rule // shown alone; empty: all
	Group  string    // the name of the group that is opened; empty: none
	Query  url.Values
	Moment Moment

	Presets []NavItem // periods often asked for
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

func (p Compliance) date(ctx context.Context, at line.Minute) string {
	return words.To(ctx).In(p.House.Zone).At(at, words.WeekdayDate)
}

// shows says in words what the page shows.
func (p Compliance) shows(ctx context.Context) string {
	clock := words.To(ctx).In(p.House.Zone)
	text := words.Say(ctx, "compliancepage.shows", "from", p.date(ctx, p.Count.Period.From), "to", p.date(ctx, p.Count.Period.Until-1), "at", clock.Stamp(p.Count.At))
	if p.Moment.Form.Get("known") != "" {
		text += " " + words.Say(ctx, "compliancepage.shows-known", "known", clock.Stamp(line.MinuteOf(p.Count.Known.At)))
	}
	return text
}

// Groups are those that are shown.
func (p Compliance) Groups() []desk.Group {
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

// link is the same question with one part of it changed.
func (p Compliance) link(path, name, value string) string {
	q := url.Values{}
	for k, v := range p.Query {
		q[k] = v
	}
	if q.Del(name); value != "" {
		q.Set(name, value)
	}
	return path + "?" + q.Encode()
}

// table is the groups, each leading to its lines, with both intervals.
func (p Compliance) table(ctx context.Context) TableData {
	t := complianceTable(ctx, p.caption(ctx), p.Count.Compliance, p.Rule, func(g *desk.Group) Cell {
		cell := Cell{Text: shareText(ctx, g)}
		if _, ok := g.Proportion(); ok {
			cell.Body = shareBoth(cell.Text, intervalsText(ctx, g))
		}
		return cell
	})
	for i, g := range p.Groups() {
		t.Rows[i].Cells[0].Href = p.link("/compliance", "group", p.Count.NameOf(ctx, g.Rule, g.Slot).ID) + "#lines"
	}
	return t
}

// intervalsText is the plain interval, and the one over lines where few duties
// keep it from standing beside the share.
func intervalsText(ctx context.Context, g *desk.Group) string {
	plain := words.Say(ctx, "compliancepage.plain", "lower", tenth(ctx, g.Lower), "upper", tenth(ctx, g.Upper))
	if g.Few() {
		return words.Say(ctx, "compliancepage.by-line", "lower", tenth(ctx, g.ByLine.Lower), "upper", tenth(ctx, g.ByLine.Upper)) + "; " + plain
	}
	return plain
}

// metBy is what met the duties of each group.
func (p Compliance) metBy(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "compliancepage.met-by"), Columns: []Column{{Label: words.Say(ctx, "report.by-"+p.Count.By.String()+"-head")}}}
	for by := audit.ByReview; by <= audit.BySiteCheck; by++ {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "compliancepage.met-by-"+by.String()), Num: true})
	}
	for _, g := range p.Groups() {
		row := []Cell{{Text: p.Count.NameOf(ctx, g.Rule, g.Slot).Name}}
		for by := audit.ByReview; by <= audit.BySiteCheck; by++ {
			row = append(row, Cell{Text: count(g.MetBy[by])})
		}
		t.Rows = append(t.Rows, TableRow{Cells: row})
	}
	return t
}

// opened is the lines of the group that is opened.
func (p Compliance) opened(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "compliancepage.lines-caption", "shown", len(p.Count.Opened.Lines), "n", p.Count.Opened.Of)}
	for _, key := range []string{"line", "due", "late", "missed", "open", "hours-overdue", "unaccounted"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "report.col-"+key), Num: key != "line"})
	}
	for _, l := range p.Count.Opened.Lines {
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Body: gaugeAndPlace(int(l.Current.Gauge), SiteAndSide(ctx, l.Current.Site, l.Current.Side), "/lines/"+string(l.Current.ID))},
			{Text: count(l.Due())}, {Text: count(l.MetLate)}, {Text: count(l.Missed)}, {Text: count(l.Open)},
			{Text: hours(ctx, l.Overdue.Hours())}, {Text: hours(ctx, l.Unaccounted.Hours())},
		}})
	}
	return t
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

// duties are the choices of one, or none.
func (p Compliance) duties(ctx context.Context) []Option {
	return append([]Option{{Value: "", Label: "–"}}, dutyOptions(ctx)...)
}

// wardOptions are all wards, or one.
func wardOptions(ctx context.Context, h *desk.House) []Option {
	all := []Option{{Value: "", Label: words.Say(ctx, "auditpage.all-wards")}}
	for _, w := range h.Wards {
		all = append(all, Option{Value: string(w.Ward.Ward), Label: w.Name})
	}
	return all
}

// WalkRound is the survey at one hour.
type WalkRound struct {
	Shell      Shell
	Found      *desk.WalkRound
	Moment     Moment
	KnownAsked bool
}

func (p WalkRound) stamp(ctx context.Context) string {
	return words.To(ctx).In(p.Found.House.Zone).Stamp(p.Found.At)
}

func (p WalkRound) month(ctx context.Context) string {
	return monthText(ctx, p.Found.At.Time().In(p.Found.House.Zone))
}

func monthText(ctx context.Context, t time.Time) string {
	return words.Say(ctx, "report.month-name", "month", words.Say(ctx, monthKeys[t.Month()-1]), "year", t.Year())
}

// duties and concerns are two tables: what is overdue, and what only stands.
func (p WalkRound) duties(ctx context.Context) TableData {
	t := p.byRule(ctx, true)
	t.Caption = words.Say(ctx, "walkround.caption")
	for _, key := range []string{"unheard", "answered"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "walkround."+key), Num: true})
	}
	for i, w := range p.Found.Wards {
		t.Rows[i].Cells = append(t.Rows[i].Cells, Cell{Text: count(w.Unheard)}, Cell{Text: count(w.Answered)})
	}
	return t
}

func (p WalkRound) concerns(ctx context.Context) TableData {
	t := p.byRule(ctx, false)
	t.Caption = words.Say(ctx, "walkround.concerns")
	return t
}

// byRule counts the lines of each ward under each rule of one kind.
func (p WalkRound) byRule(ctx context.Context, duties bool) TableData {
	t := TableData{Columns: []Column{{Label: words.Say(ctx, "report.by-ward-head")}, {Label: words.Say(ctx, "walkround.lines"), Num: true}}}
	if duties {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "walkround.faulty"), Num: true})
	}
	var rules []line.Rule
	for _, r := range audit.Rules() {
		if r.IsDuty == duties && slices.Contains(p.Found.Rules, r.Rule) {
			rules = append(rules, r.Rule)
			t.Columns = append(t.Columns, Column{Label: words.Say(ctx, r.Rule.Word()), Num: true})
		}
	}
	for _, w := range p.Found.Wards {
		row := []Cell{{Text: or(w.Ward.Name, words.Say(ctx, "walkround.all"))}, {Text: count(w.Lines)}}
		if duties {
			row = append(row, Cell{Text: count(w.Faulty)})
		}
		for _, r := range rules {
			row = append(row, Cell{Text: count(w.ByRule[r])})
		}
		t.Rows = append(t.Rows, TableRow{Cells: row})
	}
	return t
}

// shows says in words what the page shows.
func (p WalkRound) shows(ctx context.Context) string {
	text := words.Say(ctx, "walkround.shows", "at", p.stamp(ctx))
	if p.KnownAsked {
		text += " " + words.Say(ctx, "compliancepage.shows-known", "known", words.To(ctx).In(p.Found.House.Zone).Stamp(line.MinuteOf(p.Found.Known.At)))
	}
	return text
}

// judged says from when the month beside the hour is judged.
func (p WalkRound) judged(ctx context.Context) string {
	return words.Say(ctx, "walkround.month", "month", p.month(ctx), "at", words.To(ctx).In(p.Found.House.Zone).Stamp(p.Found.Month.At))
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
			"not", tenths(ctx, 1-share), "ended", g.Decided(), "hours", hours(ctx, g.Overdue.Hours())) + " "
	}
	return text
}
