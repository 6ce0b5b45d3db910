package web

import (
	"errors"
	"math"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/flow"
	"dwellbook/internal/words"
)

// What is asked of a size: a clear message by field, or conditions under which
// every usual cannula has a flow between its bounds, or a reason of its own.
func FuzzSizeForm(f *testing.F) {
	f.Add("for=fluids&volume=1000&minutes=480")
	f.Add("for=contrast&flow=5&unit=ml-s&site=elbow-crease&gauge=18")
	f.Add("for=blood&fluid=red-cells&tubing=blood&head=100&bag-pressure=300&connector=yes&extension=1")
	f.Add("volume=1e-300&minutes=1e-300")
	f.Add("flow=NaN&unit=%00&head=-0&bag-pressure=Inf")
	f.Add("volume=20000&minutes=0.0001&head=0x1p-1074")
	f.Fuzz(func(t *testing.T, asked string) {
		values, _ := url.ParseQuery(asked)
		in := &reader{form: values, fields: fault.Fields{}}
		q := readSize(in)
		var wrong *fault.Error
		if err := in.err(); errors.As(err, &wrong) {
			for name, m := range wrong.Fields {
				require.True(t, words.Known(m.Key), "%s: %s", name, m.Key)
			}
			return
		}
		cannulas := flow.UsualCannulas()
		_, err := (flow.Need{Flow: q.Need}).Judge(cannulas, q.With)
		require.NoError(t, err)
		for _, c := range cannulas {
			a, err := flow.Through(c, q.With)
			var none *flow.NoFlow
			var fast *flow.TooFast
			if errors.As(err, &none) || errors.As(err, &fast) {
				continue
			}
			require.NoError(t, err)
			for _, v := range []flow.MillilitresPerMinute{a.Lower, a.Flow, a.Upper} {
				require.False(t, math.IsNaN(float64(v)) || math.IsInf(float64(v), 0))
			}
			require.True(t, 0 <= a.Lower && a.Lower <= a.Flow && a.Flow <= a.Upper, "%v", a)
			likely, soonest, latest := a.Time(q.Volume)
			require.True(t, time.Duration(0) <= soonest && soonest <= likely && likely <= latest, "%s %s %s", soonest, likely, latest)
		}
	})
}
