package view

import (
	"context"
	"strconv"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// LabelPath is under which a label's code opens its line.
const LabelPath = "/l/"

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

func (p Label) class() string { return "line-label on-" + string(p.Paper) }

// places are the sheet's labels, to choose the next unused one from.
func (p Label) places(ctx context.Context) []Option {
	const across = 3
	all := make([]Option, LabelsOnSheet)
	for i := range all {
		all[i] = Option{Value: strconv.Itoa(i + 1), Label: words.Say(ctx, "label.place-of", "no", i+1, "row", i/across+1, "column", i%across+1)}
	}
	return all
}

// placed says by whom, where that was recorded.
func (p Label) placed(ctx context.Context) string {
	before := p.Line.Precision == line.NotKnown
	switch {
	case p.Operator != "":
		return words.Say(ctx, "label.placed-by", "who", p.Operator, "before", before)
	case p.PlacedBy == line.Ambulance, p.PlacedBy == line.OtherHospital:
		return words.Say(ctx, "label.placed-by", "who", p.PlacedBy, "before", before)
	}
	return words.Say(ctx, "label.placed", "before", before)
}

func (p Label) placedAt(ctx context.Context) string {
	if p.Line.Precision == line.ToDay {
		return p.clock(ctx).Day(p.Line.Placed)
	}
	return p.clock(ctx).Dated(p.Line.Placed)
}

func (p Label) clock(ctx context.Context) words.Speaker { return words.To(ctx).In(p.Ward.Location) }
