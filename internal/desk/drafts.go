package desk

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

// TrayItem is a form in a person's tray.
type TrayItem struct {
	account.Draft
	Patient line.Patient  // whom it is about; none where that is not recorded either
	Line    *line.Current // which line; nil: none, or not recorded either
	// After is the one in the tray that makes the patient, line or entry that
	// this one is about, and so must be recorded first; nil: none.
	After *account.Draft
}

// KeepDraft keeps a form that came after its session had ended, for the
// account that typed it and no other.
func (d *Desk) KeepDraft(ctx context.Context, id line.ID, path string, form url.Values) error {
	return d.store.KeepDraft(ctx, account.Draft{
		ID: string(NewID()), Account: account.ID(id), Path: path, Form: form, At: d.clock(),
	})
}

// Tray is what the person typed and is not recorded, oldest first.
func (d *Desk) Tray(ctx context.Context, who Person) ([]TrayItem, error) {
	if who.ID == "" {
		return nil, nil
	}
	drafts, err := d.store.Drafts(ctx, line.ID(who.ID))
	if err != nil {
		return nil, fmt.Errorf("tray: %w", err)
	}
	// The policy in hand waits on its own page: no session cut it off.
	drafts = slices.DeleteFunc(drafts, func(one account.Draft) bool { return one.ID == policyEditID(who) })
	makes := map[string]*account.Draft{}
	tray := make([]TrayItem, len(drafts))
	for i, one := range drafts {
		tray[i].Draft = one
		if parts := strings.Split(one.Path, "/"); len(parts) > 2 { // /lines/LINE/review
			tray[i].After = makes[parts[2]]
			d.about(ctx, &tray[i], parts[1], line.ID(parts[2]))
		}
		for _, made := range []string{"subject", "line", "entry"} {
			if id := one.Form.Get(made); id != "" {
				makes[id] = &drafts[i]
			}
		}
	}
	return tray, nil
}

// about finds whom and what a form is about; what is not there stays away.
func (d *Desk) about(ctx context.Context, one *TrayItem, kind string, id line.ID) {
	switch kind {
	case "lines":
		if current, patient, err := d.store.LineOf(ctx, id); err == nil {
			one.Line, one.Patient = &current, patient
		}
	case "patients":
		if patient, err := d.store.Patient(ctx, id); err == nil {
			one.Patient = patient
		}
	}
}

// DropDraft forgets a form of the person's own.
func (d *Desk) DropDraft(ctx context.Context, who Person, draft string) error {
	return d.store.DropDraft(ctx, line.ID(who.ID), draft)
}
