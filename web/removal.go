package web

import (
	"net/url"

	"dwellbook/internal/line"
)

func readRemoval(r *reader, _ *occurrence) line.Body {
	was, _ := r.old().(line.Removal)
	b := line.Removal{
		Reason: parsed1(r, "reason", line.NotNeeded), Signs: ticked(r, "sign", line.Pain), Complete: parsed0(r, "complete", line.Yes), Note: r.text("note"),
	}
	b.Score, b.Scale = r.score(was.Score, was.Scale)
	return b
}

func fillRemoval(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Removal)
	v.Set("reason", b.Reason.String())
	v.Set("complete", b.Complete.String())
	fillScore(v, b.Score)
	v.Set("note", string(b.Note))
	fillCodes(v, "sign", b.Signs)
}
