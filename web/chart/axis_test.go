package chart

import (
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestTicks_AreRoundAndHoldTheData(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		of    span
		limit int
		want  []float64
	}{
		{span{0, 27.9}, 6, []float64{0, 10, 20, 30}},
		{span{0, 97}, 6, []float64{0, 20, 40, 60, 80, 100}},
		{span{0, 0}, 6, []float64{0, 0.2, 0.4, 0.6, 0.8, 1}},
		{span{-3.4, 3.4}, 6, []float64{-4, -2, 0, 2, 4}},
		{span{0, 1}, 3, []float64{0, 0.5, 1}},
	} {
		require.InDeltaSlice(t, c.want, c.of.ticks(c.limit), 1e-9, "%v", c.of)
	}
	rapid.Check(t, func(t *rapid.T) {
		var s span
		s.take(values().Draw(t, "a"), values().Draw(t, "b"))
		limit := rapid.IntRange(3, 12).Draw(t, "limit")
		ticks := s.ticks(limit)
		require.True(t, len(ticks) >= 2 && len(ticks) <= limit && slices.IsSorted(ticks), "%v", ticks)
		slack := 1e-9 * (ticks[len(ticks)-1] - ticks[0])
		require.True(t, ticks[0] <= s.least+slack && ticks[len(ticks)-1] >= s.most-slack, "%v does not hold %v", ticks, s)
	})
}

func TestHourTicks_AreWholeDays(t *testing.T) {
	t.Parallel()
	require.Equal(t, []float64{0, 24, 48, 72, 96, 120, 144, 168}, hourTicks(168, 8))
	require.Equal(t, []float64{0, 48, 96, 144}, hourTicks(168, 4))
	require.Equal(t, []float64{0, 24}, hourTicks(24, 5))
	rapid.Check(t, func(t *rapid.T) {
		until := rapid.Float64Range(24, most).Draw(t, "until")
		limit := rapid.IntRange(2, 12).Draw(t, "limit")
		ticks := hourTicks(until, limit)
		require.LessOrEqual(t, len(ticks), limit)
		for _, h := range ticks {
			require.Zero(t, int64(h)%24)
		}
	})
}

func TestNumber_IsWrittenForAReader(t *testing.T) {
	t.Parallel()
	require.Equal(t, []string{"−2", "0", "2"}, Axis{}.written([]float64{-2, 0, 2}))
	require.Equal(t, []string{"0", "0.25", "0.50"}, Axis{}.written([]float64{0, 0.25, 0.5}))
	require.Equal(t, []string{"0 %", "0.5 %", "1.0 %"}, Axis{Share: true}.written([]float64{0, 0.005, 0.01}))
	require.Equal(t, []string{"0", "5e+10", "1e+11"}, Axis{}.written([]float64{0, 5e10, 1e11}))
}

func TestSpread_KeepsBlocksApartAndInOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var blocks []*block
		for range rapid.IntRange(1, 9).Draw(t, "blocks") {
			lines := rapid.IntRange(1, 2).Draw(t, "lines")
			blocks = append(blocks, &block{lines: make([]string, lines), want: rapid.Float64Range(-50, 450).Draw(t, "want")})
		}
		const line, top, bottom = 15, 20, 320
		spread(blocks, line, top, bottom)
		slices.SortStableFunc(blocks, func(a, b *block) int { return int(a.at*100 - b.at*100) })
		edge, before := float64(top), -1e9
		for _, b := range blocks {
			require.GreaterOrEqual(t, b.at-b.height(line)/2, edge-1e-6)
			require.GreaterOrEqual(t, b.want, before)
			edge, before = b.at+b.height(line)/2, b.want
		}
		require.LessOrEqual(t, edge, bottom+1e-6)
	})
}

func TestInks_AreThoseOfTheStylesheetInTheLight(t *testing.T) {
	t.Parallel()
	css, err := os.ReadFile("../static/dwellbook.css")
	require.NoError(t, err)
	light, _, found := strings.Cut(string(css), "@media")
	require.True(t, found)
	for _, ink := range inks[1:] {
		require.Contains(t, light, ink.property+": "+ink.light+";")
	}
}
