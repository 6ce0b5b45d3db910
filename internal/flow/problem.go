package flow

import (
	"fmt"
	"strings"
)

// Quantity names what a person entered, for the errors about it.
type Quantity string

// The quantities that can be out of range or not known.
const (
	Temperature  Quantity = "temperature" // °C
	Head         Quantity = "head"        // cm
	BagPressure  Quantity = "pressure"    // mmHg
	VeinPressure Quantity = "vein"        // mmHg
	Length       Quantity = "length"      // mm
	Bore         Quantity = "bore"        // mm
	Rated        Quantity = "rated"       // mL/min
	Required     Quantity = "need"        // mL/min
	Injected     Quantity = "injected"    // mL/min, by a power injector
)

// limit is the values a quantity may have, both ends included.
type limit struct{ least, most float64 }

// narrowest and widest are the bores that a peripheral cannula may have.
const narrowest, widest Millimetre = 0.2, 2.2

var limits = map[Quantity]limit{
	Temperature:  {2, 42}, // from the blood refrigerator to the warmer
	Head:         {0, 300},
	BagPressure:  {0, 300}, // where pressure infusers stop
	VeinPressure: {0, 60},
	Length:       {5, 60}, // a short peripheral cannula
	Bore:         {float64(narrowest), float64(widest)},
	Required:     {0, 2000},
}

// OutOfRange says that a value cannot be, or lies beyond what the model takes.
type OutOfRange struct {
	Quantity           Quantity
	Value, Least, Most float64 // in the quantity's unit
}

func (e *OutOfRange) Error() string {
	return fmt.Sprintf("%s %v is outside %v to %v", e.Quantity, e.Value, e.Least, e.Most)
}

// Check refuses a value beyond the quantity's limits; the error is an *OutOfRange.
func (q Quantity) Check(value float64) error { return check(q, value) }

// Limits are the values the quantity may have, both ends included; none for one
// that is not typed.
func (q Quantity) Limits() (least, most float64) { return limits[q].least, limits[q].most }

// check refuses a value beyond the quantity's limits, and one that is no number.
func check[N ~float64](q Quantity, value N) error {
	l := limits[q]
	if v := float64(value); !(v >= l.least && v <= l.most) {
		return &OutOfRange{Quantity: q, Value: v, Least: l.least, Most: l.most}
	}
	return nil
}

// NotKnown says that the table has no such figure for the gauge: it must be
// given, or for the bore the rated flow printed on the pack.
type NotKnown struct {
	Gauge    Gauge
	Quantity Quantity // Length, Bore or Injected
}

func (e *NotKnown) Error() string {
	return fmt.Sprintf("the %s of a %dG is not known", e.Quantity, e.Gauge)
}

// TooFast says that a part would run at a Reynolds number beyond those of the
// published measurements the model has been compared with.
type TooFast struct {
	Part           Part
	Reynolds, Most Reynolds
}

func (e *TooFast) Error() string {
	return fmt.Sprintf("Reynolds number %.0f in the %s is beyond %.0f", float64(e.Reynolds), e.Part, float64(e.Most))
}

// NoFlow says that the drive does not exceed the pressure in the vein.
type NoFlow struct{ Drive, Vein Pascal }

func (e *NoFlow) Error() string {
	return fmt.Sprintf("a drive of %.0f Pa does not exceed the %.0f Pa in the vein", float64(e.Drive), float64(e.Vein))
}

// UnknownWord says that a word names nothing here.
type UnknownWord struct {
	What, Word string
	Allowed    []string
}

func (e *UnknownWord) Error() string {
	return fmt.Sprintf("%q is no %s; allowed: %s", e.Word, e.What, strings.Join(e.Allowed, ", "))
}
