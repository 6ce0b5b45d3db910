package view

import (
	"context"
	"strconv"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// FollowUpDays are the stretches follow-ups can be listed over; the first is the usual.
var FollowUpDays = []int{28, 91, 365}

// Answered is what is answered now and what was followed up.
type Answered struct {
	Shell Shell
	House *desk.House
	*desk.Answered
	Days int
}

func (p Answered) figures(ctx context.Context) []Figure {
	return []Figure{
		{Number: count(len(p.Duties)), Label: words.Say(ctx, "answered.duties-n", "n", len(p.Duties))},
		{Number: count(len(p.Concerns)), Label: words.Say(ctx, "answered.concerns-n", "n", len(p.Concerns))},
	}
}

func (p Answered) spans(ctx context.Context) []Option {
	var all []Option
	for _, n := range FollowUpDays {
		all = append(all, Option{Value: strconv.Itoa(n), Label: words.Say(ctx, "answered.days", "n", n)})
	}
	return all
}

// onWard is a moment in full by the ward's clock.
func onWard(ctx context.Context, w desk.Ward, at line.Minute) string {
	return words.To(ctx).In(w.Location).Stamp(at)
}

// roleText is who did it, by role.
func roleText(ctx context.Context, r account.Role) string {
	if r == "" {
		return words.Say(ctx, "answered.no-role")
	}
	return words.Say(ctx, r.Word())
}

// lineCell leads to the line; a finding of the patient has none.
func lineCell(ctx context.Context, c line.Current) Cell {
	if c.ID == "" {
		return Cell{Text: words.Say(ctx, "answered.of-patient")}
	}
	return Cell{Text: placeText(ctx, c), Href: "/lines/" + string(c.ID)}
}

func (p Answered) table(ctx context.Context, caption string, found []desk.AnsweredFinding) TableData {
	t := TableData{Caption: caption}
	for _, key := range []string{"ward", "line", "finding", "why", "role", "until"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "answered.col-"+key)})
	}
	for _, f := range found {
		why := f.Why
		if why == "" {
			why = words.Say(ctx, "answered.no-text")
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: f.Ward.Name}, lineCell(ctx, f.Current), {Text: words.Say(ctx, f.Rule.Word())}, {Text: why, Private: true},
			{Text: roleText(ctx, f.Role)}, {Text: p.until(ctx, f)},
		}})
	}
	return t
}

func (p Answered) until(ctx context.Context, f desk.AnsweredFinding) string {
	if f.Until >= line.Far {
		return words.Say(ctx, "answered.no-end")
	}
	return words.Say(ctx, "answered.until", "at", onWard(ctx, f.Ward, f.Until), "left", f.Until.Sub(p.At))
}

func (p Answered) followUps(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "answered.followed")}
	for _, key := range []string{"ward", "line", "finding", "note", "role", "when"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "answered.col-"+key)})
	}
	for _, f := range p.FollowUps {
		note := f.Note
		if note == "" {
			note = words.Say(ctx, "answered.no-text")
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: f.Ward.Name}, lineCell(ctx, f.Current), {Text: words.Say(ctx, f.Rule.Word())}, {Text: note, Private: true},
			{Text: roleText(ctx, f.Role)}, {Text: onWard(ctx, f.Ward, f.At)},
		}})
	}
	return t
}
