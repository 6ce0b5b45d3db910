package line_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
)

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
