package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

func TestSecondStep_ACodeIsUsedOnce(t *testing.T) {
	t.Parallel()
	w := newWard(t)
	_, ok, err := w.SecondStep(t.Context(), "a1")
	require.NoError(t, err)
	require.False(t, ok)
	step := account.SecondStep{Key: account.CodeKey("key"), Confirmed: true, Used: 7}
	require.NoError(t, w.SetSecondStep(t.Context(), "a1", step))
	for _, c := range []struct {
		step int64
		want bool
	}{{7, false}, {8, true}, {8, false}, {6, false}, {10, true}} {
		used, err := w.UseStep(t.Context(), "a1", c.step)
		require.NoError(t, err)
		require.Equal(t, c.want, used, c.step)
	}
	got, ok, err := w.SecondStep(t.Context(), "a1")
	require.NoError(t, err)
	require.True(t, ok)
	step.Used = 10
	require.Equal(t, step, got)

	require.NoError(t, w.SetRecoveryCodes(t.Context(), "a1", []string{"one", "two"}))
	for _, c := range []struct {
		account, hash string
		want          bool
	}{{"a2", "one", false}, {"a1", "three", false}, {"a1", "one", true}, {"a1", "one", false}} {
		used, err := w.UseRecoveryCode(t.Context(), line.ID(c.account), c.hash)
		require.NoError(t, err)
		require.Equal(t, c.want, used, c)
	}
	left, err := w.RecoveryCodes(t.Context(), "a1")
	require.NoError(t, err)
	require.Equal(t, 1, left)

	require.NoError(t, w.DropSecondStep(t.Context(), "a1"))
	_, ok, err = w.SecondStep(t.Context(), "a1")
	require.NoError(t, err)
	require.False(t, ok)
	left, err = w.RecoveryCodes(t.Context(), "a1")
	require.NoError(t, err)
	require.Zero(t, left)
}
