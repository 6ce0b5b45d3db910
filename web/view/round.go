package view

import (
	"context"

	"dwellbook/internal/desk"
	"dwellbook/internal/words"
)

// Round is a ward's lines one a screen.
type Round struct {
	Shell Shell
	*desk.Round
	Looks  []Look // of every stop, in its order
	At     int    // the stop that shows; len(Looks): the end
	Notice string
	Stored *Stored
}

func (p Round) ward() string { return "/wards/" + string(p.Ward.Ward.Ward) }

// to is the address of the stop so many further on.
func (p Round) to(step int) string {
	if i := max(p.At+step, 0); i < len(p.Stops) {
		return "?line=" + string(p.Stops[i].Line.ID)
	}
	return "?end=1"
}

// left says how many are left; # stands for the number where script fills it in.
func (p Round) left(ctx context.Context, number any) string {
	return words.Say(ctx, "round.left", "left", number, "all", len(p.Stops))
}

// storedPlace is where the look recorded just now was.
func (p Round) storedPlace(ctx context.Context) string {
	for _, l := range p.Looks {
		if l.Line.ID == p.Stored.Entry.Line {
			return l.place(ctx)
		}
	}
	return ""
}

func placeOf(ctx context.Context, s desk.Stop) string { return Look{Stop: s}.place(ctx) }
