package surface

import (
	"math"
	"testing"
)

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
	if ParallelFacesEmissivity(0, 1) != 0 || RecessedEmissivity(0, 1) != 0 || RecessedEmissivity(1, 0) != 0 {
		t.Error("a face that does not radiate or see must give 0")
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

// Radiosity of uniform zones solved independently; Q over σT⁴ times base area. Tolerance 0.5 %.
func TestUChannelRadiation(t *testing.T) {
	for _, tc := range []struct{ s, d, l, eps, perBase, wet, open float64 }{
		{6, 25, 60, 0.1, 0.63551, 0.06809, 0.34664}, {6, 25, 60, 0.5, 1.39586, 0.14956, 0.76138},
		{6, 25, 60, 0.85, 1.59193, 0.17056, 0.86833}, {6, 25, 60, 0.95, 1.62628, 0.17424, 0.88706}, {6, 25, 60, 1, 1.64133, 0.17586, 0.89527},
		{10, 10, 10, 0.1, 0.28125, 0, 0}, {10, 10, 10, 0.5, 1.12507, 0, 0}, {10, 10, 10, 0.85, 1.62780, 0, 0}, {10, 10, 10, 1, 1.80018, 0, 0},
		{10, 10, 1e5, 0.5, 0.74755, 0, 0}, {10, 10, 1e5, 0.85, 0.94319, 0, 0},
	} {
		u := NewUChannel(tc.s, tc.d, tc.l, tc.eps)
		near(t, "per base", u.WetEps*(tc.s+2*tc.d)/tc.s, tc.perBase, 1e-3)
		if tc.wet > 0 {
			near(t, "wet", u.WetEps, tc.wet, 1e-3)
			near(t, "open", u.OpenEps, tc.open, 1e-3)
		}
	}
	// The one-zone form used by Patch, against the zone model.
	u := NewUChannel(6, 25, 60, 0.85)
	near(t, "base", RecessedEmissivity(0.85, u.BaseOut), u.BaseEps, 5e-3)
	near(t, "fin", RecessedEmissivity(0.85, u.FinOut), u.FinEps, 5e-3)
	// Cavity formula of a long square channel, exact for uniform radiosity.
	near(t, "cavity", RecessedEmissivity(0.5, 1.0/3)*3, 0.75, 1e-12)
	// A shallow channel radiates like the bare face.
	near(t, "shallow", NewUChannel(1e3, 1e-3, 1e3, 0.3).BaseEps, 0.3, 1e-3)
	if math.IsNaN(u.WetEps) {
		t.Error("NaN")
	}
}
