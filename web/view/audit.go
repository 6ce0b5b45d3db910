package view

import (
	"context"
	"strconv"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Audit is the hospital's findings.
type Audit struct {
	Shell      Shell
	Report     *desk.Report
	House      *desk.House
	Ward, Rule string
	Advice     bool // list advice too, apart from what counts
	Query      string
	Asked      line.Minute // 0: now
	KnownAsked bool
	Moment     Moment
	Presets    []NavItem
}

// OverdueMinutes is how long a finding's duty is overdue, for a spreadsheet; empty for a concern.
func OverdueMinutes(i desk.Item) string {
	if !i.IsDuty {
		return ""
	}
	return strconv.Itoa(int(i.Overdue / time.Minute))
}

// duties and concerns part the list: what is due counts, advice does not.
func (p Audit) duties() []desk.Item {
	var due []desk.Item
	for _, i := range p.Report.Items {
		if i.Severity != audit.Advise {
			due = append(due, i)
		}
	}
	return due
}

// advised is what only advises: listed where it is asked for, counted nowhere.
func (p Audit) advised() []desk.Item {
	var advice []desk.Item
	for _, i := range p.Report.Items {
		if p.Advice && i.Severity == audit.Advise {
			advice = append(advice, i)
		}
	}
	return advice
}

func (p Audit) figures(ctx context.Context) []Figure {
	r := p.Report
	return []Figure{
		{Number: count(r.ActNow), Label: words.Say(ctx, "board.act-now"), Wrong: r.ActNow > 0},
		{Number: count(r.DueNow), Label: words.Say(ctx, "board.due-now"), Wrong: r.DueNow > 0},
		{Number: count(r.LinesIn), Label: words.Say(ctx, "board.lines-in")},
		{Number: count(r.Unheard), Label: words.Say(ctx, "board.still-in-count")},
	}
}

// items lists findings, each in its ward's own time.
func (p Audit) items(ctx context.Context, caption string, items []desk.Item) TableData {
	t := TableData{Caption: words.Say(ctx, caption)}
	for _, key := range []string{"where", "patient", "line", "finding", "since", "overdue"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "auditpage."+key), Num: key == "overdue"})
	}
	for _, i := range items {
		t.Rows = append(t.Rows, p.item(words.With(ctx, words.Speaker{Zone: i.Ward.Location, Now: p.Report.At}), i))
	}
	return t
}

func (p Audit) item(ctx context.Context, i desk.Item) TableRow {
	place := Cell{Text: "–"}
	if i.Line.ID != "" {
		place = Cell{Body: gaugeAndPlace(int(i.Line.Gauge), SiteAndSide(ctx, i.Line.Site, i.Line.Side), "/lines/"+string(i.Line.ID))}
	}
	overdue := "–"
	if i.IsDuty {
		overdue = words.Span(ctx, i.Overdue)
	}
	severity := SeverityOf(i.Severity)
	return TableRow{Severity: severity, Cells: []Cell{
		{Text: whereText(ctx, i)}, {Text: reference(ctx, i.Patient), Private: true}, place,
		{Body: findingCell(severity, words.Say(ctx, i.Severity.Word()), words.Tell(ctx, i.Why))},
		{Text: words.Say(ctx, "line.at", "at", i.Since)}, {Text: overdue},
	}}
}

// whereText is the ward, and the bed where one is known.
func whereText(ctx context.Context, i desk.Item) string {
	if i.Patient.Bed == "" {
		return i.Ward.Name
	}
	return i.Ward.Name + ", " + words.Say(ctx, "board.bed", "bed", i.Patient.Bed)
}

// shows says in words what the page shows.
func (p Audit) shows(ctx context.Context) string {
	clock := words.To(ctx).In(p.House.Zone)
	at := clock.Stamp(p.Report.At)
	switch {
	case p.KnownAsked:
		return words.Say(ctx, "auditpage.shows-known", "at", at, "known", clock.Stamp(line.MinuteOf(p.Report.Known.At)), "seq", p.Report.Known.Seq)
	case p.Asked != 0:
		return words.Say(ctx, "auditpage.shows-at", "at", at)
	}
	return words.Say(ctx, "auditpage.shows-now", "at", at)
}

func (p Audit) rules(ctx context.Context) []Option {
	all := []Option{{Value: "", Label: words.Say(ctx, "auditpage.all-rules")}}
	for _, r := range audit.Rules() {
		all = append(all, Option{Value: string(r.Rule), Label: words.Say(ctx, r.Rule.Word())})
	}
	return all
}
