package flow

import (
	"math"
	"time"
)

// MostReynolds is the highest Reynolds number in a cannula at which the model
// has been compared with a published flow: a 14G at 800 mL/min.
const MostReynolds Reynolds = 12000

// Answer is how fast a fluid runs, under its conditions.
type Answer struct {
	Cannula    Cannula
	Conditions Conditions
	// Flow is the likely one; Lower has every part as narrow and the fluid as
	// viscous as they come, Upper the opposite.
	Flow, Lower, Upper MillilitresPerMinute
	// FourthPower is what Poiseuille's law alone would say of the same path.
	FourthPower MillilitresPerMinute
	Parts       []Loss // in the order the fluid meets them
}

// Loss is what a part takes at the likely flow.
type Loss struct {
	Part     Part
	Share    float64  // of the whole drive, 0 to 1; all add up to 1
	Reynolds Reynolds // 0 for the vein
}

// Through is how fast the fluid runs through a cannula.
// Errors: *OutOfRange, *UnknownWord, *NotKnown (a zero cannula), *NoFlow, *TooFast.
func Through(c Cannula, with Conditions) (Answer, error) {
	if c.bore[nominal] == 0 {
		return Answer{}, &NotKnown{Gauge: c.gauge, Quantity: Bore}
	}
	if err := with.check(); err != nil {
		return Answer{}, err
	}
	l := with.Fluid.at(with.Temperature, nominal)
	vein, drive := with.Vein.Pascal(), with.Bag.Pascal()+with.Head.under(l)
	left := drive - vein
	if left <= 0 {
		return Answer{}, &NoFlow{Drive: drive, Vein: vein}
	}
	parts := append(with.Fittings(), c.Fitting)
	likely := resist(parts, l, nominal)
	q := likely.flow(left)

	a := Answer{Cannula: c, Conditions: with, Flow: perMinute(q), FourthPower: perMinute(likely.poiseuille(left))}
	for k, p := range parts {
		re := p.tube(nominal).reynolds(q, l)
		if re > MostReynolds {
			return Answer{}, &TooFast{Part: p.part, Reynolds: re, Most: MostReynolds}
		}
		loss, _ := likely[k].loss(q)
		a.Parts = append(a.Parts, Loss{Part: p.part, Share: loss / float64(drive), Reynolds: re})
	}
	if vein > 0 {
		a.Parts = append(a.Parts, Loss{Part: VeinPart, Share: float64(vein / drive)})
	}
	end := func(b bound) MillilitresPerMinute {
		return perMinute(resist(parts, with.Fluid.at(with.Temperature, b), b).flow(left))
	}
	a.Lower, a.Upper = end(lower), end(upper)
	return a, nil
}

// Row is the answer about one cannula of a table, or why there is none.
type Row struct {
	Cannula Cannula
	Answer  Answer
	Err     error
}

// Table asks about each cannula under the same conditions.
func Table(cannulas []Cannula, with Conditions) []Row {
	rows := make([]Row, len(cannulas))
	for k, c := range cannulas {
		answer, err := Through(c, with)
		rows[k] = Row{Cannula: c, Answer: answer, Err: err}
	}
	return rows
}

// Limits is the part that takes the largest share of the drive.
func (a Answer) Limits() Part {
	most := a.Parts[0]
	for _, p := range a.Parts {
		if p.Share > most.Share {
			most = p
		}
	}
	return most.Part
}

// Reynolds is the largest of the parts.
func (a Answer) Reynolds() Reynolds {
	var most Reynolds
	for _, p := range a.Parts {
		most = max(most, p.Reynolds)
	}
	return most
}

// Rounded has flows of two digits, the range rounded outwards: a third digit
// would claim more than is known.
func (a Answer) Rounded() Answer {
	a.Flow, a.FourthPower = a.Flow.two(math.Round), a.FourthPower.two(math.Round)
	a.Lower, a.Upper = a.Lower.two(math.Floor), a.Upper.two(math.Ceil)
	return a
}

// Time is how long a volume takes: likely, at the soonest and at the latest.
func (a Answer) Time(v Millilitre) (likely, soonest, latest time.Duration) {
	return a.Flow.time(v), a.Upper.time(v), a.Lower.time(v)
}
