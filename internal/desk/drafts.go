package desk

import (
	"context"
	"fmt"
	"net/url"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

// KeepDraft keeps a form that came after its session had ended, for the
// account that typed it and no other.
func (d *Desk) KeepDraft(ctx context.Context, id line.ID, path string, form url.Values) error {
	return d.store.KeepDraft(ctx, account.Draft{
		ID: string(NewID()), Account: string(id), Path: path, Form: form, At: d.clock(),
	})
}

// Drafts are the person's own.
func (d *Desk) Drafts(ctx context.Context, who Person) ([]account.Draft, error) {
	if who.ID == "" {
		return nil, nil
	}
	drafts, err := d.store.Drafts(ctx, line.ID(who.ID))
	if err != nil {
		return nil, fmt.Errorf("drafts: %w", err)
	}
	// The policy in hand waits on its own page: no session cut it off.
	return slices.DeleteFunc(drafts, func(one account.Draft) bool { return one.ID == policyEditID(who) }), nil
}

// DropDraft forgets a draft of the person's own.
func (d *Desk) DropDraft(ctx context.Context, who Person, draft string) error {
	return d.store.DropDraft(ctx, line.ID(who.ID), draft)
}
