package desk

import (
	"context"
	"sync"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

type alongKey struct{}

// TakingAlong marks that patients are opened for a device to take along, in
// case the network drops, and not each by a person's act.
func TakingAlong(ctx context.Context) context.Context {
	return context.WithValue(ctx, alongKey{}, true)
}

// along remembers who took whom along, so that the record of who opened whom
// names it once a shift and not each time the device looks.
type along struct {
	mu sync.Mutex
	of map[taken]time.Time
}

type taken struct {
	by      account.ID
	subject line.Key
}

const (
	notedEvery = 8 * time.Hour
	mostAlong  = 20000
)

// first reports whether it is to be noted.
func (a *along) first(by account.ID, subject line.Key, now time.Time) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	k := taken{by, subject}
	if at, ok := a.of[k]; ok && now.Sub(at) < notedEvery {
		return false
	}
	if a.of == nil || len(a.of) >= mostAlong {
		a.of = map[taken]time.Time{}
	}
	a.of[k] = now
	return true
}
