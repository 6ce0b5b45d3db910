package desk

import (
	"context"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// OwnRecord is the person's own attempts, and nobody else's: there is no way
// to ask for another person's.
func (d *Desk) OwnRecord(ctx context.Context, who Person) (*outcomes.Record, error) {
	if err := who.require(account.SeeOwnRecord); err != nil {
		return nil, err
	}
	tried, err := d.store.Attempts(ctx, line.ID(who.ID))
	if err != nil {
		return nil, err
	}
	stopped, err := d.store.Stopped(ctx, line.ID(who.ID))
	if err != nil {
		return nil, err
	}
	return outcomes.Of(tried, stopped), nil
}
