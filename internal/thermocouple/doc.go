// Package thermocouple turns a thermocouple's voltage into a temperature, and says how wrong the reading may be.
//
//	E(t) = Σ cᵢ tⁱ  (type K above 0 °C: + a₀ exp(a₁ (t - a₂)²))     mV, °C; reference junction at 0 °C
//
// These are the ITS-90 reference functions of NIST Monograph 175, which IEC 60584-1 and ASTM E230 repeat, for types K, T, J, E and
// N. The tables are in °C and mV, so this package is too; ReadingK is the way in from kelvin.
//
// The inverse is found by Newton's method on E(t), so that both directions agree to rounding. The published inverse polynomials
// (PolynomialC, up to 0.06 K off) only give the start.
//
// A junction is warm or cold by its own wire too: see HoleError and SurfaceError. Read reference.go first.
package thermocouple
