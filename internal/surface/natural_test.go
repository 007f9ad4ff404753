package surface

import (
	"math"
	"testing"
)

// Unit table, Pr 0.71: the published forms of Churchill & Chu 1975 evaluated independently.
func TestNaturalUnitTable(t *testing.T) {
	for _, tc := range []struct{ ra, full, laminar, cylinder float64 }{
		{1, 1.3212, 1.1942, 0.8488}, {1e2, 2.3224, 2.3062, 1.6697}, {1e4, 5.4327, 5.8225, 4.3733},
		{1e5, 9.2127, 9.8247, 7.7776}, {1e6, 16.5584, 16.9419, 14.5372}, {1e8, 61.0652, 52.1045, 56.5761},
		{1e9, 122.8565, 92.1271, 115.7707}, {1e10, 252.2776, 163.2986, 240.6336},
	} {
		near(t, "upright plate", VerticalPlateNu(tc.ra, 0.71), tc.full, 5e-5)
		near(t, "upright plate, laminar", VerticalPlateLaminarNu(tc.ra, 0.71), tc.laminar, 5e-5)
		near(t, "horizontal cylinder", CylinderNu(tc.ra, 0.71), tc.cylinder, 1e-4)
	}
	// McAdams / Lloyd & Moran plates.
	for _, tc := range []struct{ ra, up, down float64 }{
		{1e5, 9.6027, 4.8014}, {1e6, 17.0763, 8.5381}, {1e7, 30.3664, 15.1832}, {1.0001e7, 32.3165, 15.1832},
	} {
		near(t, "up", UpwardPlateClassicNu(tc.ra), tc.up, 1e-4)
		near(t, "down", DownwardPlateClassicNu(tc.ra), tc.down, 1e-4)
	}
	// Rich 1953 / Incropera 9.6.2: g cos θ.
	for _, tc := range []struct{ deg, nu float64 }{{0, 25.6315}, {30, 24.7502}, {60, 21.6617}} {
		near(t, "inclined", InclinedPlateNu(5.5585e6, 0.70545, math.Cos(tc.deg*math.Pi/180)), tc.nu, 5e-5)
	}
}

// Worked examples of Incropera et al., 6th ed., and Cengel (published figures of the latter from memory).
func TestNaturalWorkedExamples(t *testing.T) {
	const g98 = 9.8 / gravityMS2 // the book's gravity
	t.Run("Incropera 6th ed. Ex. 9.2 p. 572, fire screen, 1060 W", func(t *testing.T) {
		air := Air{KWmK: 33.8e-3, NuM2s: 26.4e-6, AlphaM2s: 38.3e-6, Pr: 0.690, BetaPerK: 1.0 / 400}
		ra := Rayleigh(&air, 232-23, 0.71) * g98
		near(t, "Ra", ra, 1.813e9, 1e-3)
		h := VerticalPlateNu(ra, air.Pr) * air.KWmK / 0.71
		near(t, "q", h*0.71*1.02*(232-23), 1060, 1e-3)
	})
	t.Run("Incropera 6th ed. Ex. 9.3 p. 577, duct, 246 W/m", func(t *testing.T) {
		air := Air{KWmK: 0.0265, NuM2s: 16.2e-6, AlphaM2s: 22.9e-6, Pr: 0.71, BetaPerK: 0.0033}
		side := VerticalPlateLaminarNu(Rayleigh(&air, 30, 0.3)*g98, air.Pr) * air.KWmK / 0.3
		ra := Rayleigh(&air, 30, 0.375) * g98
		up, down := UpwardPlateClassicNu(ra)*air.KWmK/0.375, DownwardPlateClassicNu(ra)*air.KWmK/0.375
		near(t, "side", side, 4.224, 1e-3)
		near(t, "top", up, 5.477, 1e-3)
		near(t, "bottom", down, 2.068, 1e-3)
		near(t, "q'", (2*side*0.3+(up+down)*0.75)*30, 246, 2e-3)
	})
	t.Run("Cengel Ex. 9-2, plate 0.6 m, 115/128/64.2 W (from memory)", func(t *testing.T) {
		air := Air{KWmK: 0.02808, NuM2s: 1.896e-5, AlphaM2s: 1.896e-5 / 0.7202, Pr: 0.7202, BetaPerK: 1.0 / 333}
		near(t, "upright", VerticalPlateNu(Rayleigh(&air, 60, 0.6), air.Pr)*air.KWmK/0.6*0.36*60, 115, 5e-3)
		ra := Rayleigh(&air, 60, 0.15)
		// The book stays on the quarter-power relation at Ra 1.2e7; ours has switched to the third-power one at 1e7 as
		// published, and reads 8 % more: the scatter of the law.
		near(t, "up", UpwardPlateClassicNu(ra)*air.KWmK/0.15*0.36*60, 128, UpwardPlateClassicLaw.ScatterFrac)
		near(t, "down", DownwardPlateClassicNu(ra)*air.KWmK/0.15*0.36*60, 64.2, 1e-3)
	})
}

// handAir is air at 35 °C and 101.325 kPa, the film of a 45 °C surface in 25 °C air.
var handAir = Air{KWmK: 0.0269565, NuM2s: 1.65114e-5, AlphaM2s: 2.34054e-5, Pr: 0.70545, BetaPerK: 1 / 308.15}

