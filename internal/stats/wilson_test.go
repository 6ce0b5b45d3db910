package stats_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

func TestWilson_AgreesWithPublishedIntervals(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		source       string
		x, n         int
		lower, upper float64
		within       float64
	}{
		// Newcombe RG, Stat Med 1998;17:857-72, to full precision by R 4.2.2: prop.test(x, n, correct = FALSE).
		{"Newcombe 1998", 81, 263, 0.255288519878274, 0.3662095769828, 1e-9},
		{"Newcombe 1998", 15, 148, 0.0623863995307363, 0.160487241723308, 1e-9},
		{"Newcombe 1998", 0, 20, 0, 0.161125158052819, 1e-9},
		{"Newcombe 1998", 1, 29, 0.00611321429276265, 0.171755218793203, 1e-9},
		// Evison H et al., Scand J Trauma Resusc Emerg Med 2021: 29.3 % (26.9 to 31.9), printed to one decimal.
		{"Evison 2021, lines idle at 24 h", 366, 1249, 0.269, 0.319, 1e-3},
		// Marsh N et al., J Hosp Med 2018;13:83-9, counts; interval 30.2 to 34.8 % derived from them.
		{"Marsh 2018, lines that failed", 512, 1578, 0.302, 0.348, 5e-4},
	} {
		i := stats.Wilson(c.x, c.n, 0.95)
		require.InDelta(t, c.lower, i.Lower, c.within, "%s %d/%d", c.source, c.x, c.n)
		require.InDelta(t, c.upper, i.Upper, c.within, "%s %d/%d", c.source, c.x, c.n)
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
	})
}
