package desk

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
)

func TestAged_MakesOnceForAllAndGivesTheOldWhileItMakesTheNew(t *testing.T) {
	t.Parallel()
	var a aged[string, int]
	made := make(chan int, 10)
	get := func(now line.Minute, value int) int {
		got, err := a.get(t.Context(), "key", now, time.Hour, func(context.Context) (int, error) {
			made <- value
			return value, nil
		})
		require.NoError(t, err)
		return got
	}
	require.Equal(t, 1, get(0, 1))
	require.Equal(t, 1, get(59, 2), "not old yet")
	require.Equal(t, 1, <-made)
	require.Equal(t, 1, get(60, 3), "the old one while the new one is made")
	require.Equal(t, 3, <-made)
	require.Eventually(t, func() bool { return get(61, 4) == 3 }, time.Minute, time.Millisecond)

	_, err := a.get(t.Context(), "other", 0, time.Hour, func(context.Context) (int, error) { return 0, errors.New("not to be had") })
	require.ErrorContains(t, err, "not to be had")
	got, err := a.get(t.Context(), "other", 0, time.Hour, func(context.Context) (int, error) { return 5, nil })
	require.NoError(t, err)
	require.Equal(t, 5, got, "a failure is not kept")

	asked, done := make(chan struct{}), make(chan struct{})
	var all sync.WaitGroup
	ctx, cancel := context.WithCancel(t.Context())
	all.Go(func() {
		_, err := a.get(ctx, "slow", 0, time.Hour, func(ctx context.Context) (int, error) {
			close(asked)
			<-done
			return 6, ctx.Err()
		})
		require.ErrorIs(t, err, context.Canceled, "who went away does not wait")
	})
	<-asked
	cancel()
	all.Wait()
	close(done)
	require.Eventually(t, func() bool {
		got, err := a.get(t.Context(), "slow", 0, time.Hour, func(context.Context) (int, error) { return 7, nil })
		return err == nil && got == 6
	}, time.Minute, time.Millisecond, "but what was begun is finished for the others")
}
