package stats_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// proportion is one interval worked out elsewhere.
type proportion struct {
	Source       string
	X, N         int
	Confidence   float64
	Lower, Upper float64
	Within       float64 // for a printed one, half of its last digit, or as it says
}

// published reads the intervals, each with its source beside it.
func published(t *testing.T) (computed, printed []proportion) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/published/proportion_intervals.json")
	require.NoError(t, err)
	var file struct {
		Computed struct {
			Source string
			Within float64
			Rows   []proportion
		}
		Printed []proportion
	}
	require.NoError(t, json.Unmarshal(text, &file))
	for _, row := range file.Computed.Rows {
		row.Source, row.Within = file.Computed.Source, file.Computed.Within
		computed = append(computed, row)
	}
	return computed, file.Printed
}

func TestWilson_AgreesWithIntervalsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	computed, printed := published(t)
	// Newcombe's four examples, at three confidences, with the ends; and published audits.
	require.Len(t, computed, 20)
	require.Len(t, printed, 11)
	for _, c := range append(computed, printed...) {
		require.NotEmpty(t, c.Source)
		require.LessOrEqual(t, c.Within, 1e-3, c.Source)
		i := stats.Wilson(c.X, c.N, c.Confidence)
		// The quotient of two decimals may miss the half by an ulp.
		require.InDelta(t, c.Lower, i.Lower, c.Within+1e-12, "%d/%d at %v: %s", c.X, c.N, c.Confidence, c.Source)
		require.InDelta(t, c.Upper, i.Upper, c.Within+1e-12, "%d/%d at %v: %s", c.X, c.N, c.Confidence, c.Source)
	}
}

// The ends must be exact: a screen that says 0 % or 100 % means it.
func TestWilson_IsExactAtTheEnds(t *testing.T) {
	t.Parallel()
	for _, n := range []int{1, 7, 20, 29, 1000} {
		require.Zero(t, stats.Wilson(0, n, 0.95).Lower, "0/%d", n)
		require.Equal(t, 1.0, stats.Wilson(n, n, 0.95).Upper, "%d/%d", n, n)
	}
	require.Equal(t, stats.Interval{Lower: 0, Upper: 1}, stats.Wilson(0, 0, 0.95))
}

func TestWilson_IsNoNumberForWhatIsNoProportion(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name       string
		x, n       int
		confidence float64
	}{
		{"more successes than trials", 3, 2, 0.95},
		{"fewer than none", -1, 2, 0.95},
		{"fewer trials than none", 0, -1, 0.95},
		{"successes without trials", 1, 0, 0.95},
		{"certainty", 1, 2, 1},
		{"no confidence", 1, 2, 0},
		{"confidence that is no number", 1, 2, math.NaN()},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			i := stats.Wilson(c.x, c.n, c.confidence)
			require.True(t, math.IsNaN(i.Lower) && math.IsNaN(i.Upper), "%v", i)
		})
	}
}

func TestWilson_HoldsTheProportionAndMirrors(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5000).Draw(t, "n")
		x := rapid.IntRange(0, n).Draw(t, "x")
		i, mirrored := stats.Wilson(x, n, 0.95), stats.Wilson(n-x, n, 0.95)
		p := float64(x) / float64(n)
		require.True(t, 0 <= i.Lower && i.Lower <= p && p <= i.Upper && i.Upper <= 1)
		require.InDelta(t, 1-i.Upper, mirrored.Lower, 1e-12)
		wider := stats.Wilson(x, n, 0.99)
		require.LessOrEqual(t, wider.Lower, i.Lower)
		require.GreaterOrEqual(t, wider.Upper, i.Upper)
		more := stats.Wilson(4*x, 4*n, 0.95)
		require.Less(t, more.Upper-more.Lower, i.Upper-i.Lower, "four times the trials say more")
	})
}
