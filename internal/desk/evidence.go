package desk

import (
	"context"
	"fmt"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// Evidence looks back a year, so that every season counts once, and is worked
// out anew when it is older than some hours: lines last days.
const (
	evidenceOf  = 365 * 24 * time.Hour
	evidenceAge = 6 * time.Hour
)

// Evidence is how this hospital's lines have lasted, by site and gauge. It names
// no ward and nobody.
func (d *Desk) Evidence(ctx context.Context, who Person) (*outcomes.Evidence, error) {
	if err := who.require(account.SeeWards); err != nil {
		return nil, err
	}
	now := d.Now()
	return d.evidence.get(ctx, struct{}{}, now, evidenceAge, func(ctx context.Context) (*outcomes.Evidence, error) {
		period := line.Stretch{From: now.Add(-evidenceOf), Until: now}
		var lines []line.Course
		if err := d.store.Courses(ctx, period, func(c line.Course) { lines = append(lines, c) }); err != nil {
			return nil, fmt.Errorf("read how lines lasted: %w", err)
		}
		found, err := outcomes.Gather(lines, period)
		if err != nil {
			return nil, fmt.Errorf("tell how lines lasted: %w", err)
		}
		return found, nil
	})
}
