package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestCodec_KeepsASession(t *testing.T) {
	t.Parallel()
	deadline := time.Date(2026, 3, 9, 12, 0, 0, 0, time.UTC)
	values := map[string]any{sessionAccount: "acc-7", sessionGeneration: int64(3), sessionState: stateEnrol, sessionStarted: int64(1_772_452_800), sessionActed: int64(1_772_453_000)}
	raw, err := codec{}.Encode(deadline, values)
	require.NoError(t, err)
	gotDeadline, got, err := codec{}.Decode(raw)
	require.NoError(t, err)
	require.Equal(t, deadline, gotDeadline)
	require.Equal(t, values, got)
}

func TestCodec_RefusesWhatItWouldLose(t *testing.T) {
	t.Parallel()
	for _, values := range []map[string]any{{"theme": "dark"}, {sessionActed: "now"}, {sessionAccount: 7}} {
		_, err := codec{}.Encode(time.Time{}, values)
		require.Error(t, err, values)
	}
}

func TestCodec_WhatCannotBeReadIsNobodysSession(t *testing.T) {
	t.Parallel()
	for _, raw := range []string{"", "\x0f\xff\x81\x03", "{}", `{"acted":12}`, `{"account":7}`} {
		_, values, err := codec{}.Decode([]byte(raw))
		require.NoError(t, err, raw)
		require.Empty(t, values, raw)
		require.NotNil(t, values, "the session manager writes into it")
	}
}
