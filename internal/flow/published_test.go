package flow_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/flow"
)

// published reads a table of measured flows, each row by its columns' names.
func published(t *testing.T, name string) []map[string]string {
	t.Helper()
	file, err := os.Open("../../testdata/published/flow/" + name)
	require.NoError(t, err)
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1)
	rows := make([]map[string]string, len(lines)-1)
	for k, line := range lines[1:] {
		rows[k] = map[string]string{}
		for c, column := range lines[0] {
			rows[k][column] = line[c]
		}
	}
	return rows
}

func number(t *testing.T, row map[string]string, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[column], 64)
	require.NoError(t, err, "%s of %v", column, row)
	return v
}

// cannula is the row's; without a bore it is the usual of its gauge.
func cannula(t *testing.T, row map[string]string) flow.Cannula {
	t.Helper()
	s := flow.Size{Gauge: flow.Gauge(number(t, row, "gauge"))}
	if row["length_mm"] != "" {
		s.Length = flow.Millimetre(number(t, row, "length_mm"))
	}
	if row["bore_mm"] != "" {
		s.Bore = flow.Millimetre(number(t, row, "bore_mm"))
	}
	c, err := flow.NewCannula(s)
	require.NoError(t, err)
	return c
}

func usual(t *testing.T, g flow.Gauge) flow.Cannula {
	t.Helper()
	c, err := flow.NewCannula(flow.Size{Gauge: g})
	require.NoError(t, err)
	return c
}

func through(t require.TestingT, c flow.Cannula, with flow.Conditions) flow.Answer {
	a, err := flow.Through(c, with)
	require.NoError(t, err)
	return a
}

// bySaline is a drip: saline at room temperature from 100 cm through a standard set.
func bySaline() flow.Conditions {
	return flow.Conditions{Fluid: flow.Saline, Temperature: 22, Head: 100, Tubing: flow.StandardTubing}
}

func TestBareCannula_AgreesWithTheStandardTest(t *testing.T) {
	t.Parallel()
	for _, row := range published(t, "standard_test.csv") {
		a := through(t, cannula(t, row), flow.StandardTest())
		bore := number(t, row, "bore_mm")
		say := fmt.Sprintf("%sG of %v mm", row["gauge"], bore)
		// The table's figures are printed to one decimal, or to four digits.
		require.InDelta(t, number(t, row, "model_ml_per_min"), float64(a.Flow), 0.06, say)
		require.InEpsilon(t, number(t, row, "poiseuille_ml_per_min"), float64(a.FourthPower), 1.5e-3, say)
		require.InDelta(t, number(t, row, "reynolds"), float64(a.Reynolds()), 1, say)
		// The fit to what packs say: 113.3 x bore^2.21.
		fit := 113.3 * math.Pow(bore, 2.21)
		require.InDelta(t, number(t, row, "fit_ml_per_min"), fit, 0.06, say)
		require.InEpsilon(t, fit, float64(a.Flow), 0.05, say)
		require.True(t, a.Lower < flow.MillilitresPerMinute(fit) && flow.MillilitresPerMinute(fit) < a.Upper, say)
	}
	// The table's cannulas, too, whose longer 16G and 14G differ from those above.
	for _, c := range flow.UsualCannulas() {
		_, bore, _ := c.Bore()
		require.InEpsilon(t, 113.3*math.Pow(float64(bore), 2.21), float64(through(t, c, flow.StandardTest()).Flow), 0.05, "%dG", c.Gauge())
	}
}

// The exponents that abstract 3AP8-8, June 2007, found: 2.21 (SE 0.05) in the
// bore, and 0.62 in the pressure, far from Poiseuille's 4 and 1; and by how much
// that law reads too much, twice at 24G to six times at 14G (worked out apart).
func TestBareCannula_IsFarFromTheFourthPowerLaw(t *testing.T) {
	t.Parallel()
	thin, wide := usual(t, 20), usual(t, 14)
	_, narrow, _ := thin.Bore()
	_, broad, _ := wide.Bore()
	a, b := through(t, thin, flow.StandardTest()), through(t, wide, flow.StandardTest())
	inBore := math.Log(float64(b.Flow/a.Flow)) / math.Log(float64(broad/narrow))
	require.InDelta(t, 2.21, inBore, 2*0.05)
	require.InDelta(t, 2, float64(through(t, usual(t, 24), flow.StandardTest()).FourthPower/through(t, usual(t, 24), flow.StandardTest()).Flow), 0.3)
	require.InDelta(t, 6, float64(b.FourthPower/b.Flow), 0.5)

	twice := flow.StandardTest()
	twice.Head = 200
	inPressure := math.Log2(float64(through(t, thin, twice).Flow / a.Flow))
	require.InDelta(t, 0.62, inPressure, 0.03)
}

