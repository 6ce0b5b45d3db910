package view

import (
	"context"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// The pages from which a look is recorded, as forms name them.
const (
	FromLook  = "look"
	FromRound = "round"
)

// The parts of a look, of which one shows.
const (
	AskWhose  = "whose" // is this the patient, and the arm?
	AskFound  = "found" // what is due, and what was found
	LookDone  = "done"  // recorded in this shift already
	LineIsOut = "out"
)

// undoSeconds is how long the screen offers to undo.
const undoSeconds = "10"

// Look is one line to be looked at.
type Look struct {
	desk.Stop
	Form   Form
	Part   string
	Beside bool // one of several on the page: not the one that shows
}

// LookPage is the look at one line, such as a label's code opens.
type LookPage struct {
	Shell  Shell
	Ward   desk.Ward
	Look   Look
	Stored *Stored
}

// Stored is a look that was recorded just now and can be undone.
type Stored struct {
	Entry line.Entry
	Back  string // where the undoing leads
}

func (l Look) action() string { return "/lines/" + string(l.Line.ID) + "/look" }

func (l Look) from() string { return l.Form.Get("from") }

// step is the address of another part, for those without script.
func (l Look) step(part string) string {
	if l.from() == FromRound {
		return "?line=" + string(l.Line.ID) + "&step=" + part
	}
	return "?step=" + part
}

// whose asks for the patient and the limb the line is in.
func (l Look) whose(ctx context.Context) string {
	switch line.LimbOf(l.Line.Site, line.Left) {
	case line.LeftArm:
		return words.Say(ctx, "look.this-arm")
	case line.LeftLeg:
		return words.Say(ctx, "look.this-leg")
	}
	return words.Say(ctx, "look.this-site")
}

// another is the answer that it is not.
func (l Look) another(ctx context.Context) string {
	switch line.LimbOf(l.Line.Site, line.Left) {
	case line.LeftArm:
		return words.Say(ctx, "look.another-arm")
	case line.LeftLeg:
		return words.Say(ctx, "look.another-leg")
	}
	return words.Say(ctx, "look.another-site")
}

// place names the line in a few words.
func (l Look) place(ctx context.Context) string {
	return words.Say(ctx, "board.bed", "bed", l.Patient.Bed) + ", " + SiteAndSide(ctx, l.Line.Site, l.Line.Side)
}

// lastLook says when somebody last looked.
func (l Look) lastLook(ctx context.Context) string {
	switch {
	case l.StillIn:
		return stillIn(ctx, l.Row)
	case len(l.Looks) == 0:
		return words.Say(ctx, "look.never", "placed", l.Placed)
	}
	return words.Say(ctx, "look.last", "at", l.LastLook)
}

// findings are what is due now; advice is not for the bedside.
func (l Look) findings(ctx context.Context) []FindingData {
	due, _ := parted(l.Findings)
	return FindingsData(ctx, due, false)
}

// done says why nobody need come again in this shift.
func (l Look) done(ctx context.Context) string {
	switch {
	case l.NotSeen != nil:
		return words.Say(ctx, "look.not-seen-at", "at", l.NotSeen.At, "why", l.NotSeen.Absence)
	case l.Looked:
		return words.Say(ctx, "look.looked-at", "at", l.LastLook)
	}
	return words.Say(ctx, "look.not-due")
}

// said is what the screen says of a stored look before the answer comes.
func (l Look) said(ctx context.Context, what string) string {
	return words.Say(ctx, "look.said", "place", l.place(ctx), "what", what)
}
