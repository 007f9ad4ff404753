// Package surface knows what is published about air at the outside of a body: film coefficients of natural, forced and mixed
// convection on faces, in channels and on round sides in any posture; the properties of air; and what air sealed between two
// walls carries. Radiation and sun are in package radiate.
//
// Read film.go first: Patch.Film is what the rest of the program calls; channel_posture.go, round.go and wind.go say how the
// relations are put together. Every other file holds published relations as functions of dimensionless numbers, with a Law
// beside each that says where it comes from and where it holds; Laws lists them. Relations are plain arithmetic: they never
// fail, they extrapolate in the way their Law says, and Law.Note turns a number outside the published range into a
// sentence for the user. Where nothing published fits there is an estimate of ours, whose Law and note say so.
//
// SI throughout; temperatures in kelvin. Symbols of the formulas:
//
//	Ra = gβ|ΔT|L³/(να)    Nu = hL/k    Re = UL/ν    El = gβ|ΔT|S⁴/(ναL)
//
// Not here: pins and fins other than plates, air that one body warms for another, turbulence in the wind, moisture.
package surface