// A 20G in a vein model, 2.87 x P^0.62 (abstract 3AP8-8, June 2007). The bare
// cannula reads 10 to 20 % high, with a set in the path the answer is nearer and
// the measured flow lies in its range.
func Test20G_FollowsTheMeasuredPressureLaw(t *testing.T) {
	t.Parallel()
	c := usual(t, 20)
	for _, row := range published(t, "pressure_law.csv") {
		head := flow.Centimetre(number(t, row, "cm_water"))
		measured := number(t, row, "measured_ml_per_min")
		require.InDelta(t, 2.87*math.Pow(float64(head), 0.62), measured, 0.06)

		bare := flow.Conditions{Fluid: flow.Water, Temperature: 22, Head: head}
		require.InDelta(t, number(t, row, "bare_model_ml_per_min"), float64(through(t, c, bare).Flow), 0.15, "%v cm", head)
		inPath := bare
		inPath.Tubing = flow.StandardTubing
		a := through(t, c, inPath)
		require.InEpsilon(t, measured, float64(a.Flow), 0.15, "%v cm", head)
		require.True(t, float64(a.Lower) <= measured && measured <= float64(a.Upper), "%v cm: %v in %v to %v", head, measured, a.Lower, a.Upper)
	}
}

// Flow in the vein model over the flow on the pack at 100 cm of water: 0.83 (SD
// 0.06) for the narrowest bore, 0.72 (SD 0.04) for the widest (abstract 3AP8-8,
// June 2007). The vein's pressure there is not stated; 8 mmHg is taken.
func TestSetAndVein_TakeAsMuchAsInTheVeinModel(t *testing.T) {
	t.Parallel()
	inVein := flow.Conditions{Fluid: flow.Water, Temperature: 22, Head: 100, Vein: 8, Tubing: flow.StandardTubing}
	for g, c := range map[flow.Gauge]struct{ ratio, sd float64 }{20: {0.83, 0.06}, 14: {0.72, 0.04}} {
		_, bore, _ := usual(t, g).Bore()
		quoted := 113.3 * math.Pow(float64(bore), 2.21)
		require.InDelta(t, c.ratio, float64(through(t, usual(t, g), inVein).Flow)/quoted, c.sd, "%dG", g)
	}
}

// drip is what saline runs under in the published tables, by gravity or from a
// bag; whether a bag hung high as well is not stated.
func drip(bag float64, hung bool) flow.Conditions {
	c := bySaline()
	c.Bag = flow.MillimetreOfMercury(bag)
	if bag > 0 && !hung {
		c.Head = 0
	}
	return c
}

// spans is the range with set and hanging not known: from the lower end through
// a standard set to the upper end through a wide one.
func spans(t *testing.T, c flow.Cannula, bag float64) (least, most float64) {
	t.Helper()
	wide := drip(bag, true)
	wide.Tubing = flow.WideTubing
	return float64(through(t, c, drip(bag, false)).Lower), float64(through(t, c, wide).Upper)
}

func TestSaline_LiesInThePublishedSpread(t *testing.T) {
	t.Parallel()
	type drive struct {
		gauge  flow.Gauge
		length string
		bag    float64
	}
	low, high := map[drive]float64{}, map[drive]float64{}
	for _, row := range published(t, "saline.csv") {
		require.NotEmpty(t, row["source"])
		c, bag := cannula(t, row), number(t, row, "bag_mmhg")
		measured := number(t, row, "ml_per_min")
		least, most := spans(t, c, bag)
		inside := least <= measured && measured <= most
		require.Equal(t, row["inside"] == "yes", inside, "%sG at %v mmHg: %v in %.0f to %.0f: %s", row["gauge"], bag, measured, least, most, row["source"])
		if inside {
			d := drive{c.Gauge(), row["length_mm"], bag}
			if low[d] == 0 {
				low[d] = measured
			}
			low[d], high[d] = min(low[d], measured), max(high[d], measured)
		}
	}
	// And where several have measured one cannula, the likely flow through a set
	// that is not known lies among theirs, give or take a tenth.
	several := 0
	for d := range low {
		if low[d] == high[d] {
			continue
		}
		several++
		c := cannula(t, map[string]string{"gauge": strconv.Itoa(int(d.gauge)), "length_mm": d.length})
		a := float64(through(t, c, drip(d.bag, false)).Flow)
		require.True(t, 0.9*low[d] <= a && a <= 1.1*high[d], "%+v: %v among %v to %v", d, a, low[d], high[d])
	}
	require.Equal(t, 7, several)
}

// Common practice, no source: 42, 67 and 236 mL/min for 22G, 20G and 16G. They
// are flows as on packs, and the bare cannula's range has them, up to rounding.
func TestBareCannula_HasTheFlowsThatAreTaught(t *testing.T) {
	t.Parallel()
	for g, taught := range map[flow.Gauge]float64{22: 42, 20: 67, 16: 236} {
		a := through(t, usual(t, g), flow.StandardTest())
		require.True(t, float64(a.Lower) <= taught && taught <= float64(a.Upper), "%dG: %v to %v", g, a.Lower, a.Upper)
	}
}

// taken is the share of the flow that a connector takes, at one end of the range or likely.
func taken(t *testing.T, c flow.Cannula, without flow.Conditions, end func(flow.Answer) flow.MillilitresPerMinute) float64 {
	t.Helper()
	with := without
	with.Connector = true
	return 1 - float64(end(through(t, c, with))/end(through(t, c, without)))
}

