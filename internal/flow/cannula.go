package flow

import "slices"

// Gauge is a cannula's size on the gauge scale: the larger, the thinner.
type Gauge uint8

// Size is what is known of a cannula. What is 0 is taken from the table of the
// usual ones.
type Size struct {
	Gauge  Gauge
	Length Millimetre
	Bore   Millimetre           // the inner diameter
	Rated  MillilitresPerMinute // as printed on the pack; it goes before a bore
}

// Cannula is a size whose length and bore are known.
type Cannula struct {
	gauge Gauge
	Fitting
}

// Gauge of the cannula.
func (c Cannula) Gauge() Gauge { return c.gauge }

// usual is the cannulas as they come where a hospital has not said what it has,
// widest first. The lengths are those of Reddick, Ronald and Morrison, Emerg
// Med J 2011;28:201-2 (read at second hand), the 24G's from memory; the bores'
// spreads are from memory. There is no 17G or 26G for want of a bore.
var usual = []Cannula{
	{14, Fitting{CannulaPart, 50, spread{1.47, 1.55, 1.73}, Source{"abstract 3AP8-8, June 2007: 1.55 mm, the widest of 14G to 20G", false}}},
	{16, Fitting{CannulaPart, 50, spread{1.23, 1.30, 1.37}, Source{"Gray, Aust Prescr 1995: one make", false}}},
	{18, Fitting{CannulaPart, 45, spread{0.90, 0.95, 1.00}, Source{"Gray, Aust Prescr 1995: one make", false}}},
	{20, Fitting{CannulaPart, 33, spread{0.71, 0.75, 0.80}, Source{"abstract 3AP8-8, June 2007: 0.75 mm, the narrowest of 14G to 20G", false}}},
	{22, Fitting{CannulaPart, 25, spread{0.57, 0.60, 0.63}, soldAs}},
	{24, Fitting{CannulaPart, 19, spread{0.45, 0.47, 0.50}, soldAs}},
}

var soldAs = Source{"typical bores of what is sold", true}

// madeWithin is how far a bore may be off what it is said to be, as a share
// (from memory: walls differ between makers).
const madeWithin = 0.05

// ratedWithin is how far a cannula may be off the flow on its pack, as a share.
// ISO 10555-1 asks for nine tenths of it at least, for eight where the outside is
// under 1 mm, which is 22G and thinner (from memory); as much above is taken.
func ratedWithin(g Gauge) float64 {
	if g >= 22 {
		return 0.2
	}
	return 0.1
}

// UsualCannulas are those of the table, widest first.
func UsualCannulas() []Cannula { return slices.Clone(usual) }

// NewCannula completes a size from the table. Where the flow on the pack is
// given, the bore is the one that the model needs to give it back.
// Errors: *NotKnown, *OutOfRange.
func NewCannula(s Size) (Cannula, error) {
	c, err := usualOf(s)
	if err != nil {
		return Cannula{}, err
	}
	switch {
	case s.Rated != 0:
		least, most := ratedRange(c)
		if !(s.Rated >= least && s.Rated <= most) {
			return Cannula{}, &OutOfRange{Quantity: Rated, Value: float64(s.Rated), Least: float64(least), Most: float64(most)}
		}
		for b, rated := range about(float64(s.Rated), ratedWithin(s.Gauge)) {
			c.bore[b] = float64(boreOf(c.length, MillilitresPerMinute(rated)))
		}
		c.source = Source{Name: "the flow on the pack"}
	case s.Bore != 0:
		if err := check(Bore, s.Bore); err != nil {
			return Cannula{}, err
		}
		c.bore = about(float64(s.Bore), madeWithin)
		c.source = Source{Name: "the bore as given"}
	case c.bore[nominal] == 0:
		return Cannula{}, &NotKnown{Gauge: s.Gauge, Quantity: Bore}
	}
	return c, nil
}

// usualOf is the usual cannula of the size's gauge, with the size's length.
func usualOf(s Size) (Cannula, error) {
	c := Cannula{s.Gauge, Fitting{part: CannulaPart}}
	for _, u := range usual {
		if u.gauge == s.Gauge {
			c = u
		}
	}
	if s.Length != 0 {
		c.length = s.Length
	}
	if c.length == 0 {
		return Cannula{}, &NotKnown{Gauge: s.Gauge, Quantity: Length}
	}
	return c, check(Length, c.length)
}

// RatedRange is the flows that can stand on the pack of a cannula of the size's
// gauge and length. Errors: *NotKnown, *OutOfRange.
func RatedRange(s Size) (least, most MillilitresPerMinute, err error) {
	c, err := usualOf(s)
	if err != nil {
		return 0, 0, err
	}
	least, most = ratedRange(c)
	return least, most, nil
}

func ratedRange(c Cannula) (least, most MillilitresPerMinute) {
	within := ratedWithin(c.gauge)
	return standardFlow(tube{c.length, narrowest}) / MillilitresPerMinute(1-within), standardFlow(tube{c.length, widest}) / MillilitresPerMinute(1+within)
}

// StandardTest is the bench test behind the flow on a pack: water at 22 °C,
// 1000 mm of it, all across the bare cannula (ISO 10555-1 annex E and 10555-3
// annex A; the head from memory). That the bench itself takes some of the head
// is left out.
func StandardTest() Conditions { return Conditions{Fluid: Water, Temperature: 22, Head: 100} }

// standardFlow is what a tube lets through in the standard test.
func standardFlow(t tube) MillilitresPerMinute {
	test := StandardTest()
	water := test.Fluid.at(test.Temperature, nominal)
	return perMinute(series{t.at(water, nominal)}.flow(test.Head.under(water)))
}

// boreOf is the bore that lets the rated flow through in the standard test.
func boreOf(length Millimetre, rated MillilitresPerMinute) Millimetre {
	narrow, wide := narrowest, widest
	for range 60 {
		if middle := (narrow + wide) / 2; standardFlow(tube{length, middle}) < rated {
			narrow = middle
		} else {
			wide = middle
		}
	}
	return (narrow + wide) / 2
}
