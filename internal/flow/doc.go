// Package flow says how fast a fluid runs through a peripheral cannula: bag,
// giving set, extension, connector, cannula and vein in series. It is pure.
//
// Each part loses pressure in two ways: by friction (Poiseuille's law, or
// Blasius's where a long part runs turbulent) and as kinetic energy thrown away
// where the fluid leaves it (the Hagenbach correction). In a short cannula the
// second is as large as the first or larger, so flow grows with about the bore
// to the power 2.2 and the pressure to the power 0.6, as measured (conference
// abstract 3AP8-8, Flow through intravenous cannulae, June 2007); the
// fourth-power law alone says two to eight times too much.
//
// No answer is exact. Bores differ between makers, sets and connectors between
// hospitals, so each comes with a range: its lower end has every part as narrow,
// and the fluid as viscous, as they come, its upper end the opposite. It holds
// for steady flow into a vein that takes it; in patients slower flows have been
// measured (one 18G: 36 mL/min, Am J Emerg Med 2010;28:724-7).
package flow
