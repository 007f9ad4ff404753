package infer

import (
	"math"
	"testing"
)

// -log₁₀ Q(x), Abramowitz & Stegun, Handbook of Mathematical Functions, 1964, table 26.2 (from memory), and Q at 0 and 1 of table 26.1.
func TestNotPassedAgainstTables(t *testing.T) {
	for _, tc := range []struct{ r, log10, tol float64 }{
		{0, -math.Log10(0.5), 1e-12}, {1, -math.Log10(0.158655254), 1e-8}, {-1, -math.Log10(1 - 0.158655254), 1e-8},
		{5, 6.54265, 5e-6}, {10, 23.11805, 5e-6}, {20, 88.56010, 5e-6}, {50, 544.96634, 5e-6}, {100, 2173.87154, 5e-6}, {-40, 0, 1e-300},
	} {
		if got, _, _ := NotPassed(tc.r); math.Abs(got/math.Ln10-tc.log10) > tc.tol {
			t.Errorf("-log₁₀ Φ(-%g) = %.9g, want %.9g", tc.r, got/math.Ln10, tc.log10)
		}
	}
}

// The derivatives are those of differences, the curvature stays between 0 and 1, and nothing jumps where the way of working it out changes.
func TestNotPassedBends(t *testing.T) {
	last := 0.0
	for r := -45.0; r < 60; r += 0.0625 {
		const h = 1e-3
		up, slopeUp, _ := NotPassed(r + h)
		down, slopeDown, _ := NotPassed(r - h)
		cost, slope, curve := NotPassed(r)
		if d := (up - down) / (2 * h); math.Abs(d-slope) > 1e-6*(1+math.Abs(slope)) {
			t.Errorf("slope at %g: %g, by differences %g", r, slope, d)
		}
		if d := (slopeUp - slopeDown) / (2 * h); math.Abs(d-curve) > 1e-5 {
			t.Errorf("curvature at %g: %g, by differences %g", r, curve, d)
		}
		if !(cost >= last) || !(curve >= 0 && curve <= 1) || math.IsNaN(slope) {
			t.Errorf("at %g: cost %g after %g, curvature %g", r, cost, last, curve)
		}
		last = cost
	}
	for _, r := range []float64{-1e6, 1e6} { // no overflow in between
		if cost, slope, curve := NotPassed(r); math.IsNaN(cost+slope+curve) || math.IsInf(cost+slope+curve, 0) {
			t.Errorf("at %g: %g, %g, %g", r, cost, slope, curve)
		}
	}
}
