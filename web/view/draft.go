package view

import (
	"context"
	"path"

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
