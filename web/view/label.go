package view

import (
	"context"
	"strconv"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Paper is what a label is printed on. Its size stands in the stylesheet.
type Paper string

// The papers: two widths of roll, and an A4 sheet of labels, three across and eight down.
const (
	Roll62  Paper = "62"
	Roll29  Paper = "29"
	SheetA4 Paper = "a4"
)

// Papers lists them, the usual one first.
var Papers = []Paper{Roll62, Roll29, SheetA4}

// LabelsOnSheet is how many there are on the sheet.
const LabelsOnSheet = 24

// Label is the page a line's label is printed from.
type Label struct {
	Shell Shell
	*desk.Label
	Now   line.Minute
	Paper Paper
	Place int // of the next unused label on a sheet, from 1
	QR    QR
	Only  string // the address, where it opens on this computer only
}

func (p Label) class() string { return "label on-" + string(p.Paper) }

// places are the sheet's labels, to choose the next unused one from.
func (p Label) places(ctx context.Context) []Option {
	const across = 3
	all := make([]Option, LabelsOnSheet)
	for i := range all {
		all[i] = Option{Value: strconv.Itoa(i + 1), Label: words.Say(ctx, "label.place-of", "no", i+1, "row", i/across+1, "column", i%across+1)}
	}
	return all
}

// placedBy says by whom, where that was recorded.
func (p Label) placedBy(ctx context.Context) string {
	switch {
	case p.Operator != "":
		return words.Say(ctx, "label.placed-by", "who", p.Operator)
	case p.PlacedBy == line.Ambulance, p.PlacedBy == line.OtherHospital:
		return words.Say(ctx, "label.placed-by", "who", p.PlacedBy)
	}
	return words.Say(ctx, "line.placed")
}

// placed is when, as well as that is known.
func (p Label) placed(ctx context.Context) string {
	clock := p.clock()
	switch p.Line.Precision {
	case line.ToDay:
		return clock.Day(p.Line.Placed)
	case line.NotKnown:
		return words.Say(ctx, "label.first-seen", "at", clock.Dated(p.Line.Placed))
	}
	return clock.Dated(p.Line.Placed)
}

// dressing is the day the dressing was put on.
func (p Label) dressing(ctx context.Context) string {
	day := p.clock().Day(p.Dressed)
	if p.Known == line.NotKnown {
		return words.Say(ctx, "label.first-seen", "at", day)
	}
	return day
}

func (p Label) clock() words.Speaker { return words.Speaker{Zone: p.Ward.Location, Now: p.Now} }
