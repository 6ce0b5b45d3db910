package view

import (
	"context"
	"strconv"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/words"
)

// PolicyTrial is what an edited policy makes of the last weeks.
type PolicyTrial struct {
	Shell  Shell
	Form   Form
	House  *desk.House
	Trial  *desk.PolicyTrial
	Weeks  int
	Nurses int // of a shift, as typed; 0: not said
	Notice string
}

func (p PolicyTrial) figures(ctx context.Context) []Figure {
	var due, was int
	for _, r := range p.Trial.Rules {
		due, was = due+r.Sum.DutiesAfter, was+r.Sum.DutiesBefore
	}
	return []Figure{
		{Number: count(p.Trial.Gained), Label: words.Say(ctx, "policytrial.gained")},
		{Number: count(p.Trial.Lost), Label: words.Say(ctx, "policytrial.lost")},
		{Number: signed(due - was), Label: words.Say(ctx, "policytrial.duties-more")},
	}
}

func (p PolicyTrial) weeks(ctx context.Context) []Option {
	list := make([]Option, desk.MostTrialWeeks)
	for i := range list {
		list[i] = Option{Value: strconv.Itoa(i + 1), Label: words.Say(ctx, "policytrial.weeks-option", "n", i+1)}
	}
	return list
}

// columns are headed by the catalogue; all but the first hold numbers.
func columns(ctx context.Context, keys ...string) []Column {
	list := make([]Column, len(keys))
	for i, key := range keys {
		list[i] = Column{Label: words.Say(ctx, "policytrial."+key), Num: i > 0}
	}
	return list
}

// rulesTable is findings and duties by rule.
func (p PolicyTrial) rulesTable(ctx context.Context) TableData {
	t := TableData{
		Caption: words.Say(ctx, "policytrial.by-rule"),
		Columns: columns(ctx, "rule", "findings-before", "findings-after", "gained-column", "lost-column", "duties-before", "duties-after"),
	}
	for _, r := range p.Trial.Rules {
		t.Rows = append(t.Rows, TableRow{Cells: changeCells(Cell{Text: words.Say(ctx, r.Rule.Word())}, r.Sum)})
	}
	return t
}

func changeCells(first Cell, c audit.TrialChange) []Cell {
	return []Cell{
		first, {Text: count(c.Before)}, {Text: count(c.After)}, {Text: count(c.Gained)}, {Text: count(c.Lost)},
		{Text: count(c.DutiesBefore)}, {Text: count(c.DutiesAfter)},
	}
}

// wardsTable is one rule's findings and duties by ward, where they differ.
func (p PolicyTrial) wardsTable(ctx context.Context, r desk.TriedRule) TableData {
	t := TableData{
		Caption: words.Say(ctx, "policytrial.by-ward"),
		Columns: columns(ctx, "ward", "findings-before", "findings-after", "gained-column", "lost-column", "duties-before", "duties-after"),
	}
	for _, c := range r.Wards {
		t.Rows = append(t.Rows, TableRow{Cells: changeCells(Cell{Text: p.House.WardByKey(c.Ward).Name}, c)})
	}
	return t
}

// workTable is the looks that a shift asks for, by ward and in all.
func (p PolicyTrial) workTable(ctx context.Context) TableData {
	keys := []string{"ward", "shifts", "looks-before", "looks-after", "looks-more"}
	if p.Nurses > 0 {
		keys = append(keys, "nurse-before", "nurse-after")
	}
	t := TableData{Caption: words.Say(ctx, "policytrial.work-table"), Columns: columns(ctx, keys...)}
	var all desk.TriedWard
	add := func(name string, w desk.TriedWard) {
		was, is := w.Before.PerShift(), w.After.PerShift()
		shifts := count(w.After.Shifts)
		if w.Before.Shifts != w.After.Shifts {
			shifts = words.Say(ctx, "policytrial.from-to", "before", w.Before.Shifts, "after", w.After.Shifts)
		}
		cells := []Cell{{Text: name}, {Text: shifts}, {Text: decimal(ctx, was)}, {Text: decimal(ctx, is)}, {Text: signedDecimal(ctx, is-was)}}
		if n := float64(p.Nurses); n > 0 {
			cells = append(cells, Cell{Text: decimal(ctx, was/n)}, Cell{Text: decimal(ctx, is/n)})
		}
		t.Rows = append(t.Rows, TableRow{Cells: cells})
	}
	for _, w := range p.Trial.Wards {
		add(w.Ward.Name, w)
		all.Before.Due += w.Before.Due
		all.Before.Shifts += w.Before.Shifts
		all.After.Due += w.After.Due
		all.After.Shifts += w.After.Shifts
	}
	if len(p.Trial.Wards) > 1 {
		add(words.Say(ctx, "policytrial.all-wards"), all)
	}
	return t
}

func decimal(ctx context.Context, x float64) string { return words.Decimal(ctx, x, 1) }

// sharesTable is the duties met in time, of those that came to an end.
func (p PolicyTrial) sharesTable(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "policytrial.shares"), Columns: columns(ctx, "rule", "before", "after")}
	t.Columns[1].Num, t.Columns[2].Num = false, false
	for _, r := range p.Trial.Rules {
		if r.Before.Due()+r.After.Due() > 0 {
			t.Rows = append(t.Rows, TableRow{Cells: []Cell{
				{Text: words.Say(ctx, r.Rule.Word())}, {Text: groupShare(ctx, r.Before)}, {Text: groupShare(ctx, r.After)},
			}})
		}
	}
	return t
}

// groupShare says a share with the interval that knows of lines, and its n.
func groupShare(ctx context.Context, g desk.Group) string {
	p, ok := g.Share.Proportion()
	if !ok {
		return words.Say(ctx, "policytrial.no-duties")
	}
	text := words.Say(ctx, "policytrial.share", "percent", inPercent(ctx, p), "lower", inPercent(ctx, g.ByLine.Lower), "upper", inPercent(ctx, g.ByLine.Upper),
		"x", g.Share.Successes, "n", g.Share.N, "lines", g.Duties.Lines)
	if g.Few() {
		text += " " + words.Say(ctx, "policytrial.few")
	}
	return text
}

// example says where and when a finding stood, and where it is opened.
func example(ctx context.Context, e desk.TriedExample) (text, href string) {
	href = "/patients/" + string(e.Patient)
	what := words.Say(ctx, "policytrial.patient")
	if e.Of.ID != "" {
		href = "/lines/" + string(e.Of.ID)
		what = e.Of.Gauge.String() + " " + SiteAndSide(ctx, e.Of.Site, e.Of.Side)
	}
	return e.Ward.Name + ": " + what, href
}
