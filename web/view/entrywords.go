package view

import (
	"context"
	"iter"
	"strings"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// EntryWords says in a line what an entry says.
func EntryWords(ctx context.Context, h *desk.House, e line.Entry) string {
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
	switch b := e.Body.(type) {
	case line.Admission:
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
		if n := max(len(b.Attempts), b.Count); n > 0 {
			add("entry.attempts", "n", n)
		}
		if b.Asepsis != 0 {
			add("entry.asepsis", "asepsis", b.Asepsis)
		}
		code(b.PlacedBy, b.PlacedBy > line.OwnStaff)
		text(b.Note)
	case line.Facts:
		code(b.Group, b.Group != 0)
		for _, l := range b.Limits {
			add("entry.limit", "limb", l.Limb, "why", l.Why, "lifted", l.Lifted)
		}
		for _, w := range b.Watches {
			add("entry.watch", "why", w.Why, "lifted", w.Lifted)
		}
	case line.Review:
		parts = append(parts, signWords(ctx, b.Signs.Codes(), words.Say(ctx, "entry.no-signs"))...)
		if b.Score != nil {
			add("entry.score", "score", *b.Score)
		}
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
		text(b.Why)
	case line.Removal:
		code(b.Reason, true)
		parts = append(parts, signWords(ctx, b.Signs.Codes(), "")...)
		if b.Complete != 0 {
			add("entry.complete", "answer", b.Complete)
		}
		text(b.Note)
	case line.SiteCheck:
		parts = append(parts, signWords(ctx, b.Signs.Codes(), words.Say(ctx, "entry.no-signs"))...)
		text(b.Note)
	case line.InfectionOutcome:
		code(b.Outcome, true)
		text(b.Note)
	case line.Justification:
		code(b.Rule, true)
		text(b.Clinician)
		text(b.Why)
		if b.Until != 0 {
			add("entry.until", "at", b.Until)
		}
	case line.FollowUp:
		code(b.Rule, true)
		text(b.Note)
	}
	return strings.Join(parts, ", ")
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
