package radiate

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: %.8g, want %.8g (within %g of it)", what, got, want, rel)
	}
}

func TestRadiativeCoefficient(t *testing.T) {
	for _, tc := range []struct{ eps, c1, c2, h, q float64 }{ // from Stefan's law with CODATA σ, evaluated independently
		{0.85, 60, 25, 6.08192, 212.867}, {0.90, 40, 20, 5.69324, 113.865}, {0.05, 80, 25, 0.394440, 21.6942},
	} {
		h := RadiativeCoefficient(tc.eps, tc.c1+273.15, tc.c2+273.15)
		near(t, "h", h, tc.h, 1e-5)
		near(t, "q", h*(tc.c1-tc.c2), tc.q, 1e-5)
	}
	// Cengel Ex. 9-2 (from memory): black 0.6 m plate, 90 in 30 °C, 182 W.
	near(t, "plate", RadiativeCoefficient(1, 363.15, 303.15)*0.36*60, 182, 5e-3)
	// Incropera et al., 6th ed., eq. 13.19: black faces 1, and ε 0.05 twice gives 0.05/1.95.
	near(t, "black", ParallelFacesEmissivity(1, 1), 1, 1e-12)
	near(t, "shiny", ParallelFacesEmissivity(0.05, 0.05), 0.05/1.95, 1e-12)
	if ParallelFacesEmissivity(0, 1) != 0 {
		t.Error("a face that does not radiate must give 0")
	}
}

// Howell C-11 and C-14, closed form against a Monte Carlo of 4e6 rays (3e-4); cube corners also textbook 0.1998, 0.2000.
func TestViewFactors(t *testing.T) {
	for _, tc := range []struct{ a, b, c, f float64 }{
		{1, 1, 1, 0.199825}, {2, 1, 1, 0.285875}, {10, 10, 1, 0.826995}, {0.1, 0.1, 1, 0.003162}, {60, 25, 6, 0.726057}, {60, 25, 3, 0.849210},
	} {
		near(t, "parallel", ViewParallel(tc.a, tc.b, tc.c), tc.f, 2e-4)
	}
	for _, tc := range []struct{ h, l, w, f float64 }{
		{1, 1, 1, 0.200044}, {2, 1, 1, 0.232853}, {1, 1, 2, 0.116426}, {0.5, 1, 1, 0.146187}, {25, 60, 6, 0.410381}, {6, 60, 25, 0.098491},
	} {
		near(t, "perpendicular", ViewPerpendicular(tc.l, tc.w, tc.h), tc.f, 1e-5)
	}
	near(t, "closure of the cube", ViewParallel(1, 1, 1)+4*ViewPerpendicular(1, 1, 1), 1, 1e-9)
	near(t, "reciprocity", 6*ViewPerpendicular(60, 6, 25), 25*ViewPerpendicular(60, 25, 6), 1e-9)
}

func TestDisks(t *testing.T) {
	// A small disk in front of a large one sees it as sin² of its half angle: Incropera et al., 6th ed., Table 13.2 in the limit.
	near(t, "small to large", ViewDisks(1e-4, 3, 4), 9.0/25, 1e-6)
	// Radius = distance: (3-√5)/2, the formula's own value.
	near(t, "equal disks", ViewDisks(1, 1, 1), (3-math.Sqrt(5))/2, 1e-12)
	near(t, "reciprocity", 4*ViewDisks(2, 5, 3), 25*ViewDisks(5, 2, 3), 1e-12)
	near(t, "close", ViewDisks(1e4, 1e4, 1), 1, 2e-4)
	// A wider disk is seen more, but less than from the best place, the middle.
	if a, b := ViewDisks(1, 1, 2), ViewDisks(1, 1.5, 2); !(b > a && b < 1.5*1.5/(1.5*1.5+4)) {
		t.Errorf("disk %g, wider disk %g", a, b)
	}
}
