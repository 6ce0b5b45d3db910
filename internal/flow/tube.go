package flow

import "math"

// Reynolds is a Reynolds number: inertia over viscosity.
type Reynolds float64

// Regime is how orderly a flow is at its Reynolds number.
type Regime uint8

// The regimes. Textbooks put the ends of the transition at 2000 or 2300 and at
// 3000 or 4000; here it is taken as wide as any of them.
const (
	Laminar      Regime = iota + 1 // below 2000
	Transitional                   // to 4000
	Turbulent
)

// Regime of developed flow in a long straight tube.
func (r Reynolds) Regime() Regime {
	switch {
	case r < 2000:
		return Laminar
	case r <= 4000:
		return Transitional
	}
	return Turbulent
}

// liquid is what the equations need to know of a fluid at its temperature.
type liquid struct {
	viscosity PascalSecond
	density   KilogramsPerCubicMetre
}

// tube is a round pipe that a fluid enters from, and leaves into, a wider one.
type tube struct{ length, bore Millimetre }

// long is the length, in bores, from which a tube can run turbulent. In a
// cannula of 30 to 60 bores the layer at the wall stays laminar at the flows
// met here: on a flat plate it does until velocity x length / kinematic
// viscosity is 3e5 to 5e5 (Schlichting, Boundary-Layer Theory; from memory).
const long = 100

// reynolds is 4 rho Q / (pi D eta), Q in m3/s.
func (t tube) reynolds(q float64, l liquid) Reynolds {
	return Reynolds(4 * float64(l.density) * q / (math.Pi * t.bore.metres() * float64(l.viscosity)))
}

// drag is what a tube costs a liquid: the pressure lost at Q m3/s is
// max(laminar Q, turbulent Q^1.75) + kinetic Q^2, in Pa.
type drag struct{ laminar, turbulent, kinetic float64 }

// drag of the tube with the Hagenbach coefficient m. Laminar is Poiseuille's
// law, 128 eta L / (pi D^4); kinetic is 16 m rho / (pi^2 D^4). Turbulent, where
// the flow may be so, is Blasius 1913 for smooth pipes, friction factor 0.3164
// Re^-1/4. The two meet at Re 1187: a giving set with its clamp and joints is
// taken to be disturbed from there, where a straight pipe would stay laminar to
// 2000 and more, so that friction never falls as viscosity rises.
func (t tube) drag(l liquid, m float64, disturbed bool) drag {
	bore, eta, rho := t.bore.metres(), float64(l.viscosity), float64(l.density)
	fourth := bore * bore * bore * bore
	d := drag{
		laminar: 128 * eta * t.length.metres() / (math.Pi * fourth),
		kinetic: 16 * m * rho / (math.Pi * math.Pi * fourth),
	}
	if disturbed {
		friction := 0.3164 * math.Pow(math.Pi*bore*eta/(4*rho), 0.25)
		d.turbulent = friction * t.length.metres() / bore * 8 * rho / (math.Pi * math.Pi * fourth)
	}
	return d
}

// at is the tube's drag at a bound: at the lower one even a short tube may run turbulent.
func (t tube) at(l liquid, b bound) drag {
	return t.drag(l, hagenbach[b], b == lower || t.length > long*t.bore)
}

// loss is the pressure lost at a flow in m3/s, and how steeply it rises there.
func (d drag) loss(q float64) (pressure, slope float64) {
	pressure, slope = d.laminar*q, d.laminar
	if d.turbulent > 0 {
		if turbulent := d.turbulent * q * math.Sqrt(q*math.Sqrt(q)); turbulent > pressure {
			pressure, slope = turbulent, 1.75*turbulent/q
		}
	}
	return pressure + d.kinetic*q*q, slope + 2*d.kinetic*q
}

// series is parts one after the other: all carry the same flow, their losses add up.
type series []drag

func (s series) loss(q float64) (pressure, slope float64) {
	for _, d := range s {
		p, k := d.loss(q)
		pressure += p
		slope += k
	}
	return pressure, slope
}

// poiseuille is the flow by friction of the laminar kind alone.
func (s series) poiseuille(p Pascal) float64 {
	var a float64
	for _, d := range s {
		a += d.laminar
	}
	return float64(p) / a
}

// flow is the m3/s at which the losses use up the pressure.
func (s series) flow(p Pascal) float64 {
	var all drag
	for _, d := range s {
		all.laminar += d.laminar
		all.kinetic += d.kinetic
	}
	// Without turbulence it is a quadratic, solved in the form that does not cancel.
	q := 2 * float64(p) / (all.laminar + math.Sqrt(all.laminar*all.laminar+4*all.kinetic*float64(p)))
	// With it the flow is less. The loss is convex, so Newton comes down to it from there.
	for range 50 {
		loss, slope := s.loss(q)
		step := (loss - float64(p)) / slope
		q -= step
		if step <= 1e-13*q {
			break
		}
	}
	return q
}
