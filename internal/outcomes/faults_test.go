package outcomes_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// faulty is attempts in order, the first of each half failing by a fault so often.
func faulty(half, earlier, later int, fault line.Fault) (tried []line.Tried) {
	for i := range 2 * half {
		failed := i%half < map[bool]int{true: earlier, false: later}[i < half]
		one := line.Tried{Occasion: line.Key(i + 1), No: 1, Of: 1, At: line.Minute(i), Failed: failed}
		if failed {
			one.Fault = fault
		}
		tried = append(tried, one)
	}
	return tried
}

func TestFaults_GoFromTheCommonest(t *testing.T) {
	t.Parallel()
	failed := func(occasion line.Key, fault line.Fault) line.Tried {
		return line.Tried{Occasion: occasion, No: 1, Of: 1, At: line.Minute(occasion), Failed: true, Fault: fault}
	}
	var counts []line.Fault
	for _, f := range outcomes.Of([]line.Tried{failed(1, line.Spasm), failed(2, line.Haematoma), failed(3, line.Haematoma), failed(4, line.NoFlashback)}, 0).Faults() {
		counts = append(counts, f.Fault)
		require.Equal(t, outcomes.TooFewForTrend, f.Trend())
	}
	require.Equal(t, []line.Fault{line.Haematoma, line.NoFlashback, line.Spasm}, counts, "of equals in the order of the codes")
	require.Empty(t, outcomes.Of(nil, 0).Faults())
}

func TestFaults_SayWhetherARateHasChanged(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name                 string
		half, earlier, later int
		want                 outcomes.Trend
	}{
		{"fewer than ten in a half", 9, 9, 0, outcomes.TooFewForTrend},
		{"none any more", 10, 9, 0, outcomes.Rarer},
		{"a few fewer", 40, 8, 5, outcomes.NoTrend},
		{"far fewer", 80, 40, 10, outcomes.Rarer},
		{"far more", 80, 10, 40, outcomes.Commoner},
		{"the same", 80, 10, 10, outcomes.NoTrend},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			f := outcomes.Of(faulty(tt.half, tt.earlier, tt.later, line.VeinRolled), 0).Faults()
			require.Len(t, f, 1)
			require.Equal(t, tt.earlier+tt.later, f[0].N)
			earlier, later := f[0].Halves()
			require.Equal(t, []int{tt.earlier, tt.half, tt.later, tt.half}, []int{earlier.Successes, earlier.Trials, later.Successes, later.Trials})
			require.Equal(t, tt.want, f[0].Trend())
		})
	}
}
