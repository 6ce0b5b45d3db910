package view

import (
	"context"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Access is who opened which patient or line, the latest first.
type Access struct {
	Shell  Shell
	Form   Form
	House  *desk.House
	Opened []desk.Opened
	OfOne  bool // of one patient only
}

func (p Access) table(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "access.caption")}
	for _, key := range []string{"when", "who", "role", "patient", "opened"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "access.col-"+key)})
	}
	for _, o := range p.Opened {
		who := o.Who.Name
		if who == "" {
			who = words.Say(ctx, "access.nobody")
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: stamp(ctx, p.House, line.MinuteOf(o.At))}, {Text: who}, {Text: roleText(ctx, o.Who.Role)},
			p.patient(ctx, o), p.opened(ctx, o),
		}})
	}
	return t
}

// patient leads to the record of access of the one patient.
func (p Access) patient(ctx context.Context, o desk.Opened) Cell {
	text := o.Patient.Reference
	if text == "" {
		text = words.Say(ctx, "access.no-reference")
	}
	if p.OfOne || o.Patient.ID == "" {
		return Cell{Text: text, Private: true}
	}
	return Cell{Text: text, Href: "/access?patient=" + string(o.Patient.ID), Private: true}
}

func (p Access) opened(ctx context.Context, o desk.Opened) Cell {
	if o.Current.ID != "" {
		return lineCell(ctx, o.Current)
	}
	return Cell{Text: words.Say(ctx, "access.opened."+o.What)}
}
