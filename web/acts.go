package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// act is one thing that can be recorded, with its form.
type act struct {
	path string
	read func(*reader, *occurrence) line.Body
	fill func(line.Entry, url.Values) // the form of what was recorded, for a correction; nil: it can only be withdrawn
}

// answers reports whether the act is about the line's findings.
func (a act) answers() bool { return a.path == "justify" || a.path == "follow-up" }

var (
	actAdmit    = act{"admit", readAdmission, nil}
	patientActs = []act{
		{"place", readOccasion, nil}, {"not-seen", readNotSeen, nil}, {"transfer", readTransfer, nil},
		{"discharge", readDischarge, nil}, {"facts", readFacts, nil},
	}
	lineActs = []act{
		{"review", readReview, fillReview}, {"dressing", readDressing, fillDressing}, {"remove", readRemoval, fillRemoval},
		{"not-seen", readNotSeen, nil}, {"site-check", readSiteCheck, nil}, {"justify", readJustification, nil},
		{"infection", readInfection, nil}, {"follow-up", readFollowUp, nil},
	}
	actOccasion = act{"place", readOccasion, fillOccasion}
)

// actOf is the act that records entries of the kind.
func actOf(k line.Kind) (act, bool) {
	path := map[line.Kind]string{line.KindReview: "review", line.KindDressing: "dressing", line.KindRemoval: "remove"}[k]
	if k == line.KindOccasion {
		return actOccasion, true
	}
	i := slices.IndexFunc(lineActs, func(a act) bool { return a.path == path })
	if i < 0 {
		return act{}, false
	}
	return lineActs[i], true
}

func readAdmission(r *reader, o *occurrence) line.Body {
	var f line.Facts
	f.Group = parsed0(r, "group", line.Adult)
	for i := range 2 {
		limb, why := "limb-"+strconv.Itoa(i), "limb-why-"+strconv.Itoa(i)
		if r.get(limb) != "" || r.get(why) != "" {
			f.Limits = append(f.Limits, line.Limit{Limb: parsed1(r, limb, line.LeftArm), Why: parsed1(r, why, line.Fistula)})
		}
	}
	for _, w := range r.form["watch"] {
		var v line.Vigil
		if v.Why.Parse(w) != nil {
			r.wrong("watch", "act.unknown-word", "word", w)
		}
		f.Watches = append(f.Watches, v)
	}
	o.also = append(o.also, also{suffix: ".facts", body: f})
	bed := r.text("bed")
	if bed == "" {
		r.wrong("bed", "act.bed")
	}
	return line.Admission{Ward: o.ward.Ward.Ward, Bed: bed, Reference: line.Text(strings.ToUpper(r.get("reference")))}
}

// parsed0 reads an optional word of the vocabulary that like is of, parsed1 a needed one.
func parsed0[V line.Vocabulary](r *reader, name string, _ line.Code[V]) line.Code[V] {
	return codeOf[V](r, name, false)
}

func parsed1[V line.Vocabulary](r *reader, name string, _ line.Code[V]) line.Code[V] {
	return codeOf[V](r, name, true)
}

func ticked[V line.Vocabulary](r *reader, name string, _ line.Code[V]) line.Set[V] {
	return setOf[V](r, name)
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
		if line.HasSide(site) {
			r.wrong(name, "act.choose")
		}
	}
	return s
}

