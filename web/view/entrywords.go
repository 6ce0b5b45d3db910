package view

import (
	"context"
	"iter"
	"strings"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// EntryWords says in a line what an entry says, to a reader: who made a failed
// attempt only to that person and to whoever recorded it.
func EntryWords(ctx context.Context, h *desk.House, reader line.ID, e line.Entry) string {
	parts := []string{words.Say(ctx, e.Kind.Word())}
	add := func(key string, args ...any) { parts = append(parts, words.Say(ctx, key, args...)) }
	code := func(c interface{ Word() string }, said bool) {
		if said {
			parts = append(parts, words.Say(ctx, c.Word()))
		}
	}
	text := func(t line.Text) {
		if t != "" {
			parts = append(parts, string(t))
		}
	}
	until := func(m line.Minute) {
		if m != 0 {
			add("entry.until", "at", m)
		}
	}
	score := func(given *int) {
		if given != nil {
			add("entry.score", "score", *given)
		}
	}
	switch b := e.Body.(type) {
	case line.Admission:
		text(b.Reference)
		add("entry.to-bed", "ward", wardName(h, b.Ward), "bed", string(b.Bed))
	case line.Transfer:
		add("entry.to-bed", "ward", wardName(h, b.Ward), "bed", string(b.Bed))
	case line.Occasion:
		parts[0] = words.Say(ctx, b.Outcome.Word())
		code(b.Stopped, b.Stopped != 0)
		if b.Site != 0 {
			parts = append(parts, SiteAndSide(ctx, b.Site, b.Side))
		}
		if b.Gauge != 0 {
			parts = append(parts, b.Gauge.String())
		}
		if b.LengthMM != 0 {
			add("entry.length", "mm", b.LengthMM)
		}
		if n := max(len(b.Attempts), b.Count); n > 0 {
			add("entry.attempts", "n", n)
		}
		parts = append(parts, attemptWords(ctx, h, b, func(o line.Operator) bool { return reader == e.Author || reader == o.Account })...)
		parts = append(parts, supervisorWords(ctx, h, b.Supervisor, reader == e.Author || reader == b.Supervisor.Account)...)
		if b.Asepsis != 0 {
			add("entry.asepsis", "asepsis", b.Asepsis)
		}
		code(b.PlacedBy, b.PlacedBy > line.OwnStaff)
		parts = append(parts, signWords(ctx, b.Purposes.Codes(), "")...)
		code(b.Dressing, b.Dressing != 0)
		if b.Flush != 0 {
			add("entry.flush", "flush", b.Flush)
		}
		text(b.Note)
	case line.Facts:
		code(b.Group, b.Group != 0)
		for _, l := range b.Limits {
			add("entry.limit", "limb", l.Limb, "why", l.Why, "lifted", l.Lifted)
			until(l.Until)
		}
		for _, w := range b.Watches {
			add("entry.watch", "why", w.Why, "lifted", w.Lifted)
			until(w.Until)
		}
		if b.Need != nil {
			add("entry.need", "rate", b.Need.MillilitresPerHour)
			code(b.Need.For, b.Need.For != 0)
		}
	case line.Review:
		parts = append(parts, signWords(ctx, b.Signs.Codes(), words.Say(ctx, "entry.no-signs"))...)
		score(b.Score)
		parts = append(parts, signWords(ctx, b.Dressing.Codes(), "")...)
		if b.Flush != 0 {
			add("entry.flush", "flush", b.Flush)
		}
		if b.Used != 0 {
			add("entry.used", "answer", b.Used)
		}
		if b.Needed != 0 {
			add("entry.needed", "answer", b.Needed)
		}
		if b.KeepUntil != 0 {
			add("entry.keep", "at", b.KeepUntil)
		}
		text(b.Note)
	case line.NotSeen:
		code(b.Why, true)
		if b.Returns != 0 {
			add("entry.returns", "at", b.Returns)
		}
	case line.Dressing:
		code(b.Material, b.Material != 0)
		text(b.Note)
	case line.Discharge:
		if n := len(b.LeftIn); n > 0 {
			add("entry.left-in", "n", n)
		}
		text(b.Why)
	case line.Removal:
		code(b.Reason, true)
		parts = append(parts, signWords(ctx, b.Signs.Codes(), "")...)
		score(b.Score)
		if b.Complete != 0 {
			add("entry.complete", "answer", b.Complete)
		}
		text(b.Note)
	case line.SiteCheck:
		parts = append(parts, signWords(ctx, b.Signs.Codes(), words.Say(ctx, "entry.no-signs"))...)
		score(b.Score)
		text(b.Note)
	case line.InfectionOutcome:
		code(b.Outcome, true)
		text(b.Note)
	case line.Justification:
		code(b.Rule, true)
		text(b.Clinician)
		text(b.Why)
		until(b.Until)
		if b.Unobtainable {
			add("entry.unobtainable")
		}
	case line.FollowUp:
		code(b.Rule, true)
		text(b.Note)
	case line.Erasure:
		text(b.Why)
	}
	return strings.Join(parts, ", ")
}

// attemptWords say how each attempt went and by whom, where that may be shown:
// of a line that went in, to all; of what failed, to whom shows lets.
func attemptWords(ctx context.Context, h *desk.House, b line.Occasion, shows func(line.Operator) bool) []string {
	var all []string
	add := func(n int, what string, by line.Operator, open bool) {
		name := string(by.Written)
		if by.Account != "" {
			name = h.NameOf(by.Account)
		}
		switch {
		case name == "":
		case open || by.Account != "" && shows(by) || shows(line.Operator{}):
			what = words.Say(ctx, "entry.by", "what", what, "name", name)
		default:
			what = words.Say(ctx, "entry.by-hidden", "what", what)
		}
		if n > 0 {
			what = words.Say(ctx, "entry.attempt", "no", n, "what", what)
		}
		all = append(all, what)
	}
	for i, a := range b.Attempts {
		what := words.Say(ctx, "act.placed")
		if a.Failed {
			what = words.Say(ctx, a.Fault.Word())
		}
		if a.Site != 0 && (a.Site != b.Site || a.Side != b.Side) {
			what = SiteAndSide(ctx, a.Site, a.Side) + ": " + what
		}
		if a.Gauge != 0 && a.Gauge != b.Gauge {
			what = a.Gauge.String() + ", " + what
		}
		for _, word := range signWords(ctx, (a.Difficulty &^ line.SetOf(line.NotDifficult)).Codes(), "") {
			what += ", " + word
		}
		add(i+1, what, a.Operator, !a.Failed)
	}
	if b.Operator != (line.Operator{}) && len(b.Attempts) == 0 {
		add(0, words.Say(ctx, "entry.operator"), b.Operator, b.Outcome == line.WithLine)
	}
	return all
}

// supervisorWords say that somebody stood by; who, where that may be shown.
func supervisorWords(ctx context.Context, h *desk.House, by line.Operator, shown bool) []string {
	name := string(by.Written)
	if by.Account != "" {
		name = h.NameOf(by.Account)
	}
	switch {
	case by == (line.Operator{}):
		return nil
	case name == "" || !shown:
		return []string{words.Say(ctx, "entry.supervised")}
	}
	return []string{words.Say(ctx, "entry.supervised-by", "name", name)}
}

func wardName(h *desk.House, id line.ID) string {
	w, _ := h.Ward(id)
	return w.Name
}

// signWords are the words of a set, or none where it is empty.
func signWords[C interface{ Word() string }](ctx context.Context, codes iter.Seq[C], none string) []string {
	var all []string
	for c := range codes {
		all = append(all, words.Say(ctx, c.Word()))
	}
	if all == nil && none != "" {
		return []string{none}
	}
	return all
}

// lineWords say what a line is and what became of it.
func lineWords(ctx context.Context, l line.Current) []string {
	parts := []string{SiteAndSide(ctx, l.Site, l.Side), words.Say(ctx, "line.at", "at", l.Placed)}
	switch {
	case l.Outcome != line.WithLine:
		parts = append(parts, words.Say(ctx, l.Outcome.Word()))
	case l.Out == line.Far:
		parts = append(parts, words.Say(ctx, "line.is-in"))
	default:
		parts = append(parts, words.Say(ctx, "line.out-at", "at", l.Out, "reason", l.Reason))
	}
	return parts
}
