package view

import (
	"context"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
)

// evidenceData is a row for each site of which there were lines.
func evidenceData(ctx context.Context, e *outcomes.Evidence) TableData {
	t := TableData{Caption: words.Say(ctx, "outcomes.here-caption"), Columns: []Column{
		{Label: words.Say(ctx, "outcomes.here-site")}, {Label: words.Say(ctx, "outcomes.here-lasted")},
		{Label: words.Say(ctx, "outcomes.here-lines"), Num: true},
	}}
	for _, site := range line.Site(0).All() {
		if e.Lines(site) > 0 {
			t.Rows = append(t.Rows, TableRow{Cells: []Cell{{Text: capital(words.Say(ctx, site.Word()))}, {Text: words.Tell(ctx, e.OfSite(site))}, {Text: count(e.Lines(site))}}})
		}
	}
	return t
}
