package web

import (
	"net/url"
	"slices"
	"strconv"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

func readJustification(r *reader, _ *occurrence) line.Body {
	was, _ := r.old().(line.Justification)
	b := line.Justification{
		Rule: r.rule(was.Rule), Clinician: r.text("clinician"), Why: r.text("why"), Until: r.end("hours", 24*14, was.Until),
		Unobtainable: r.get("unobtainable") != "",
	}
	from := r.now
	if r.was != nil {
		from = r.was.Happened
	}
	duty := slices.ContainsFunc(audit.Rules(), func(i audit.RuleInfo) bool { return i.Rule == b.Rule && i.IsDuty })
	if b.Until == 0 && !b.Unobtainable || duty && b.Until > from.Add(line.LongestJustification) {
		r.wrong("hours", "act.hours")
	}
	return b
}

func fillJustification(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Justification)
	v.Set("rule", string(b.Rule))
	v.Set("clinician", string(b.Clinician))
	v.Set("why", string(b.Why))
	if b.Until != 0 {
		v.Set("hours", strconv.Itoa(hours(e.Happened, b.Until)))
	}
	if b.Unobtainable {
		v.Set("unobtainable", "yes")
	}
}

// rule reads a rule that the audit has, or the one that stood there before.
func (r *reader) rule(was line.Rule) line.Rule {
	rule := line.Rule(r.get("rule"))
	switch {
	case rule == "":
		r.wrong("rule", "act.choose")
	case rule != was && !slices.ContainsFunc(audit.Rules(), func(i audit.RuleInfo) bool { return i.Rule == rule }):
		r.wrong("rule", "act.unknown-word", "word", string(rule))
	}
	return rule
}

func readInfection(r *reader, _ *occurrence) line.Body {
	return line.InfectionOutcome{Outcome: parsed1(r, "outcome", line.InfectionConfirmed), Note: r.text("note")}
}

func fillInfection(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.InfectionOutcome)
	v.Set("outcome", b.Outcome.String())
	v.Set("note", string(b.Note))
}

func readFollowUp(r *reader, _ *occurrence) line.Body {
	was, _ := r.old().(line.FollowUp)
	return line.FollowUp{Rule: r.rule(was.Rule), Note: r.text("note")}
}

func fillFollowUp(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.FollowUp)
	v.Set("rule", string(b.Rule))
	v.Set("note", string(b.Note))
}
