package desk

import (
	"context"

	"dwellbook/internal/outcomes"
)

// OwnRecord is what the person's own attempts come to, those that count.
func (d *Desk) OwnRecord(ctx context.Context, who Person) (*outcomes.Record, error) {
	own, err := d.OwnAttempts(ctx, who)
	if err != nil {
		return nil, err
	}
	return outcomes.Of(own.Counted, own.Stopped), nil
}