func readOccasion(r *reader, o *occurrence) line.Body {
	b := line.Occasion{
		Outcome: parsed0(r, "outcome", line.WithLine), Asepsis: parsed0(r, "asepsis", line.AsepsisFull),
		PlacedBy: parsed0(r, "placed_by", line.OwnStaff), Purposes: ticked(r, "purpose", line.ForFluids),
		Dressing: parsed0(r, "dressing", line.Film), Flush: parsed0(r, "flush", line.FlushEasy), Note: r.text("note"),
	}
	if b.Outcome == 0 {
		b.Outcome = line.WithLine
	}
	if b.Outcome == line.BeforeSkin {
		b.Stopped = parsed1(r, "stopped", line.NoVeinFound)
		b.Operator = line.Operator{Account: o.who}
		if was, ok := r.before().(line.Occasion); ok {
			b.Operator = was.Operator
		}
		return b
	}
	b.Site = parsed1(r, "site", line.Wrist)
	b.Side = side(r, "side", b.Site)
	b.Gauge = r.gauge("gauge", true)
	if b.Asepsis == 0 {
		r.wrong("asepsis", "act.choose")
	}
	if n := r.number("length_mm", 1, 200); n != nil {
		b.LengthMM = *n
	}
	for _, n := range attemptNumbers(r.form) {
		b.Attempts = append(b.Attempts, readAttempt(r, n, b))
	}
	if was, ok := r.before().(line.Occasion); ok { // what the form does not ask
		b.Operator = was.Operator
		if len(b.Attempts) == 0 {
			b.Count = was.Count
		}
	}
	if r.get("clinician") != "" || r.get("clinician_why") != "" {
		o.also = append(o.also, also{suffix: ".answer", onLine: true, body: line.Justification{
			Rule: audit.LimbRestricted, Clinician: r.text("clinician"), Why: r.text("clinician_why"), Until: r.now + 24*60,
		}})
	}
	return b
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
	for p := range b.Purposes.Codes() {
		v.Add("purpose", p.String())
	}
	for i, a := range b.Attempts {
		fillAttempt(v, i, a, b)
	}
}

func readReview(r *reader, _ *occurrence) line.Body {
	if r.form.Has("nothing_wrong") {
		return line.Review{Dressing: line.SetOf(line.Intact)}
	}
	b := line.Review{
		Signs: ticked(r, "sign", line.Pain), Dressing: ticked(r, "state", line.Intact), Flush: parsed0(r, "flush", line.FlushEasy),
		Used: parsed0(r, "used", line.Yes), Needed: parsed0(r, "needed", line.Yes), Score: r.number("score", 0, 5),
		KeepUntil: r.later("keep_hours", 240), Note: r.text("note"),
	}
	if b.Score != nil {
		b.Scale = "vip"
	}
	if was, ok := r.before().(line.Review); ok {
		if b.Score != nil && was.Score != nil {
			b.Scale = was.Scale
		}
		b.KeepUntil = r.end("keep_hours", 240, was.KeepUntil)
	}
	return b
}

func fillReview(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Review)
	for s := range b.Signs.Codes() {
		v.Add("sign", s.String())
	}
	for s := range b.Dressing.Codes() {
		v.Add("state", s.String())
	}
	v.Set("flush", b.Flush.String())
	v.Set("used", b.Used.String())
	v.Set("needed", b.Needed.String())
	if b.Score != nil {
		v.Set("score", strconv.Itoa(*b.Score))
	}
	if b.KeepUntil != 0 {
		v.Set("keep_hours", strconv.Itoa(hours(e.Happened, b.KeepUntil)))
	}
	v.Set("note", string(b.Note))
}

func readNotSeen(r *reader, _ *occurrence) line.Body {
	return line.NotSeen{Why: parsed1(r, "why", line.OffWard), Returns: r.later("returns_hours", 72)}
}

func readDressing(r *reader, _ *occurrence) line.Body {
	return line.Dressing{Material: parsed1(r, "material", line.Film), Note: r.text("note")}
}

func fillDressing(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Dressing)
	v.Set("material", b.Material.String())
	v.Set("note", string(b.Note))
}

func readRemoval(r *reader, _ *occurrence) line.Body {
	b := line.Removal{
		Reason: parsed1(r, "reason", line.NotNeeded), Signs: ticked(r, "sign", line.Pain), Score: r.number("score", 0, 5),
		Complete: parsed0(r, "complete", line.Yes), Note: r.text("note"),
	}
	if b.Score != nil {
		b.Scale = "vip"
	}
	if was, ok := r.before().(line.Removal); ok && b.Score != nil && was.Score != nil {
		b.Scale = was.Scale
	}
	return b
}

