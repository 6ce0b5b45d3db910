package desk

import (
	"context"
	"fmt"
	"sync"
	"time"

	"golang.org/x/sync/singleflight"

	"dwellbook/internal/line"
)

// aged keeps what takes longer to work out than a page may. It is made once for
// all who ask at the same time; what is old is given while it is made anew.
type aged[K comparable, V any] struct {
	mu   sync.Mutex
	kept map[K]dated[V]
	work singleflight.Group
}

type dated[V any] struct {
	at    line.Minute
	value V
}

// get gives the value of a key, made now or not longer ago than age.
func (a *aged[K, V]) get(ctx context.Context, key K, now line.Minute, age time.Duration, work func(context.Context) (V, error)) (V, error) {
	a.mu.Lock()
	kept, ok := a.kept[key]
	a.mu.Unlock()
	if ok && now.Sub(kept.at) < age {
		return kept.value, nil
	}
	made := a.work.DoChan(fmt.Sprint(key), func() (any, error) {
		// Others wait for it too, so it does not end with whoever asked first.
		value, err := work(context.WithoutCancel(ctx))
		if err == nil {
			a.mu.Lock()
			defer a.mu.Unlock()
			if a.kept == nil {
				a.kept = map[K]dated[V]{}
			}
			a.kept[key] = dated[V]{now, value}
		}
		return value, err
	})
	if ok {
		return kept.value, nil
	}
	select {
	case r := <-made:
		value, _ := r.Val.(V)
		return value, r.Err
	case <-ctx.Done():
		var none V
		return none, ctx.Err()
	}
}
