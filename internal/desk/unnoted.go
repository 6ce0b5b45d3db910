package desk

import (
	"context"
	"sync"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
)

// unnoted holds who opened what while the disk took nothing, until it does
// again: a full disk keeps nobody from a patient's record. The end of the
// program loses them.
type unnoted struct {
	mu      sync.Mutex
	waiting []account.Access
}

// mostUnnoted bounds them; beyond it nothing more is opened unnoted.
const mostUnnoted = 10_000

// note notes an access, and those that wait.
func (d *Desk) note(ctx context.Context, a account.Access) error {
	err := d.store.NoteAccess(ctx, a)
	u := &d.unnoted
	u.mu.Lock()
	defer u.mu.Unlock()
	if fault.Is(err, fault.Busy) && len(u.waiting) < mostUnnoted {
		u.waiting = append(u.waiting, a)
		return nil
	}
	for err == nil && len(u.waiting) > 0 {
		if d.store.NoteAccess(ctx, u.waiting[0]) != nil {
			break
		}
		u.waiting = u.waiting[1:]
	}
	return err
}
