package view

import (
	"context"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Handover is a ward's sheet of paper.
type Handover struct {
	Shell Shell
	*desk.Handover
	Next bool // of the shift to come
}

func (p Handover) clock(ctx context.Context) words.Speaker { return words.To(ctx).In(p.Ward.Location) }

// known says as of when the sheet is.
func (p Handover) known(ctx context.Context) string {
	key := "handover.printed"
	if p.Next {
		key = "handover.printed-next"
	}
	return words.Say(ctx, key, "at", p.clock(ctx).Stamp(p.Made), "seq", p.Seq, "n", len(p.Lines), "start", p.clock(ctx).At(p.At, words.Clock))
}

// shift is the shift's day and times in full.
func (p Handover) shift(ctx context.Context) string {
	clock, from := p.clock(ctx), p.Shift.From
	return words.Say(ctx, "handover.shift", "day", clock.At(from, words.WeekdayDate), "from", clock.At(from, words.Clock), "until", clock.At(p.Shift.Until, words.Clock))
}

// todo is one thing a line asks for before the shift ends.
type todo struct {
	text    string
	overdue bool
}

func (p Handover) todos(ctx context.Context, l desk.HandoverLine) []todo {
	var all []todo
	if l.StillIn {
		all = append(all, todo{stillIn(ctx, l.Row), true})
	}
	for _, f := range l.Findings {
		switch {
		case l.StillIn:
		case f.IsDuty:
			all = append(all, todo{words.Say(ctx, "handover.since."+string(f.Rule), "since", f.Since), true})
		default:
			all = append(all, todo{words.Tell(ctx, f.Why), true})
		}
	}
	for _, d := range l.Due {
		all = append(all, todo{words.Say(ctx, "handover.due."+string(d.Rule), "due", d.Due), false})
	}
	return all
}

// since is how long the line has been in, or that it is out.
func (p Handover) since(ctx context.Context, l desk.HandoverLine) string {
	switch {
	case l.Out != line.Far:
		return words.Say(ctx, "handover.out", "at", l.Out)
	case !l.Known:
		return words.Say(ctx, "handover.at-least", "span", p.At.Sub(l.Placed))
	}
	return words.Span(ctx, p.At.Sub(l.Placed))
}

func (p Handover) dressing(ctx context.Context, l desk.HandoverLine) string {
	switch {
	case l.Out != line.Far:
		return "–"
	case !l.Known && l.Dressed == l.Placed:
		return words.Say(ctx, "handover.at-least", "span", p.At.Sub(l.Dressed))
	}
	return words.Span(ctx, p.At.Sub(l.Dressed))
}

// comma stands after each of a list but the last.
func comma(i, of int) string {
	if i+1 < of {
		return ","
	}
	return "."
}