func lowest(a flow.Answer) flow.MillilitresPerMinute  { return a.Lower }
func likely(a flow.Answer) flow.MillilitresPerMinute  { return a.Flow }
func highest(a flow.Answer) flow.MillilitresPerMinute { return a.Upper }

func TestConnector_TakesWhatHasBeenMeasured(t *testing.T) {
	t.Parallel()
	for _, row := range published(t, "connectors.csv") {
		require.NotEmpty(t, row["source"])
		c, bag, loss := cannula(t, row), number(t, row, "bag_mmhg"), number(t, row, "loss")
		wide := drip(bag, true)
		wide.Tubing = flow.WideTubing
		least, most := taken(t, c, drip(bag, true), highest), taken(t, c, wide, lowest)
		require.Equal(t, row["inside"] == "yes", least <= loss && loss <= most, "%sG at %v mmHg: %v in %.2f to %.2f: %s", row["gauge"], bag, loss, least, most, row["source"])
	}
	// The likely connector is that of Khoyratty et al. 2016: 36 % (29 to 46) of a
	// 14G's flow by gravity, and nothing significant of cannulas thinner than 16G.
	got := taken(t, usual(t, 14), bySaline(), likely)
	require.True(t, 0.29 < got && got < 0.46, "%v", got)
	for g, most := range map[flow.Gauge]float64{18: 0.15, 20: 0.10, 22: 0.05} {
		require.Less(t, taken(t, usual(t, g), bySaline(), likely), most, "%dG", g)
	}
	// Common practice, no source: a connector or Y-piece brings a 16G down to about a 20G.
	with := bySaline()
	with.Connector = true
	require.Less(t, through(t, usual(t, 16), with).Lower, through(t, usual(t, 20), bySaline()).Upper)
}

// Iserson et al., West J Med 1985: wide tubing gains most with a wide device, and
// the gain shrinks with thinner cannulas.
func TestWideTubing_GainsLessTheThinnerTheCannula(t *testing.T) {
	t.Parallel()
	with := bySaline()
	with.Tubing = flow.WideTubing
	before := math.Inf(1)
	for _, c := range flow.UsualCannulas() { // widest first
		gain := float64(through(t, c, with).Flow / through(t, c, bySaline()).Flow)
		require.True(t, 1 < gain && gain < before, "%dG: %v after %v", c.Gauge(), gain, before)
		before = gain
	}
}

// Stoneham, Br J Anaesth 1995;75:361-5: a bag at 300 mmHg gives a 14G twice its
// flow by gravity, and about 600 mL/min with a wide cannula.
func TestPressureBag_DoublesTheFlow(t *testing.T) {
	t.Parallel()
	pressed := bySaline()
	pressed.Bag = 300
	a, drip := through(t, usual(t, 14), pressed), through(t, usual(t, 14), bySaline())
	require.InDelta(t, 2, float64(a.Flow/drip.Flow), 0.5)
	require.True(t, a.Lower < 600 && 600 < a.Upper, "%v to %v", a.Lower, a.Upper)
}

// An 18G gave 0.6 mL/min for each mmHg with red cells and plasma in equal parts
// (Henry Ford Hospital, anaesthesiology articles 104): 180 mL/min at 300 mmHg. And a
// mixture of blood and plasma ran 25 % slower than saline through an 18G, 22 %
// through a 16G, 35 % through a 14G (Sjoquist et al. 2024).
func TestBlood_RunsAsMeasured(t *testing.T) {
	t.Parallel()
	pressed := bySaline()
	pressed.Bag, pressed.Head = 300, 0
	blood, plasma := pressed, pressed
	blood.Fluid, plasma.Fluid = flow.Blood, flow.Plasma
	a := through(t, usual(t, 18), blood)
	require.True(t, a.Lower < 180 && 180 < a.Upper, "%v to %v", a.Lower, a.Upper)
	for g, loss := range map[flow.Gauge]float64{18: 0.25, 16: 0.22, 14: 0.35} {
		c := usual(t, g)
		saline := float64(through(t, c, pressed).Flow)
		thin := 1 - float64(through(t, c, plasma).Upper)/saline
		thick := 1 - float64(through(t, c, blood).Lower)/saline
		require.True(t, thin < loss && loss < thick, "%dG: %v in %v to %v", g, loss, thin, thick)
	}
}

// McPherson et al., Anesth Analg 2009;108:1198-202: balanced crystalloid runs
// faster than gelatin, and every cannula below its rated flow in a vein model.
func TestFluids_StandInTheMeasuredOrder(t *testing.T) {
	t.Parallel()
	for _, c := range flow.UsualCannulas() {
		balanced, gelatin := bySaline(), bySaline()
		balanced.Fluid, gelatin.Fluid = flow.Balanced, flow.Gelatin
		require.Greater(t, through(t, c, balanced).Flow, through(t, c, gelatin).Flow)
		require.Less(t, through(t, c, balanced).Flow, through(t, c, flow.StandardTest()).Flow)
	}
}
