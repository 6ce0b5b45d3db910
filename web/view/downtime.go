package view

import (
	"context"
	"slices"
	"strings"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Downtime is the paper for hours without the program.
type Downtime struct {
	Shell Shell
	*desk.Downtime
}

// printed says as of when a ward's sheet is.
func (p Downtime) printed(ctx context.Context, r *desk.Round) string {
	clock := words.To(p.at(ctx, r))
	return words.Say(ctx, "handover.printed", "at", clock.Stamp(p.Made), "seq", p.Seq, "n", len(r.Stops))
}

// at speaks by the ward's clock.
func (p Downtime) at(ctx context.Context, r *desk.Round) context.Context {
	return words.With(ctx, words.Speaker{Zone: r.Ward.Location, Now: p.Made})
}

func lastLook(ctx context.Context, s desk.Stop) string {
	if len(s.Looks) == 0 {
		return words.Say(ctx, "downtime.no-look")
	}
	return words.Say(ctx, "line.at", "at", s.LastLook)
}

// What can have been written on paper, as rows of the form name it.
const (
	PaperLook     = "look"
	PaperDressing = "dressing"
	PaperRemoval  = "removal"
)

// PaperWhats are those in the order of the sheet.
var PaperWhats = []string{PaperLook, PaperDressing, PaperRemoval}

// BackEntry is the form in which the paper is entered afterwards.
type BackEntry struct {
	Shell  Shell
	Ward   desk.Ward
	Form   Form
	Lines  []PaperLine
	Stored []PaperStored // of the last sending
}

// PaperLine is one line of the sheet.
type PaperLine struct {
	Line    line.Current
	Patient line.Patient
}

// PaperStored is a row that was stored while another was refused.
type PaperStored struct{ Entry line.Entry }

// Row is the name of the row for one thing that may have been done.
func (l PaperLine) Row(what string) string { return what + "." + string(l.Line.ID) }

func (l PaperLine) place(ctx context.Context) string {
	return placeOf(ctx, desk.Stop{Row: desk.Row{Patient: l.Patient, Line: l.Line}})
}

func (p BackEntry) field(ctx context.Context, l PaperLine, what, part string) Field {
	f := Field{Name: l.Row(what) + part, Label: words.Say(ctx, "downtime.field"+part)}
	if part == "" {
		f.Label = words.Say(ctx, "downtime.what-"+what)
	}
	if part != "-clock" { // what is wrong with the time stands at the row
		f.Error = p.Form.Error(f.Name)
	}
	return f
}

// paperChoices are the answers of a row.
func paperChoices(ctx context.Context, what string) []Option {
	none := []Option{{Label: words.Say(ctx, "downtime.nothing")}}
	switch what {
	case PaperDressing:
		return append(none, options(ctx, line.Film)...)
	case PaperRemoval:
		return append(none, options(ctx, line.NotNeeded)...)
	}
	return append(none, Option{Value: "intact", Label: words.Say(ctx, "downtime.intact")}, Option{Value: "seen", Label: words.Say(ctx, "downtime.seen")})
}

// wrong leads to each row that was refused.
func (p BackEntry) wrong(ctx context.Context) []FieldError {
	var all []FieldError
	for _, l := range p.Lines {
		for _, what := range PaperWhats {
			for _, part := range []string{"", "-by", "-sign"} {
				if text := p.Form.Error(l.Row(what) + part); text != "" {
					label := l.place(ctx) + ", " + words.Say(ctx, "downtime.what-"+what)
					all = append(all, FieldError{ID: l.Row(what) + part, Text: words.Say(ctx, "kit.field-error", "field", label, "error", text)})
				}
			}
		}
	}
	return all
}

func (p BackEntry) message(ctx context.Context) string {
	switch {
	case len(p.Stored) > 0:
		return words.Say(ctx, "downtime.some-refused")
	case len(p.Form.Errors) > 0:
		return words.Say(ctx, "fault.fields")
	}
	return p.Form.Message
}

// twice reports whether the row's time comes twice, so that it is asked which.
func (p BackEntry) twice(ctx context.Context, row string) bool {
	return p.Form.Error(row) == words.Say(ctx, "act.time-twice") || p.Form.Get(row+"-fold") != ""
}

// storedWords say what was stored of which line.
func (p BackEntry) storedWords(ctx context.Context, s PaperStored) string {
	i := slices.IndexFunc(p.Lines, func(l PaperLine) bool { return l.Line.ID == s.Entry.Line })
	parts := []string{words.Say(ctx, "line.at", "at", s.Entry.Happened), EntryWords(ctx, nil, "", s.Entry)}
	if i >= 0 {
		parts = append([]string{p.Lines[i].place(ctx)}, parts...)
	}
	return strings.Join(parts, ", ")
}
