package account_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/account"
)

func TestTries_SlowAfterFailures(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)
	fail := func(n int, ago time.Duration) account.Failures { return account.Failures{N: n, Last: now.Add(-ago)} }
	for _, c := range []struct {
		name  string
		tries account.Tries
		want  time.Duration
	}{
		{"none", account.Tries{}, 0},
		{"four are free", account.Tries{Here: fail(4, 0)}, 0},
		{"the fifth", account.Tries{Here: fail(5, 0)}, 2 * time.Second},
		{"doubled", account.Tries{Here: fail(7, 0)}, 8 * time.Second},
		{"partly waited", account.Tries{Here: fail(6, time.Second)}, 3 * time.Second},
		{"all waited", account.Tries{Here: fail(6, 4*time.Second)}, 0},
		{"never longer than five minutes", account.Tries{Here: fail(1<<30, 0)}, 5 * time.Minute},
		{"spread over addresses", account.Tries{Here: fail(1, 0), Name: fail(22, 0)}, 4 * time.Second},
		{"spread over addresses, at most a minute", account.Tries{Name: fail(500, 0)}, time.Minute},
		{"spread over names", account.Tries{Here: fail(1, 0), Address: fail(51, 0)}, 2 * time.Second},
		{"a ward that mistypes", account.Tries{Here: fail(2, 0), Address: fail(50, 0)}, 0},
		{"a known device is not kept out from elsewhere", account.Tries{Known: true, Here: fail(2, 0), Name: fail(500, 0), Address: fail(500, 0)}, 0},
		{"but is slowed itself", account.Tries{Known: true, Here: fail(5, 0)}, 2 * time.Second},
	} {
		require.Equal(t, c.want, c.tries.Wait(now), c.name)
	}
}

func TestTries_WaitGrowsAndEnds(t *testing.T) {
	t.Parallel()
	last := time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 1000).Draw(rt, "failures")
		now := last.Add(time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(rt, "since")))
		after := func(n int) account.Tries { return account.Tries{Here: account.Failures{N: n, Last: last}} }
		wait := after(n).Wait(now)
		require.True(rt, wait >= 0 && wait <= 5*time.Minute)
		require.GreaterOrEqual(rt, after(n+1).Wait(now), wait, "one more failure never shortens it")
		require.Zero(rt, after(n).Wait(now.Add(wait)), "once waited, it is over")
	})
}
