package flow_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/flow"
)

// anySize is a cannula of any length and bore there may be.
func anySize(t *rapid.T) flow.Size {
	return flow.Size{
		Gauge:  20,
		Length: flow.Millimetre(rapid.Float64Range(10, 60).Draw(t, "length")),
		Bore:   flow.Millimetre(rapid.Float64Range(0.3, 1.7).Draw(t, "bore")),
	}
}

func anyConditions(t *rapid.T) flow.Conditions {
	return flow.Conditions{
		Fluid:       rapid.SampledFrom(flow.Fluids).Draw(t, "fluid"),
		Temperature: flow.Celsius(rapid.Float64Range(2, 42).Draw(t, "temperature")),
		Head:        flow.Centimetre(rapid.Float64Range(90, 150).Draw(t, "head")),
		Bag:         flow.MillimetreOfMercury(rapid.Float64Range(0, 150).Draw(t, "bag")),
		Vein:        flow.MillimetreOfMercury(rapid.Float64Range(0, 60).Draw(t, "vein")),
		Tubing:      rapid.SampledFrom([]flow.Tubing{flow.NoTubing, flow.StandardTubing, flow.WideTubing}).Draw(t, "tubing"),
		Extension:   rapid.Bool().Draw(t, "extension"),
		Connector:   rapid.Bool().Draw(t, "connector"),
	}
}

func made(t *rapid.T, s flow.Size) flow.Cannula {
	c, err := flow.NewCannula(s)
	require.NoError(t, err)
	return c
}

// tried is the answer, drawing again where the model does not reach.
func tried(t *rapid.T, s flow.Size, with flow.Conditions) flow.Answer {
	a, err := flow.Through(made(t, s), with)
	if err != nil {
		var fast *flow.TooFast
		require.ErrorAs(t, err, &fast)
		t.SkipNow()
	}
	return a
}

// noMore holds that every end of one answer is at most that of another, but for rounding.
func noMore(t *rapid.T, less, more flow.Answer) {
	const ulps = 1 + 1e-9
	require.LessOrEqual(t, less.Lower, more.Lower*ulps)
	require.LessOrEqual(t, less.Flow, more.Flow*ulps)
	require.LessOrEqual(t, less.Upper, more.Upper*ulps)
}

func TestThrough_NeverGivesLessForMoreHead(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s, with := anySize(t), anyConditions(t)
		higher, pressed, fuller := with, with, with
		higher.Head += flow.Centimetre(rapid.Float64Range(0, 50).Draw(t, "more head"))
		pressed.Bag += flow.MillimetreOfMercury(rapid.Float64Range(0, 100).Draw(t, "more pressure"))
		fuller.Vein = flow.MillimetreOfMercury(rapid.Float64Range(0, float64(with.Vein)).Draw(t, "less vein"))
		a := tried(t, s, with)
		for _, more := range []flow.Conditions{higher, pressed, fuller} {
			noMore(t, a, tried(t, s, more))
		}
	})
}

func TestThrough_NeverGivesLessForAWiderOrShorterCannula(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s, with := anySize(t), anyConditions(t)
		wider, longer := s, s
		wider.Bore += flow.Millimetre(rapid.Float64Range(0, 0.3).Draw(t, "wider by"))
		longer.Length = flow.Millimetre(rapid.Float64Range(float64(s.Length), 60).Draw(t, "longer"))
		a := tried(t, s, with)
		noMore(t, a, tried(t, wider, with))
		noMore(t, tried(t, longer, with), a)
	})
}

func TestThrough_NeverGivesMoreOfAThickerFluid(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s, with := anySize(t), anyConditions(t)
		// By pressure alone, since a denser fluid also presses more by its own height.
		with.Head, with.Bag = 0, flow.MillimetreOfMercury(rapid.Float64Range(61, 200).Draw(t, "bag alone"))
		thicker := with
		thicker.Fluid = rapid.SampledFrom(flow.Fluids).Draw(t, "other fluid")
		_, thin, _ := with.Fluid.Viscosity(with.Temperature)
		_, thick, _ := thicker.Fluid.Viscosity(with.Temperature)
		if thin <= thick && with.Fluid.Density(22) <= thicker.Fluid.Density(22) {
			require.LessOrEqual(t, tried(t, s, thicker).Flow, tried(t, s, with).Flow*(1+1e-9))
		}
		colder := with
		colder.Temperature = flow.Celsius(rapid.Float64Range(2, float64(with.Temperature)).Draw(t, "colder"))
		if colder.Temperature >= 4 { // below, water is no denser for being colder
			noMore(t, tried(t, s, colder), tried(t, s, with))
		}
	})
}

func TestThrough_NeverGainsByAnotherPart(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s, with := anySize(t), anyConditions(t)
		with.Tubing, with.Extension, with.Connector = flow.NoTubing, false, false
		wide, standard, extended, connected := with, with, with, with
		wide.Tubing, standard.Tubing, extended.Extension, connected.Connector = flow.WideTubing, flow.StandardTubing, true, true
		a := tried(t, s, with)
		for _, more := range []flow.Conditions{wide, standard, extended, connected} {
			noMore(t, tried(t, s, more), a)
		}
		noMore(t, tried(t, s, standard), tried(t, s, wide))
	})
}

func TestThrough_SharesOutTheWholeDrive(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		with := anyConditions(t)
		a := tried(t, anySize(t), with)
		var sum float64
		for _, p := range a.Parts {
			require.True(t, p.Share > 0 && p.Share <= 1+1e-12, "%v takes %v", p.Part, p.Share)
			sum += p.Share
			require.LessOrEqual(t, p.Reynolds, a.Reynolds())
			if p.Part == a.Limits() {
				require.GreaterOrEqual(t, p.Share, 1/float64(len(a.Parts))-1e-12)
			}
		}
		require.InDelta(t, 1, sum, 1e-9)
		require.Equal(t, with.Vein > 0, a.Parts[len(a.Parts)-1].Part == flow.VeinPart)
		// The range holds the likely, and friction of the laminar kind alone says more.
		require.True(t, a.Lower <= a.Flow && a.Flow <= a.Upper && a.Flow < a.FourthPower)
		// Rounding never narrows the range, and changes nothing the second time.
		r := a.Rounded()
		require.True(t, r.Lower <= a.Lower && a.Upper <= r.Upper)
		require.Equal(t, r, r.Rounded())
	})
}

func TestNewCannula_GivesTheRatedFlowBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := flow.Size{
			Gauge:  26,
			Length: flow.Millimetre(rapid.Float64Range(10, 60).Draw(t, "length")),
			Rated:  flow.MillilitresPerMinute(rapid.Float64Range(10, 400).Draw(t, "rated")),
		}
		c := made(t, s)
		a, err := flow.Through(c, flow.StandardTest())
		require.NoError(t, err)
		require.InEpsilon(t, float64(s.Rated), float64(a.Flow), 1e-9)
		least, likely, most := c.Bore()
		require.True(t, least < likely && likely < most)
		require.True(t, a.Lower < s.Rated && s.Rated < a.Upper)
		// A bore entered is its own answer: the same flow.
		same, err := flow.Through(made(t, flow.Size{Gauge: 26, Length: s.Length, Bore: likely}), flow.StandardTest())
		require.NoError(t, err)
		require.InEpsilon(t, float64(a.Flow), float64(same.Flow), 1e-9)
	})
}
