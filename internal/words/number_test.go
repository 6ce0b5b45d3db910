package words_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

func TestNumber_ShowsNoMoreFiguresThanItCanBear(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		v    any
		want string
	}{
		{line.Share(0), "0 %"}, {line.Share(0.0312), "3.1 %"}, {line.Share(0.412), "41 %"}, {line.Share(0.954), "95.4 %"}, {line.Share(1), "100 %"},
		{line.Hours(3.26), "3.3 h"}, {line.Hours(71.6), "72 h"},
		{line.PValue(0.0004), "p < 0.001"}, {line.PValue(0.0312), "p = 0.031"}, {line.PValue(0.5912), "p = 0.59"},
		{line.Number(0), "0"}, {line.Number(1.234), "1.23"}, {line.Number(38.52), "38.5"}, {line.Number(123.4), "123"},
		{12, "12"}, {"Alder", "Alder"},
	} {
		require.Equal(t, c.want, words.Number(t.Context(), c.v))
	}
	for _, none := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for _, v := range []any{line.Share(none), line.Hours(none), line.PValue(none), line.Number(none)} {
			require.Equal(t, "–", words.Number(t.Context(), v))
		}
	}
}
