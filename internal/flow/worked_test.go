package flow_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/flow"
)

// OpenStax College Physics 12.4, the example of an intravenous needle: radius
// 0.150 mm, 2.50 cm, 0.120 cm3/s of a liquid of 1.00e-3 Pa.s into a vein of 8.00
// mmHg. It gives 1.62e4 Pa at the entrance and a bag 1.61 m above.
func TestPoiseuille_GivesTheOpenStaxExample(t *testing.T) {
	t.Parallel()
	const q = 0.120 * 60
	entrance := flow.Friction(25, 0.300, 1.00e-3, q) + flow.MillimetreOfMercury(8).Pascal()
	require.InDelta(t, 1.62e4, float64(entrance), 0.005e4)
	// The printed height needs a liquid of 1025 kg/m3; water would give 1.65 m.
	require.InDelta(t, 1.61, float64(entrance/flow.Under(100, 1025)), 0.005)
	require.InDelta(t, 1.65, float64(entrance/flow.Under(100, 1000)), 0.005)
	// What the book leaves out (worked out apart): speed 1.6977 m/s, Reynolds
	// number 509, and with m = 1.12 3228 Pa of kinetic energy, 21 % of the friction.
	require.InDelta(t, q, float64(flow.At(1.6977, 0.300)), 1e-3)
	require.InDelta(t, 509, float64(flow.ReynoldsIn(0.300, 1e-3, 1000, q)), 0.5)
	kinetic := flow.Kinetic(0.300, 1000, q, 1.12)
	require.InDelta(t, 3228, float64(kinetic), 0.5)
	require.InDelta(t, 0.21, float64(kinetic/flow.Friction(25, 0.300, 1e-3, q)), 0.005)
}

// A hypodermic needle of 3.14 cm and 0.35 mm with 1 g of water a second at 1.0e-3
// Pa.s: 85 254.55 Pa (justaaa.com, physics 224862). The answer is not physical: at
// 10.39 m/s and a Reynolds number of 3638 kinetic energy takes 120 995 Pa more
// (worked out apart), and the flow is in transition.
func TestPoiseuille_GivesTheTextbookNeedleAndWhatThatLeavesOut(t *testing.T) {
	t.Parallel()
	const q = 60 // 1 g/s
	require.InDelta(t, 85254.55, float64(flow.Friction(31.4, 0.35, 1e-3, q)), 0.01)
	require.InDelta(t, 120995, float64(flow.Kinetic(0.35, 1000, q, 1.12)), 1)
	require.InDelta(t, q, float64(flow.At(10.39, 0.35)), 0.05)
	re := flow.ReynoldsIn(0.35, 1e-3, 1000, q)
	require.InDelta(t, 3638, float64(re), 0.5)
	require.Equal(t, flow.Transitional, re.Regime())
}

// The radius of a needle 2.50 cm long that lets 500 cm3 through in 30 minutes
// under a metre of water: 0.206 mm (question on numerade.com; answer worked out
// apart with g 9.8 and 1.0e-3 Pa.s, by friction alone).
func TestPoiseuille_GivesTheNeedleThatEmptiesABagInHalfAnHour(t *testing.T) {
	t.Parallel()
	loss := flow.Friction(25, 2*0.20610, 1e-3, flow.MillilitresPerMinute(500.0/30))
	require.InDelta(t, 9800, float64(loss), 5)
}

// Fourth powers as printed: 1.30 over 0.95 mm is 3.5 (Gray, Aust Prescr 1995),
// an 18G over a 20G 2.5 (Am J Emerg Med 2010;28:724-7; bores inferred).
func TestPoiseuille_GrowsWithTheFourthPowerOfTheBore(t *testing.T) {
	t.Parallel()
	ratio := func(wide, narrow flow.Millimetre) float64 {
		return float64(flow.Friction(45, narrow, 1e-3, 50) / flow.Friction(45, wide, 1e-3, 50))
	}
	require.InDelta(t, 3.5065, ratio(1.30, 0.95), 5e-5)
	require.InDelta(t, 2.5742, ratio(0.95, 0.75), 5e-5)
}

func TestReynolds_GivesWorkedExamples(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		source          string
		rho             flow.KilogramsPerCubicMetre
		eta             flow.PascalSecond
		bore            flow.Millimetre
		speed, reynolds float64
	}{
		{"numerade.com, blood in a vessel of radius 1.50 cm; answer worked out apart", 1060, 3.00e-3, 30, 0.0670, 710.2},
		{"learntocalculate.com", 400, 0.5, 10, 2, 16},
		{"assignmentexpert.com 119676", 900, 0.4, 20, 2.5, 112.5},
	} {
		re := flow.ReynoldsIn(c.bore, c.eta, c.rho, flow.At(c.speed, c.bore))
		require.InDelta(t, c.reynolds, float64(re), 1e-9, c.source)
		require.Equal(t, flow.Laminar, re.Regime(), c.source)
	}
	require.Equal(t, flow.Laminar, flow.Reynolds(1999).Regime())
	require.Equal(t, flow.Transitional, flow.Reynolds(2300).Regime())
	require.Equal(t, flow.Turbulent, flow.Reynolds(4001).Regime())
}

// Blasius 1913: friction factor 0.3164 Re^-1/4, by hand at Re 10 000: 0.03164, so
// that a pipe of 10 mm and 1 m with water of 1e-3 Pa.s at 1 m/s loses 0.03164 x
// 100 x 500 = 1582 Pa. Below where it meets Poiseuille's law, Re (64 / 0.3164)^(4/3) =
// 1187, the loss is Poiseuille's.
func TestBlasius_TakesOverWhereItExceedsPoiseuille(t *testing.T) {
	t.Parallel()
	require.InDelta(t, 1582, float64(flow.Blasius(1000, 10, 1e-3, 1000, flow.At(1, 10))), 0.01)
	meet := math.Pow(64/0.3164, 4.0/3)
	require.InDelta(t, 1187, meet, 0.5)
	for re, turbulent := range map[float64]bool{0.99 * meet: false, 1.01 * meet: true} {
		q := flow.At(re*1e-3/(1000*0.010), 10)
		friction, all := flow.Friction(1000, 10, 1e-3, q), flow.Blasius(1000, 10, 1e-3, 1000, q)
		if turbulent {
			require.Greater(t, all, friction)
		} else {
			require.InEpsilon(t, float64(friction), float64(all), 1e-12)
		}
	}
}

// 300 mmHg is 39 996.6 Pa, 100 cm of water of 1000 kg/m3 9806.65 Pa (from memory).
func TestPressures_ConvertAsInAnyHandbook(t *testing.T) {
	t.Parallel()
	require.InDelta(t, 39996.6, float64(flow.MillimetreOfMercury(300).Pascal()), 0.01)
	require.InDelta(t, 9806.65, float64(flow.Under(100, 1000)), 1e-9)
}
