package stats_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

func TestTransform_HasNoIntervalWhereItHasNoValue(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	none := stats.Interval{Lower: nan, Upper: nan}
	for _, c := range []struct {
		name                  string
		transform             stats.Transform
		share, se, confidence float64
		want                  stats.Interval
	}{
		{"log-log at 0", stats.LogLog, 0, 0, 0.95, none},
		{"log-log at 1", stats.LogLog, 1, 0, 0.95, none},
		{"log at 0", stats.Log, 0, 0, 0.95, none},
		{"log at 1", stats.Log, 1, 0, 0.95, stats.Interval{Lower: 1, Upper: 1}},
		{"plain at 0", stats.Plain, 0, 0, 0.95, stats.Interval{}},
		{"plain at 1", stats.Plain, 1, 0, 0.95, stats.Interval{Lower: 1, Upper: 1}},
		{"no standard error", stats.Plain, 0, nan, 0.95, none},
		{"no share", stats.Plain, nan, 0.1, 0.95, none},
		{"more than all", stats.Log, 1.1, 0.1, 0.95, none},
		{"certainty", stats.LogLog, 0.5, 0.1, 1, none},
		{"no such transform", stats.Plain + 1, 0.5, 0.1, 0.95, none},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := c.transform.Interval(c.share, c.se, c.confidence)
			if math.IsNaN(c.want.Lower) {
				require.True(t, math.IsNaN(got.Lower) && math.IsNaN(got.Upper))
				return
			}
			require.Equal(t, c.want, got)
		})
	}
}

func TestTransform_HoldsTheShareAndWidensWithConfidence(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		share := rapid.Float64Range(0.001, 0.999).Draw(t, "share")
		se := rapid.Float64Range(0, 0.5).Draw(t, "se")
		confidence := rapid.Float64Range(0.5, 0.99).Draw(t, "confidence")
		for _, transform := range []stats.Transform{stats.LogLog, stats.Log, stats.Plain} {
			i, j := transform.Interval(share, se, confidence), transform.Interval(share, se, confidence+0.005)
			require.True(t, 0 <= j.Lower && j.Lower <= i.Lower && i.Lower <= share+1e-12, "%v %v", i, j)
			require.True(t, share-1e-12 <= i.Upper && i.Upper <= j.Upper && j.Upper <= 1, "%v %v", i, j)
		}
	})
}
