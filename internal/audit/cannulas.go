package audit

import (
	"math"
	"strconv"

	"dwellbook/internal/flow"
	"dwellbook/internal/line"
)

// unusual is the lengths of the gauges that have no usual cannula (from memory).
var unusual = map[line.Gauge]flow.Millimetre{17: 45, 26: 19}

// ratedSettings are the flows in mL/min printed on the hospital's packs, by gauge.
func ratedSettings() []setting {
	var list []setting
	for _, g := range line.Gauges {
		least, most, err := flow.RatedRange(flow.Size{Gauge: flow.Gauge(g), Length: unusual[g]})
		if err != nil {
			panic(err) // no length for one of line.Gauges: a fault of the build
		}
		list = append(list, optionalDecimal("rated_flow."+strconv.Itoa(int(g)),
			func(v *values) *float64 { return &v.rated[g] }, math.Ceil(float64(least)), math.Floor(float64(most))))
	}
	return list
}

// cannulas are those of the packs, usual ones where nothing is said of them.
func (v *values) cannulas() []flow.Cannula {
	var list []flow.Cannula
	for _, g := range line.Gauges {
		size := flow.Size{Gauge: flow.Gauge(g), Length: unusual[g], Rated: flow.MillilitresPerMinute(v.rated[g])}
		if c, err := flow.NewCannula(size); err == nil { // else its bore is not known
			list = append(list, c)
		}
	}
	return list
}

// Cannulas are the hospital's, widest first: as its packs say where the policy
// tells, else the usual ones. A gauge of which neither is known is left out.
func (p *Policy) Cannulas() []flow.Cannula { return p.cannulas }
