package flow

import (
	"math"
	"slices"
)

// Fluid is what runs.
type Fluid uint8

// The fluids.
const (
	Water    Fluid = iota + 1
	Saline         // sodium chloride 0.9 %
	Balanced       // balanced crystalloid
	Gelatin        // succinylated gelatin 4 %
	Plasma
	Blood    // whole blood
	RedCells // in additive solution, packed to 55 to 60 %
)

// Fluids lists all.
var Fluids = []Fluid{Water, Saline, Balanced, Gelatin, Plasma, Blood, RedCells}

var fluidWords = []string{"", "water", "saline", "balanced", "gelatin", "plasma", "blood", "red-cells"}

// String is the fluid's word in commands and JSON.
func (f Fluid) String() string { return word(fluidWords, f) }

// ParseFluid reads a fluid's word; the error is an *UnknownWord.
func ParseFluid(s string) (Fluid, error) { return parse[Fluid](fluidWords, "fluid", s) }

func word[W ~uint8](words []string, w W) string {
	if int(w) < len(words) {
		return words[w]
	}
	return ""
}

func parse[W ~uint8](words []string, what, s string) (W, error) {
	if k := slices.Index(words, s); k > 0 {
		return W(k), nil
	}
	return 0, &UnknownWord{What: what, Word: s, Allowed: words[1:]}
}

// Source is where a figure comes from. One that is remembered is to be
// confirmed against its source.
type Source struct {
	Name       string
	Remembered bool
}

// property is a fluid against water of the same temperature. The ratios hardly
// change with it: 1.806 and 1.818 for the viscosity of plasma at 20 and 37 °C,
// 3.009 and 3.015 for blood (OpenStax University Physics). A single viscosity is
// an approximation for blood, which thins with shear; in a cannula shear is high.
type property struct {
	viscosity       spread
	viscositySource Source
	density         float64
	densitySource   Source
}

// The ends of the spreads of saline to plasma are from memory.
var properties = map[Fluid]property{
	Water: {
		spread{1, 1, 1}, Source{"2.414e-5 x 10^(247.8/(T - 140)) Pa.s, T in kelvin; within 0.7 % of the International Critical Tables", false},
		1, Source{"McCutcheon, Martin and Barnwell 1993; within 0.01 % of the International Critical Tables", true},
	},
	Saline: {
		spread{1.025, 1.0146, 1.005}, Source{"Jones and Dole's equation at 0.154 mol/L", true},
		1.0068, Source{"1.0046 g/mL at 22 °C, from a collection of properties of saline", false},
	},
	Balanced: {
		spread{1.06, 1.02, 1.00}, Source{"near saline", true},
		1.007, Source{"near saline", true},
	},
	Gelatin: {
		spread{2.3, 1.9, 1.6}, Source{"makers' data sheets", true},
		1.018, Source{"makers' data sheets", true},
	},
	Plasma: {
		spread{1.9, 1.81, 1.7}, Source{"OpenStax University Physics", false},
		1.027, Source{"textbooks: 1.025 g/mL", true},
	},
	Blood: {
		spread{5.8, 4.3, 3.0}, Source{"3 to 4 mPa.s at 37 °C, textbooks; at the thin end OpenStax University Physics, 2.08", true},
		1.067, Source{"1.06 g/mL at 37 °C, textbooks", true},
	},
	RedCells: {
		spread{10, 8, 6}, Source{"6 to 10 mPa.s at 20 °C", true},
		1.077, Source{"1.07 to 1.08 g/mL", true},
	},
}

// ViscositySource is where the fluid's viscosity comes from.
func (f Fluid) ViscositySource() Source { return properties[f].viscositySource }

// DensitySource is where the fluid's density comes from.
func (f Fluid) DensitySource() Source { return properties[f].densitySource }

// Viscosity is the dynamic viscosity at a temperature, and how far it may be
// off: lowest, likely and highest.
func (f Fluid) Viscosity(t Celsius) (least, likely, most PascalSecond) {
	return f.at(t, upper).viscosity, f.at(t, nominal).viscosity, f.at(t, lower).viscosity
}

// Density is the density at a temperature.
func (f Fluid) Density(t Celsius) KilogramsPerCubicMetre { return f.at(t, nominal).density }

func (f Fluid) at(t Celsius, b bound) liquid {
	p := properties[f]
	return liquid{
		viscosity: PascalSecond(p.viscosity[b] * 2.414e-5 * math.Pow(10, 247.8/(float64(t)+273.15-140))),
		density:   KilogramsPerCubicMetre(p.density * densityOfWater(float64(t))),
	}
}

// densityOfWater is in kg/m3.
func densityOfWater(t float64) float64 {
	return 1000 * (1 - (t+288.9414)*(t-3.9863)*(t-3.9863)/(508929.2*(t+68.12963)))
}
