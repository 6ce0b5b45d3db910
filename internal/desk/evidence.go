package desk

import (
	"context"
	"fmt"
	"sync"
	"time"

	"golang.org/x/sync/singleflight"

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

// evidence is kept, since reading a year takes longer than a page may.
type evidence struct {
	mu    sync.Mutex
	found *outcomes.Evidence
	work  singleflight.Group
}

// Evidence is how this hospital's lines have lasted, by site and gauge. It names
// no ward and nobody. What is a little old is given while it is made anew.
func (d *Desk) Evidence(ctx context.Context, who Person) (*outcomes.Evidence, error) {
	if err := who.require(account.SeeWards); err != nil {
		return nil, err
	}
	d.evidence.mu.Lock()
	found := d.evidence.found
	d.evidence.mu.Unlock()
	if found != nil && d.Now().Sub(found.Period.Until) < evidenceAge {
		return found, nil
	}
	made := d.evidence.work.DoChan("", func() (any, error) { return d.gather(context.WithoutCancel(ctx)) })
	if found != nil {
		return found, nil
	}
	select {
	case r := <-made:
		if r.Err != nil {
			return nil, r.Err
		}
		return r.Val.(*outcomes.Evidence), nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func (d *Desk) gather(ctx context.Context) (*outcomes.Evidence, error) {
	now := d.Now()
	period := line.Stretch{From: now.Add(-evidenceOf), Until: now}
	var lines []line.Course
	if err := d.store.Courses(ctx, period, func(c line.Course) { lines = append(lines, c) }); err != nil {
		return nil, fmt.Errorf("read how lines lasted: %w", err)
	}
	found, err := outcomes.Gather(lines, period)
	if err != nil {
		return nil, fmt.Errorf("tell how lines lasted: %w", err)
	}
	d.evidence.mu.Lock()
	d.evidence.found = found
	d.evidence.mu.Unlock()
	return found, nil
}
