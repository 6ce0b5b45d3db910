package web

import (
	"net/url"

	"dwellbook/internal/line"
)

func readDressing(r *reader, _ *occurrence) line.Body {
	return line.Dressing{Material: parsed1(r, "material", line.Film), Note: r.text("note")}
}

func fillDressing(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Dressing)
	v.Set("material", b.Material.String())
	v.Set("note", string(b.Note))
}
