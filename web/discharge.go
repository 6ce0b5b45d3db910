package web

import (
	"net/url"
	"slices"
	"strconv"

	"dwellbook/internal/line"
)

// readDischarge answers each open line: out, with a removal of its own, or
// left in. A correction asks only of lines that the entry had answered.
func readDischarge(r *reader, o *occurrence) line.Body {
	b := line.Discharge{Why: r.text("why")}
	for i, l := range o.lines {
		id := string(l.ID)
		switch name := "answer." + id; r.get(name) {
		case "out":
			o.also = append(o.also, also{suffix: ".out-" + strconv.Itoa(i), of: l.ID, first: true, body: line.Removal{
				Reason: parsed1(r, "reason."+id, line.NotNeeded), Complete: parsed0(r, "complete."+id, line.Yes),
			}})
		case "left-in":
			b.LeftIn = append(b.LeftIn, l.ID)
			if b.Why == "" && !r.mayOmit("why") {
				r.wrong("why", "act.left-in-why")
			}
		default:
			if r.get(name) != "" || !r.mayOmit(name) {
				r.wrong(name, "act.choose")
			}
		}
	}
	return b
}

func fillDischarge(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Discharge)
	for _, id := range b.LeftIn {
		v.Set("answer."+string(id), "left-in")
	}
	v.Set("why", string(b.Why))
}

// answered are the lines a corrected discharge is about: those it left in,
// and those that were in at that moment.
func answered(e line.Entry, lines []line.Current) []line.Current {
	b, _ := e.Body.(line.Discharge)
	var about []line.Current
	for _, id := range b.LeftIn {
		if i := slices.IndexFunc(lines, func(l line.Current) bool { return l.ID == id }); i >= 0 {
			about = append(about, lines[i])
		}
	}
	for _, l := range lines {
		if l.Outcome == line.WithLine && l.Placed <= e.Happened && e.Happened < l.Out && !slices.Contains(b.LeftIn, l.ID) {
			about = append(about, l)
		}
	}
	return about
}
