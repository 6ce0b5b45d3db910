package flow_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/flow"
)

func TestNewCannula_SaysWhatIsNotKnownOrCannotBe(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		size flow.Size
		want error
	}{
		"17G has no length in the table":         {flow.Size{Gauge: 17}, &flow.NotKnown{Gauge: 17, Quantity: flow.Length}},
		"17G has no bore either":                 {flow.Size{Gauge: 17, Length: 45}, &flow.NotKnown{Gauge: 17, Quantity: flow.Bore}},
		"longer than a short peripheral cannula": {flow.Size{Gauge: 20, Length: 61}, &flow.OutOfRange{Quantity: flow.Length, Value: 61, Least: 5, Most: 60}},
		"a length below nothing":                 {flow.Size{Gauge: 20, Length: -33}, &flow.OutOfRange{Quantity: flow.Length, Value: -33, Least: 5, Most: 60}},
		"a bore wider than any":                  {flow.Size{Gauge: 14, Bore: 3}, &flow.OutOfRange{Quantity: flow.Bore, Value: 3, Least: 0.2, Most: 2.2}},
		"an infinite bore":                       {flow.Size{Gauge: 14, Bore: flow.Millimetre(math.Inf(1))}, &flow.OutOfRange{Quantity: flow.Bore, Value: math.Inf(1), Least: 0.2, Most: 2.2}},
	} {
		_, err := flow.NewCannula(c.size)
		require.Equal(t, c.want, err, name)
		require.NotEmpty(t, err.Error(), name)
	}
	for _, rated := range []flow.MillilitresPerMinute{-1, 0.1, 5000, flow.MillilitresPerMinute(math.NaN())} {
		_, err := flow.NewCannula(flow.Size{Gauge: 20, Rated: rated})
		var out *flow.OutOfRange
		require.ErrorAs(t, err, &out, "%v", rated)
		require.Equal(t, flow.Rated, out.Quantity)
	}
}

func TestNewCannula_TakesWhatIsSaidBeforeTheTable(t *testing.T) {
	t.Parallel()
	require.Len(t, flow.UsualCannulas(), 6)
	for _, c := range flow.UsualCannulas() {
		got, err := flow.NewCannula(flow.Size{Gauge: c.Gauge()})
		require.NoError(t, err)
		require.Equal(t, c, got)
		require.NotEmpty(t, c.Source().Name)
	}
	short, err := flow.NewCannula(flow.Size{Gauge: 14, Length: 32})
	require.NoError(t, err)
	require.Greater(t, through(t, short, bySaline()).Flow, through(t, usual(t, 14), bySaline()).Flow)
	// The flow on the pack goes before the bore.
	rated, err := flow.NewCannula(flow.Size{Gauge: 26, Length: 19, Bore: 1, Rated: 15})
	require.NoError(t, err)
	require.InDelta(t, 15, float64(through(t, rated, flow.StandardTest()).Flow), 1e-6)
}

