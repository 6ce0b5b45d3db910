package flow

import "math"

// The equations alone, for worked examples that give their own liquid.

// Friction is Poiseuille's pressure loss in a tube.
func Friction(length, bore Millimetre, eta PascalSecond, q MillilitresPerMinute) Pascal {
	d := tube{length, bore}.drag(liquid{viscosity: eta, density: 1000}, 1, false)
	return Pascal(d.laminar * q.cubicMetresPerSecond())
}

// Kinetic is the pressure that leaves a tube as kinetic energy, with the coefficient m.
func Kinetic(bore Millimetre, rho KilogramsPerCubicMetre, q MillilitresPerMinute, m float64) Pascal {
	d := tube{1, bore}.drag(liquid{viscosity: 1e-3, density: rho}, m, false)
	return Pascal(d.kinetic * math.Pow(q.cubicMetresPerSecond(), 2))
}

// Blasius is the loss in a tube that runs turbulent, without the kinetic energy.
func Blasius(length, bore Millimetre, eta PascalSecond, rho KilogramsPerCubicMetre, q MillilitresPerMinute) Pascal {
	d := tube{length, bore}.drag(liquid{viscosity: eta, density: rho}, 0, true)
	p, _ := d.loss(q.cubicMetresPerSecond())
	return Pascal(p)
}

// ReynoldsIn is the Reynolds number in a tube.
func ReynoldsIn(bore Millimetre, eta PascalSecond, rho KilogramsPerCubicMetre, q MillilitresPerMinute) Reynolds {
	return tube{1, bore}.reynolds(q.cubicMetresPerSecond(), liquid{viscosity: eta, density: rho})
}

// At is the flow of a mean speed, m/s, through a bore.
func At(speed float64, bore Millimetre) MillilitresPerMinute {
	return perMinute(speed * math.Pi * bore.metres() * bore.metres() / 4)
}

// Under is the pressure at the foot of a column.
func Under(h Centimetre, rho KilogramsPerCubicMetre) Pascal { return h.under(liquid{density: rho}) }