func fillRemoval(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Removal)
	v.Set("reason", b.Reason.String())
	v.Set("complete", b.Complete.String())
	if b.Score != nil {
		v.Set("score", strconv.Itoa(*b.Score))
	}
	v.Set("note", string(b.Note))
	for s := range b.Signs.Codes() {
		v.Add("sign", s.String())
	}
}

func readSiteCheck(r *reader, _ *occurrence) line.Body {
	b := line.SiteCheck{Signs: ticked(r, "sign", line.Pain), Score: r.number("score", 0, 5), Note: r.text("note")}
	if b.Score != nil {
		b.Scale = "vip"
	}
	return b
}

func readTransfer(r *reader, _ *occurrence) line.Body {
	b := line.Transfer{Ward: line.ID(r.get("ward")), Bed: r.text("bed")}
	if b.Bed == "" {
		r.wrong("bed", "act.bed")
	}
	return b
}

// readDischarge answers each open line: out, with a removal of its own, or left in.
func readDischarge(r *reader, o *occurrence) line.Body {
	b := line.Discharge{Why: r.text("why")}
	for _, l := range o.lines {
		switch name := "answer." + string(l.ID); r.get(name) {
		case "out":
			o.also = append(o.also, also{suffix: "." + string(l.ID), of: l.ID, first: true, body: line.Removal{Reason: line.Discharged}})
		case "left-in":
			b.LeftIn = append(b.LeftIn, l.ID)
			if b.Why == "" {
				r.wrong("why", "act.left-in-why")
			}
		default:
			r.wrong(name, "act.choose")
		}
	}
	return b
}

func readFacts(r *reader, _ *occurrence) line.Body {
	b := line.Facts{Group: parsed0(r, "group", line.Adult)}
	if r.get("limb-0") != "" || r.get("limb-why-0") != "" {
		b.Limits = append(b.Limits, line.Limit{
			Limb: parsed1(r, "limb-0", line.LeftArm), Why: parsed1(r, "limb-why-0", line.Fistula), Lifted: r.get("limb-lifted") != "",
		})
	}
	for _, word := range r.form["watch"] {
		v := line.Vigil{Lifted: r.get("watch-ended") != ""}
		if v.Why.Parse(word) != nil {
			r.wrong("watch", "act.unknown-word", "word", word)
		}
		b.Watches = append(b.Watches, v)
	}
	if b.Group == 0 && b.Limits == nil && b.Watches == nil {
		r.wrong("group", "act.nothing-said")
	}
	return b
}

func readJustification(r *reader, _ *occurrence) line.Body {
	b := line.Justification{
		Rule: line.Rule(r.get("rule")), Clinician: r.text("clinician"), Why: r.text("why"), Until: r.later("hours", 24*14),
		Unobtainable: r.get("unobtainable") != "",
	}
	if b.Rule == "" {
		r.wrong("rule", "act.choose")
	}
	duty := slices.ContainsFunc(audit.Rules(), func(i audit.RuleInfo) bool { return i.Rule == b.Rule && i.IsDuty })
	if b.Until == 0 && !b.Unobtainable || duty && b.Until > r.now.Add(line.LongestJustification) {
		r.wrong("hours", "act.hours")
	}
	return b
}

func readInfection(r *reader, _ *occurrence) line.Body {
	return line.InfectionOutcome{Outcome: parsed1(r, "outcome", line.InfectionConfirmed), Note: r.text("note")}
}

func readFollowUp(r *reader, _ *occurrence) line.Body {
	b := line.FollowUp{Rule: line.Rule(r.get("rule")), Note: r.text("note")}
	if b.Rule == "" {
		r.wrong("rule", "act.choose")
	}
	return b
}
