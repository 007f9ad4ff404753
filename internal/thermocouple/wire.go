package thermocouple

import (
	"fmt"
	"math"
)

// A junction reads its own temperature, and its wire carries heat to or from it. Both formulas give the share of the difference
// between the place and the surroundings that the junction misses: a reading of a 50 °C face in a 20 °C room with share 0.1 is
// 3 K low.

// HoleError is the share of (hole - mouth) by which a wire or sheath of diameter dM in an air-filled hole depthM deep misses the
// hole's bottom. The wire is a fin in air at the hole's temperature, its mouth at the outer temperature, the tip insulated:
//
//	(T_hole - T_tip)/(T_hole - T_mouth) = 1/cosh(mL),  m = √(4h/(k d))
//
// kWmK is the wire's conductivity along its length (about 25 for K, E, J and N pairs with sheath; 400 for a bare copper leg), hWm2K
// the coefficient from hole to wire through the air gap. With paste in the hole h is hundreds and the error disappears.
// Valid: a thin wire, hd/k much below 1. Source: fin equation with adiabatic tip, e.g. Incropera & DeWitt, 6th ed., table 3.4.
func HoleError(dM, kWmK, hWm2K, depthM float64) (float64, error) {
	if err := positive(dM, kWmK, hWm2K, depthM); err != nil {
		return 0, fmt.Errorf("thermocouple in a hole: %w", err)
	}
	m := math.Sqrt(4 * hWm2K / (kWmK * dM))
	return 1 / math.Cosh(m*depthM), nil
}

// SurfaceError is the share of (surface - room) by which a junction of the wire's own diameter dM misses the surface it touches,
// when the wires leave it straight into the room. Each wire is an infinite fin of conductance G on a disk on a half-space of kBodyWmK:
//
//	share = n G R/(1 + n G R),  G = √(h π d · k_w π d²/4),  R = 1/(4 k_body d/2)
//
// It is small on metal and more than half on plastic, which is why the wire should lie along the surface for 20 to 30 diameters.
// wires is 2 when both legs leave at the junction. Contact resistance comes on top. Source: disk on a half-space (Carslaw & Jaeger)
// with infinite fins, the model of Hennecke & Sparrow, Int. J. Heat Mass Transfer 13 (1970); model from memory.
func SurfaceError(dM, kWireWmK, hWm2K, kBodyWmK float64, wires int) (float64, error) {
	if err := positive(dM, kWireWmK, hWm2K, kBodyWmK, float64(wires)); err != nil {
		return 0, fmt.Errorf("thermocouple on a surface: %w", err)
	}
	areaM2 := math.Pi / 4 * dM * dM
	gWK := math.Sqrt(hWm2K * math.Pi * dM * kWireWmK * areaM2)
	rKW := 1 / (4 * kBodyWmK * dM / 2)
	x := float64(wires) * gWK * rKW
	return x / (1 + x), nil
}

func positive(values ...float64) error {
	for _, v := range values {
		if !(v > 0) || math.IsInf(v, 1) {
			return fmt.Errorf("%g is not a positive number; diameter, conductivity, film coefficient, depth and number of wires all must be", v)
		}
	}
	return nil
}
