package outcomes_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

func TestOf_CountsFirstAttemptsByOccasion(t *testing.T) {
	t.Parallel()
	r := outcomes.Of([]line.Tried{
		{Occasion: 1, No: 1, Of: 2, At: 10, Site: line.Wrist, Gauge: 20, Failed: true, Fault: line.VeinRolled},
		{Occasion: 1, No: 2, Of: 2, At: 10, Site: line.Forearm, Gauge: 20},
		{Occasion: 2, No: 1, Of: 1, At: 20, Site: line.Forearm, Gauge: 22},
		{Occasion: 3, No: 2, Of: 2, At: 30, Site: line.Forearm, Gauge: 22}, // somebody else began
	}, 1)
	require.Equal(t, 3, r.Occasions)
	require.Equal(t, 1, r.First.Successes)
	require.Equal(t, 2, r.First.N)
	require.Equal(t, 3, r.Attempts.Successes)
	require.Equal(t, 4, r.Attempts.N)
	require.True(t, r.First.Few())
	require.Equal(t, 1, r.Stopped)
	require.Equal(t, []outcomes.FaultCount{{Fault: line.VeinRolled, N: 1}}, r.Faults)
	require.Equal(t, line.Key(3), r.Recent[0].Occasion)
	require.Len(t, r.BySite, 2)
	require.Len(t, r.ByGauge, 2)
}

func TestOf_NothingIsNoProportion(t *testing.T) {
	t.Parallel()
	_, ok := outcomes.Of(nil, 0).First.Proportion()
	require.False(t, ok)
}
