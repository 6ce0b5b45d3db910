package view

import (
	"context"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Tablets is the wards' tablets.
type Tablets struct {
	Shell   Shell
	Form    Form
	House   *desk.House
	Tablets []account.Tablet
	Here    string // the device the page is shown on, where it is a tablet
	Notice  string
}

func (p Tablets) table(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "tablet.title")}
	for _, key := range []string{"name", "by", "at", "drop"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "tablet.col-"+key)})
	}
	for _, tablet := range p.Tablets {
		name := tablet.Name
		if tablet.Device == p.Here {
			name = words.Say(ctx, "tablet.here", "name", name)
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: name}, {Text: p.House.People[line.ID(tablet.Author)].Name},
			{Text: stamp(ctx, p.House, line.MinuteOf(tablet.At))}, {Body: dropTablet(tablet)},
		}})
	}
	return t
}

func personOptions(people []account.Account) []Option {
	all := make([]Option, len(people))
	for i, a := range people {
		all[i] = Option{Value: a.ID, Label: a.Name}
	}
	return all
}
