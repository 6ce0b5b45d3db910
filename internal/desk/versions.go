package desk

import (
	"context"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Version is an entry as the author of a change saw it: the root itself, or
// what the correction seen made of it. It is there also when the entry has
// been changed or withdrawn since, so that a form that arrives again is read
// like the first time.
func (d *Desk) Version(ctx context.Context, who Person, root, seen line.ID) (line.Entry, error) {
	if err := who.require(account.RecordCare); err != nil {
		return line.Entry{}, err
	}
	rec, err := d.store.Entry(ctx, seen)
	if err != nil {
		return line.Entry{}, err
	}
	if rec.Root != root {
		return line.Entry{}, fault.New(fault.NotFound, "store.root-unknown")
	}
	if c, ok := rec.Entry.Body.(line.Correction); ok {
		return c.Replacement, nil
	}
	if rec.Entry.Kind == line.KindVoid {
		return line.Entry{}, fault.New(fault.Conflict, "desk.already-void")
	}
	return rec.Entry, nil
}
