package outcomes_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

func TestEvidence_TellsOfEnoughLinesOfTheSiteAndGaugeAlone(t *testing.T) {
	t.Parallel()
	thin := ended(line.Wrist, line.Leak, 10, 5, 1)
	for i := range thin {
		thin[i].Gauge = 24
	}
	e, err := outcomes.Gather(join(ended(line.Wrist, line.Leak, 40, 20, 1), thin, ended(line.Ankle, line.Leak, 19, 20, 1)), period)
	require.NoError(t, err)
	require.Equal(t, 50, e.Lines(line.Wrist))
	require.Zero(t, e.Lines(line.Neck))
	for _, c := range []struct {
		says line.Message
		want string
	}{
		{e.OfSite(line.Wrist), "half fail within 34 h (27 h to 41 h)"},
		{e.Of(line.Wrist, 20), "Here, half of such lines (wrist, 20G) fail within 40 h (33 h to 45 h) if none is taken out before; 40 in the last year."},
		{e.Of(line.Wrist, 24), "10 such lines (wrist, 24G) in the last year: too few to tell how long they last here."},
		{e.Of(line.Ankle, 20), "19 such lines (ankle, 20G) in the last year: too few to tell how long they last here."},
		{e.OfSite(line.Ankle), "too few to tell"},
		{e.OfSite(line.Neck), "too few to tell"},
	} {
		require.Equal(t, c.want, told(t, []line.Message{c.says}))
	}
}