// Upright plates of hand size, 45 °C in 25 °C: Churchill & Chu 1975 evaluated independently.
func TestHandSizedUpright(t *testing.T) {
	for _, tc := range []struct{ mm, full, laminar float64 }{
		{30, 6.8204, 7.3162}, {60, 5.6765, 5.9439}, {100, 5.0981, 5.1457}, {150, 4.7493, 4.6062}, {300, 4.3133, 3.8317},
	} {
		l := tc.mm / 1e3
		ra := Rayleigh(&handAir, 20, l)
		near(t, "h", VerticalPlateNu(ra, handAir.Pr)*handAir.KWmK/l, tc.full, 1e-4)
		near(t, "h laminar", VerticalPlateLaminarNu(ra, handAir.Pr)*handAir.KWmK/l, tc.laminar, 1e-4)
	}
}

// Horizontal 150 x 75 mm, same air: Raithby & Hollands 1998 (coefficients from memory) and the classical pair.
func TestHandSizedLevel(t *testing.T) {
	const l = 0.15 * 0.075 / 0.45
	ra := Rayleigh(&handAir, 20, l)
	near(t, "Ra", ra, 25734, 1e-4)
	k := handAir.KWmK / l
	near(t, "up 0.54", UpwardPlateClassicNu(ra)*k, 7.3747, 1e-4)
	near(t, "down 0.27", DownwardPlateClassicNu(ra)*k, 3.6873, 1e-4)
	near(t, "up", UpwardPlateNu(ra, handAir.Pr)*k, 6.6078, 2e-4)
	near(t, "up, layer", edged(1.4, upwardThinNu(ra, handAir.Pr)), 6.11606, 1e-4)
	near(t, "up, turbulent", upwardTurbulentNu(ra, handAir.Pr), 4.13533, 1e-4)
	near(t, "down", DownwardPlateNu(ra, handAir.Pr)*k, 4.5059, 1e-4)
	near(t, "down, thin", downwardLayerNu(ra, handAir.Pr), 3.05280, 1e-4)
}

// The layer alone must be the Churchill & Chu relations without their small-plate term, at both ends.
func TestVerticalLayerLimits(t *testing.T) {
	for _, tc := range []struct{ ra, tol float64 }{{1e3, 0.001}, {1e5, 0.005}, {1e7, 0.04}} { // the turbulent part shows
		near(t, "laminar end", verticalLayerNu(tc.ra, 0.71), VerticalPlateLaminarNu(tc.ra, 0.71)-0.68, tc.tol)
	}
	for _, ra := range []float64{1e10, 1e11, 1e12} {
		near(t, "turbulent end", verticalLayerNu(ra, 0.71), VerticalPlateNu(ra, 0.71), 0.12)
	}
}

// Conduction shape factors: exact capacitance of the cube (0.66067815·4π/√6) and the square (0.3667892·4π/√2);
// boundary-element solutions of boxes; Incropera et al., 6th ed., Table 4.1 (q* 1.111 for 10:1). 1.3 %: the fit.
func TestCuboidDiffusion(t *testing.T) {
	for _, tc := range []struct{ a, b, c, nu0 float64 }{
		{1, 1, 1, 3.38939}, {1, 2, 1, 3.4183}, {1, 1, 0.5, 3.4001}, {0.1, 1, 1, 3.3818}, {1, 1, 0.01, 3.2934},
		{1, 1e-9, 1, 3.2592}, {150, 75, 9, 3.4478}, {25, 60, 100, 3.4321}, {1, 10, 1, 1.111 * 3.54491},
	} {
		near(t, "Nu0", CuboidDiffusionNu(tc.a, tc.b, tc.c), tc.nu0, 0.013)
		if tc.a != 1 || tc.b != 10 {
			near(t, "compact Nu0", compactNu0, tc.nu0, BodyDiffusionLaw.ScatterFrac+0.01)
		}
	}
}

// Whole boxes: G of the cube, the exact limit of a thin upright plate 2^(1/8)(L/H)^(1/8), and 45 °C boxes in 25 °C air
// (Yovanovich 1987, coefficients from memory). Tolerance 0.2 %: Nu0 of the fit is up to 0.4 % off, a tenth of the whole.
func TestCuboid(t *testing.T) {
	near(t, "cube", CuboidG(1, 1, 1), 0.98480, 1e-5)
	near(t, "thin plate", CuboidG(2, 1e-9, 1), math.Pow(2, 0.25), 1e-6)
	for _, tc := range []struct{ l, w, h, g, hWm2K float64 }{
		{75, 9, 150, 0.99233, 4.9211}, {150, 75, 9, 0.89553, 4.4967}, {150, 9, 75, 1.14688, 5.5986},
		{100, 60, 25, 0.95927, 5.0114}, {60, 25, 100, 0.99440, 5.1710},
	} {
		near(t, "G", CuboidG(tc.l, tc.w, tc.h), tc.g, 2e-5)
		rootA := math.Sqrt(2*(tc.l*tc.w+tc.w*tc.h+tc.l*tc.h)) / 1e3
		h := CuboidNu(Rayleigh(&handAir, 20, rootA), handAir.Pr, tc.l, tc.w, tc.h) * handAir.KWmK / rootA
		near(t, "h", h, tc.hWm2K, 2e-3)
	}
}

func TestLawNote(t *testing.T) {
	for _, l := range Laws() {
		if l.Note((l.Lo+l.Hi)/2) != "" || l.Note(l.Hi*1.01) == "" || l.Note(math.NaN()) == "" {
			t.Errorf("%s: note does not follow the range", l.Name)
		}
		if l.Name == "" || l.Formula == "" || l.Source == "" || l.Number == "" || l.ScatterFrac <= 0 {
			t.Errorf("law %+v is incomplete", l)
		}
	}
}
