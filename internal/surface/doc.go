// Package surface knows what is published about the outer faces of a body in air: film coefficients of natural and
// forced convection, the properties of air, the exchange of heat by radiation, and what air sealed between two walls carries.
//
// Read patch.go first: Patch.Film is what the rest of the program calls. Every other file holds one published relation
// as a function of dimensionless numbers, with a Law beside it that says where the relation comes from and where it
// holds. Relations are plain arithmetic: they never fail, they extrapolate in the way their Law says, and Law.Note
// turns a number outside the published range into a sentence for the user.
//
// SI throughout; temperatures in kelvin. Symbols of the formulas:
//
//	Ra = gβ|ΔT|L³/(να)    Nu = hL/k    Re = UL/ν    El = gβ|ΔT|S⁴/(ναL)
//
// Not here: forests of fins as one object (package grid sees single faces), moisture, radiation by wavelength, wind
// from a known direction, and sun from a known direction.
package surface
