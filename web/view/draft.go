package view

import (
	"context"
	"path"
	"strings"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// draftForm names the form that a draft was typed into, by the end of its path.
func draftForm(ctx context.Context, address string) string {
	switch form := path.Base(address); form {
	case "correct", "void":
		return words.Say(ctx, form+".title")
	case "edit":
		return words.Say(ctx, "policyedit.title")
	default:
		return words.Say(ctx, "act."+form)
	}
}

// trayPath is the form in which a draft is opened: for a look that a device
// kept, the one that asks when it was.
func trayPath(d account.Draft) string {
	of, look := strings.CutSuffix(d.Path, "/look")
	switch {
	case d.Carried == nil || !look:
		return d.Path
	case d.Form.Has("why"):
		return of + "/not-seen"
	}
	return of + "/review"
}

// trayAbout says whom and which line a form is about; "" where that is not known.
func trayAbout(ctx context.Context, one desk.TrayItem) string {
	p := one.Patient
	if p.ID == "" {
		return one.Form.Get("reference") // of an admission
	}
	about := words.Say(ctx, "board.bed", "bed", p.Bed) + ", " + reference(ctx, p)
	if one.Line != nil {
		about += ", " + SiteAndSide(ctx, one.Line.Site, one.Line.Side)
	}
	return about
}

// serversTime is when a form was typed, by the server's clock as far as can be told.
func serversTime(c *account.Carried) line.Minute { return line.MinuteOf(c.Captured.Add(-c.Ahead)) }

// clockWasOff reports whether the two clocks give moments that differ.
func clockWasOff(c *account.Carried) bool { return serversTime(c) != line.MinuteOf(c.Captured) }

// clockMatters reports whether the moment of the form follows from the
// device's clock, and was not typed.
func clockMatters(d account.Draft) bool {
	how := d.Form.Get("when")
	return clockWasOff(d.Carried) && (how == "" || how == "now" || how == "ago")
}

// clockWords say how the device's clock stood.
func clockWords(ctx context.Context, c *account.Carried) string {
	switch {
	case c.Ahead >= time.Minute:
		return words.Say(ctx, "tray.clock-ahead", "by", c.Ahead.Round(time.Minute))
	case c.Ahead <= -time.Minute:
		return words.Say(ctx, "tray.clock-behind", "by", -c.Ahead.Round(time.Minute))
	}
	return words.Say(ctx, "tray.clock-set")
}
