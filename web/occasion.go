package web

import (
	"net/url"
	"slices"
	"strconv"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

func readOccasion(r *reader, o *occurrence) line.Body {
	b := line.Occasion{
		Outcome: parsed0(r, "outcome", line.WithLine), Asepsis: parsed0(r, "asepsis", line.AsepsisFull),
		PlacedBy: parsed0(r, "placed_by", line.OwnStaff), Purposes: ticked(r, "purpose", line.ForFluids),
		Dressing: parsed0(r, "dressing", line.Film), Flush: parsed0(r, "flush", line.FlushEasy), Note: r.text("note"),
	}
	if b.Outcome == 0 {
		b.Outcome = line.WithLine
	}
	if was, ok := r.old().(line.Occasion); ok && was.Outcome != b.Outcome {
		r.before = nil // another outcome needs its own answers
	}
	if b.Outcome == line.BeforeSkin {
		b.Stopped = parsed1(r, "stopped", line.NoVeinFound)
		b.Operator = line.Operator{Account: o.who}
		if was, ok := r.old().(line.Occasion); ok {
			b.Operator, b.Supervisor = was.Operator, was.Supervisor
		}
		return b
	}
	b.Site = parsed1(r, "site", line.Wrist)
	b.Side = side(r, "side", b.Site)
	b.Gauge = r.gauge("gauge", true)
	if b.Asepsis == 0 && !r.mayOmit("asepsis") {
		r.wrong("asepsis", "act.choose")
	}
	if n := r.number("length_mm", 1, 200); n != nil {
		b.LengthMM = *n
	}
	for _, n := range attemptNumbers(r.form) {
		b.Attempts = append(b.Attempts, readAttempt(r, n, o, b))
	}
	if was, ok := r.old().(line.Occasion); ok { // what the form does not ask
		b.Operator = was.Operator
		if len(b.Attempts) == 0 {
			b.Count = was.Count
		}
	}
	b.Supervisor = r.operator("supervisor", "supervisor_written", o)
	if b.Supervisor != (line.Operator{}) && onlyBy(b, b.Supervisor) {
		r.wrong("supervisor", "act.supervisor-tried")
	}
	if o.was == nil {
		o.also = append(o.also, also{suffix: ".need", body: line.Facts{Need: r.need()}})
	}
	if r.get("clinician") != "" || r.get("clinician_why") != "" {
		o.also = append(o.also, also{suffix: ".answer", onLine: true, body: line.Justification{
			Rule: audit.LimbRestricted, Clinician: r.text("clinician"), Why: r.text("clinician_why"), Until: r.now + 24*60,
		}})
	}
	return b
}

// onlyBy reports whether nobody but the operator is recorded as having tried.
func onlyBy(b line.Occasion, o line.Operator) bool {
	if len(b.Attempts) == 0 {
		return b.Operator == o
	}
	return !slices.ContainsFunc(b.Attempts, func(a line.Attempt) bool { return a.Operator != o })
}

func fillOccasion(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Occasion)
	v.Set("outcome", b.Outcome.String())
	v.Set("stopped", b.Stopped.String())
	v.Set("site", b.Site.String())
	v.Set("side", b.Side.String())
	if b.Gauge != 0 {
		v.Set("gauge", strconv.Itoa(int(b.Gauge)))
	}
	v.Set("asepsis", b.Asepsis.String())
	v.Set("placed_by", b.PlacedBy.String())
	v.Set("dressing", b.Dressing.String())
	v.Set("flush", b.Flush.String())
	v.Set("note", string(b.Note))
	if b.LengthMM != 0 {
		v.Set("length_mm", strconv.Itoa(b.LengthMM))
	}
	v.Set("supervisor", string(b.Supervisor.Account))
	v.Set("supervisor_written", string(b.Supervisor.Written))
	fillCodes(v, "purpose", b.Purposes)
	for i, a := range b.Attempts {
		fillAttempt(v, i, a, b)
	}
}

func side(r *reader, name string, site line.Site) line.Side {
	word := r.get(name)
	if word == "none" {
		word = ""
	}
	s := parsed0(r, name, line.Left)
	if word == "" {
		delete(r.fields, name)
		s = 0
		if line.HasSide(site) && !r.mayOmit(name) {
			r.wrong(name, "act.choose")
		}
	}
	return s
}
