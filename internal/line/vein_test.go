package line_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
)

// The five items of the modified A-DIVA scale (van Loon et al. 2019, Journal of
// Clinical Medicine 8:144), one point each; the bands are from memory.
func TestVeinScore_IsAPointForEachTick(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		vein  line.Vein
		score int
		asked bool
		band  line.VeinBand
	}{
		{0, 0, false, line.VeinNotAsked},
		{line.SetOf(line.NotDifficult), 0, true, line.VeinEasy},
		{line.SetOf(line.DifficultExpected), 1, true, line.VeinEasy},
		{line.SetOf(line.NotVisible, line.NotPalpable), 2, true, line.VeinModerate},
		{line.SetOf(line.NotVisible, line.NotPalpable, line.SmallVein), 3, true, line.VeinModerate},
		{line.SetOf(line.NotVisible, line.NotPalpable, line.DifficultBefore, line.DifficultExpected), 4, true, line.VeinHard},
		{line.SetOf(line.NotVisible, line.NotPalpable, line.DifficultBefore, line.DifficultExpected, line.SmallVein), 5, true, line.VeinHard},
	} {
		score, asked := line.VeinScore(c.vein)
		require.Equal(t, c.score, score)
		require.Equal(t, c.asked, asked)
		require.Equal(t, c.band, line.VeinBandOf(c.vein))
	}
}

func TestTried_CountsOnceThePersonStandsByIt(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		byOther       bool
		agreed        line.Answer
		counts, waits bool
	}{
		{false, 0, true, false}, {true, 0, false, true}, {true, line.Yes, true, false}, {true, line.No, false, false},
	} {
		tried := line.Tried{ByOther: c.byOther, Agreed: c.agreed}
		require.Equal(t, c.counts, tried.Counts())
		require.Equal(t, c.waits, tried.Waits())
	}
}