func TestThrough_RefusesWhatItCannotAnswer(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	for name, c := range map[string]struct {
		change   func(*flow.Conditions)
		quantity flow.Quantity
	}{
		"colder than a blood refrigerator": {func(c *flow.Conditions) { c.Temperature = 1 }, flow.Temperature},
		"no temperature at all":            {func(c *flow.Conditions) { c.Temperature = flow.Celsius(nan) }, flow.Temperature},
		"a bag above the ceiling":          {func(c *flow.Conditions) { c.Head = 301 }, flow.Head},
		"a bag below the arm":              {func(c *flow.Conditions) { c.Head = -1 }, flow.Head},
		"more than a pressure bag gives":   {func(c *flow.Conditions) { c.Bag = 301 }, flow.BagPressure},
		"no vein":                          {func(c *flow.Conditions) { c.Vein = 61 }, flow.VeinPressure},
	} {
		with := bySaline()
		c.change(&with)
		_, err := flow.Through(usual(t, 20), with)
		var out *flow.OutOfRange
		require.ErrorAs(t, err, &out, name)
		require.Equal(t, c.quantity, out.Quantity, name)
	}
	var word *flow.UnknownWord
	_, err := flow.Through(usual(t, 20), flow.Conditions{Temperature: 22, Head: 100})
	require.ErrorAs(t, err, &word)
	odd := bySaline()
	odd.Tubing = 9
	_, err = flow.Through(usual(t, 20), odd)
	require.ErrorAs(t, err, &word)

	var unknown *flow.NotKnown
	_, err = flow.Through(flow.Cannula{}, bySaline())
	require.ErrorAs(t, err, &unknown)

	// 8 mmHg in the vein is as much as 10.8 cm of saline.
	low := bySaline()
	low.Vein, low.Head = 8, 10
	var none *flow.NoFlow
	_, err = flow.Through(usual(t, 20), low)
	require.ErrorAs(t, err, &none)
	require.NotEmpty(t, none.Error())
	low.Head = 11
	_, err = flow.Through(usual(t, 20), low)
	require.NoError(t, err)

	// A bare 14G under 300 mmHg and 3 m of warm saline: faster than anything it was compared with.
	fast := flow.Conditions{Fluid: flow.Saline, Temperature: 40, Head: 300, Bag: 300}
	var beyond *flow.TooFast
	_, err = flow.Through(usual(t, 14), fast)
	require.ErrorAs(t, err, &beyond)
	require.Equal(t, flow.CannulaPart, beyond.Part)
	require.Greater(t, beyond.Reynolds, beyond.Most)
	require.NotEmpty(t, beyond.Error())
	for _, row := range flow.Table(flow.UsualCannulas(), fast) {
		require.Equal(t, row.Cannula.Gauge() <= 16, row.Err != nil, "%dG", row.Cannula.Gauge())
	}
}

func TestAnswer_TellsWhatLimits(t *testing.T) {
	t.Parallel()
	with := bySaline()
	require.Equal(t, flow.CannulaPart, through(t, usual(t, 22), with).Limits())
	with.Connector = true
	require.Equal(t, flow.ConnectorPart, through(t, usual(t, 14), with).Limits())
	with.Extension, with.Vein = true, 8
	var order []string
	for _, p := range through(t, usual(t, 14), with).Parts {
		order = append(order, p.Part.String())
	}
	require.Equal(t, []string{"tubing", "extension", "connector", "cannula", "vein"}, order)
	require.Len(t, with.Fittings(), 3)
	for _, f := range with.Fittings() {
		require.NotEmpty(t, f.Source().Name)
		least, likely, most := f.Bore()
		require.True(t, least < likely && likely < most && f.Length() > 0, f.Part())
	}
	low := bySaline()
	low.Head, low.Vein = 15, 8
	require.Equal(t, flow.VeinPart, through(t, usual(t, 22), low).Limits())
}

func TestAnswer_RoundsToTwoDigits(t *testing.T) {
	t.Parallel()
	a := flow.Answer{Flow: 56.63, Lower: 44.7, Upper: 170.2, FourthPower: 1936}.Rounded()
	require.InDelta(t, 57, float64(a.Flow), 1e-9)
	require.InDelta(t, 44, float64(a.Lower), 1e-9)
	require.InDelta(t, 180, float64(a.Upper), 1e-9)
	require.InDelta(t, 1900, float64(a.FourthPower), 1e-9)
}

func TestAnswer_TimesAVolume(t *testing.T) {
	t.Parallel()
	// A litre at 100 mL/min takes ten minutes.
	likely, soonest, latest := flow.Answer{Flow: 100, Lower: 50, Upper: 200}.Time(1000)
	require.Equal(t, []time.Duration{10 * time.Minute, 5 * time.Minute, 20 * time.Minute}, []time.Duration{likely, soonest, latest})
	never, _, _ := flow.Answer{}.Time(1000)
	require.Equal(t, time.Duration(math.MaxInt64), never)
}

// Six gauges under one set of conditions: what a screen asks for at each change.
func BenchmarkTable(b *testing.B) {
	with := bySaline()
	with.Bag, with.Connector, with.Extension, with.Vein = 300, true, true, 8
	cannulas := flow.UsualCannulas()
	for b.Loop() {
		for _, row := range flow.Table(cannulas, with) {
			if row.Err != nil {
				b.Fatal(row.Err)
			}
		}
	}
}

// A cannula known by the flow on its pack.
func BenchmarkNewCannula_Rated(b *testing.B) {
	for b.Loop() {
		if _, err := flow.NewCannula(flow.Size{Gauge: 20, Rated: 61}); err != nil {
			b.Fatal(err)
		}
	}
}
