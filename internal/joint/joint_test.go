package joint

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, relTol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relTol*math.Abs(want)) {
		t.Errorf("%s = %.6g, want %.6g within %.3g %%", what, got, want, relTol*100)
	}
}

// The power law against the integral of plastic contact it was fitted to, h σ/(k_s m), integral evaluated
// independently. Tolerance 1.5 %: the fit.
func TestSpotsAgainstPlasticContact(t *testing.T) {
	for _, tc := range []struct{ relative, fit, integral float64 }{
		{1e-5, 2.2228e-5, 2.2500e-5}, {1e-4, 1.98112e-4, 2.00930e-4}, {1e-3, 1.765672e-3, 1.766680e-3}, {1e-2, 1.573657e-2, 1.560768e-2},
	} {
		c := BareContact{K1WmK: 1, K2WmK: 1, RoughnessM: 1, Slope: 1, PressurePa: tc.relative * 1e9, HardnessPa: 1e9}
		spots, gas, total, err := c.Conductance()
		if err != nil || gas != 0 || total != spots {
			t.Fatalf("%v %v %v %v", spots, gas, total, err)
		}
		near(t, "fit", spots, tc.fit, 1e-4)
		near(t, "integral", spots, tc.integral, 0.015)
	}
}

// Y/σ = √2 erfc⁻¹(2P/H), evaluated independently, and the two published fits with their errors.
func TestSeparation(t *testing.T) {
	for _, tc := range []struct{ relative, exact, logForm, powerForm float64 }{
		{1e-4, 3.71902, 3.71312, 3.73845}, {1e-3, 3.09023, 3.08973, 2.99014}, {1e-2, 2.32635, 2.33794, 2.39162},
	} {
		y := Separation(tc.relative)
		near(t, "Y/σ", y, tc.exact, 3e-6)
		near(t, "log form", y, tc.logForm, 0.005)
		near(t, "power form", y, tc.powerForm, 0.035)
	}
}

// Joints in 40 °C air after Yovanovich 1982, evaluated independently with the power-law fit of Y. Spots to 0.01 %; the
// gas within 3.5 %, which is what that fit is off; the jump length from the accommodation 0.9 of both walls (constants
// from memory).
func TestBareContactInAir(t *testing.T) {
	jumpM := GasJumpM(0.9, 0.9, 313.15, 101325)
	near(t, "M", jumpM, 0.28336e-6, 1e-4)
	for _, tc := range []struct {
		name                                 string
		k, roughnessM, slope, pressure, hard float64
		spots, gas, total, resistanceCm2KW   float64
	}{
		{"6061/6061 blasted", 167, 2.0e-6, 0.15, 1e5, 1.4e9, 1802.46, 3408.96, 5211.42, 1.91886},
		{"304/304", 16.2, 1.0e-6, 0.10, 5e5, 3.0e9, 521.412, 7107.37, 7628.78, 1.31083},
		{"Ni/Ni", 75, 4.78e-6, 0.23, 3.5e6, 3.0e9, 7376.85, 1900.57, 9277.42, 1.07789},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := BareContact{tc.k, tc.k, tc.roughnessM, tc.slope, tc.pressure, tc.hard, 0.0273, jumpM}
			spots, gas, total, err := c.Conductance()
			if err != nil {
				t.Fatal(err)
			}
			near(t, "spots", spots, tc.spots, 1e-4)
			near(t, "gas", gas, tc.gas, 0.035)
			near(t, "total", total, tc.total, 0.035)
			near(t, "resistance", 1e4/total, tc.resistanceCm2KW, 0.035)
		})
	}
	// Unlike metals join by the harmonic mean: 167 and 390 W/(m K) give 233.86.
	c := BareContact{167, 390, 1, 1, 1e6, 1e9, 0, 0}
	spots, _, _, err := c.Conductance()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "k_s", spots/(1.25*math.Pow(1e-3, 0.95)), 233.86, 1e-4)
}

// 6061, σ/m 7 µm, H 1.1 GPa: 480, 4300 and 38000 W/(m² K) at 0.01, 0.1 and 1 MPa (derived from the Mechanical
// Engineers' Handbook vol. 4 form, rounded to two figures). And Al-Al in vacuum at 100 kPa, 1.5-5.0e-4 m² K/W (Incropera
// et al., 6th ed., Table 3.1, from memory), with the handbook's σ/m of 5 to 9 µm for fairly smooth faces. The table says
// "10 µm roughness" without saying of what kind; read as rms with a slope of 0.2 on both faces the relation gives
// 22e-4, so roughness from a label alone does not fix a joint.
func TestAluminiumContacts(t *testing.T) {
	for _, tc := range []struct{ pressure, h float64 }{{1e4, 480}, {1e5, 4300}, {1e6, 38000}} {
		spots, _, _, err := BareContact{167, 167, 7e-6, 1, tc.pressure, 1.1e9, 0, 0}.Conductance()
		if err != nil {
			t.Fatal(err)
		}
		near(t, "h", spots, tc.h, 0.02)
	}
	for _, sigmaOverM := range []float64{5e-6, 7e-6, 9e-6} {
		spots, _, _, err := BareContact{180, 180, sigmaOverM, 1, 1e5, 1.1e9, 0, 0}.Conductance()
		if r := 1 / spots; err != nil || r < 1.5e-4 || r > 5.0e-4 {
			t.Errorf("resistance %g, %v", r, err)
		}
	}
}

func TestBareContactRefuses(t *testing.T) {
	good := BareContact{167, 167, 2e-6, 0.15, 1e5, 1.4e9, 0.026, 3e-7}
	for name, change := range map[string]func(*BareContact){
		"NaN":              func(c *BareContact) { c.K1WmK = math.NaN() },
		"no roughness":     func(c *BareContact) { c.RoughnessM = 0 },
		"negative gas":     func(c *BareContact) { c.GasKWmK = -1 },
		"pressure in MPa":  func(c *BareContact) { c.PressurePa = 0.1 },
		"harder than hard": func(c *BareContact) { c.PressurePa = 1e9 },
	} {
		c := good
		change(&c)
		if _, _, _, err := c.Conductance(); err == nil || !strings.HasPrefix(err.Error(), "bare contact: ") {
			t.Errorf("%s: error %v", name, err)
		}
	}
}

// Sums of layers: 100 µm of 0.2 W/(m K) is 5 cm² K/W, of 5 W/(m K) 0.2; and a 15 x 15 mm chip, K/W, to the two figures
// given: paste 30 µm at 3: 0.04; epoxy 50 µm at 1.0: 0.22; 100 µm at 1.5: 0.30; plain epoxy 100 µm at 0.2: 2.2; pad
// 0.5 mm at 3: 0.74; pad 1 mm at 1.5: 3.0; air 0.1 mm: 17. Filled joints must also land in the published bands of
// Incropera et al., 6th ed., Table 3.2 (from memory).
func TestBondLine(t *testing.T) {
	for _, tc := range []struct{ thicknessM, k, boundary, cm2KW, tol float64 }{
		{100e-6, 0.2, 0, 5, 1e-12}, {100e-6, 5, 0, 0.2, 1e-12}, {100e-6, 5, 1e-5, 0.3, 1e-12},
		{30e-6, 3, 0, 0.04 * 2.25, 0.12}, {50e-6, 1, 0, 0.22 * 2.25, 0.02}, {100e-6, 1.5, 0, 0.30 * 2.25, 0.02},
		{100e-6, 0.2, 0, 2.2 * 2.25, 0.02}, {0.5e-3, 3, 0, 0.74 * 2.25, 0.01}, {1e-3, 1.5, 0, 3.0 * 2.25, 0.02}, {1e-4, 0.026, 0, 17 * 2.25, 0.02},
	} {
		h, err := BondLine{ThicknessM: tc.thicknessM, KWmK: tc.k, BoundaryM2K: tc.boundary, Coverage: 1}.Conductance()
		if err != nil {
			t.Fatal(err)
		}
		near(t, "R", 1e4/h, tc.cm2KW, tc.tol)
	}
	// Si on Al with 20 µm epoxy, 0.2-0.9e-4 m² K/W; plain epoxy 0.25 W/(m K) at 20 µm.
	if h, err := (BondLine{ThicknessM: 20e-6, KWmK: 0.25, Coverage: 1}).Conductance(); err != nil || 1/h < 0.2e-4 || 1/h > 0.9e-4 {
		t.Errorf("epoxy %g %v", 1/h, err)
	}
	for _, b := range []BondLine{{}, {ThicknessM: 1e-4}, {1e-4, 1, -1, 1, 0}, {1e-4, 1, 0, 60, 0}, {1e-4, 1, 0, 1, math.NaN()}, {math.Inf(1), 1, 0, 1, 0}} {
		if _, err := b.Conductance(); err == nil {
			t.Errorf("%+v passes", b)
		}
	}
}

// Side by side: the conductance is linear in coverage, from the voids' alone to the filler's alone.
func TestCoverage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := BondLine{rapid.Float64Range(1e-6, 1e-3).Draw(t, "t"), rapid.Float64Range(0.1, 10).Draw(t, "k"),
			rapid.Float64Range(0, 1e-4).Draw(t, "b"), 0, rapid.Float64Range(0, 0.03).Draw(t, "void")}
		at := func(c float64) float64 {
			b.Coverage = c
			h, err := b.Conductance()
			if err != nil {
				t.Fatal(err)
			}
			return h
		}
		c := rapid.Float64Range(0, 1).Draw(t, "c")
		want := at(0) + c*(at(1)-at(0))
		if h := at(c); math.Abs(h-want) > 1e-9*math.Max(want, 1) || at(0) != b.VoidKWmK/b.ThicknessM {
			t.Fatalf("%g, want %g", h, want)
		}
	})
}

// Prasher et al. IMECE2002-32118, formula from memory, evaluated independently; µm.
func TestPasteThickness(t *testing.T) {
	pressures := []float64{35e3, 100e3, 345e3, 690e3}
	for _, tc := range []struct {
		yieldPa float64
		um      [4]float64
	}{
		{30, [4]float64{40.57, 34.08, 27.75, 24.73}}, {100, [4]float64{49.54, 41.62, 33.88, 30.20}}, {300, [4]float64{59.45, 49.94, 40.66, 36.24}},
	} {
		for i, p := range pressures {
			tM, err := PasteThicknessM(tc.yieldPa, p)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "thickness", tM*1e6, tc.um[i], 3e-4)
		}
	}
	if _, err := PasteThicknessM(0, 1e5); err == nil {
		t.Error("no yield stress passes")
	}
	if _, err := PasteThicknessM(100, math.NaN()); err == nil {
		t.Error("NaN passes")
	}
}

func TestRanges(t *testing.T) {
	seen := map[Kind]bool{}
	for _, d := range Ranges() {
		if !(0 < d.LoWm2K && d.LoWm2K < d.MidWm2K && d.MidWm2K < d.HiWm2K) || d.Source == "" || seen[d.Kind] {
			t.Errorf("%+v", d)
		}
		// The middle of a log-normal range lies near the geometric mean.
		if g := math.Sqrt(d.LoWm2K * d.HiWm2K); d.MidWm2K/g < 0.8 || d.MidWm2K/g > 1.25 {
			t.Errorf("%s: middle %g, geometric mean %g", d.Kind, d.MidWm2K, g)
		}
		seen[d.Kind] = true
		if f, ok := RangeOf(d.Kind); !ok || f != d {
			t.Errorf("%s is not found", d.Kind)
		}
	}
	if _, ok := RangeOf("glue"); ok {
		t.Error("an unknown kind is found")
	}
	// A rest of air between metal and plastic is what the range claims: 0.026 W/(m K) over 0.25 and 0.02 mm.
	d, _ := RangeOf(MetalPlastic)
	near(t, "lower end", d.LoWm2K, 0.026/0.25e-3, 0.1)
	near(t, "upper end", d.HiWm2K, 0.026/0.02e-3, 0.1)
	// Bare metal joints in air (the three of TestBareContactInAir) lie in the range of dry metal or above it for screws.
	d, _ = RangeOf(DryMetal)
	for _, h := range []float64{5211, 7629} {
		if h < d.LoWm2K || h > d.HiWm2K {
			t.Errorf("dry metal %g..%g misses %g", d.LoWm2K, d.HiWm2K, h)
		}
	}
	// Junction to board holds the balls in series with the board near them: 2.1 K/W for a 17 mm, 2.9 for a 21 mm flip-chip
	// package (NXP i.MX 8QuadXPlus data sheet, rev. 0, 11/2018, table 5). The worst soldered joint must stay below that.
	d, _ = RangeOf(Soldered)
	for sideM, kW := range map[float64]float64{17e-3: 2.1, 21e-3: 2.9} {
		if r := 1 / (d.LoWm2K * sideM * sideM); r >= kW {
			t.Errorf("soldered, %v m: %.2f K/W for the balls alone, published %v with the board", sideM, r, kW)
		}
	}
}

func TestDefaultKind(t *testing.T) {
	for _, tc := range []struct {
		aMetal, bMetal, aSoft, bSoft bool
		want                         Kind
	}{
		{true, true, false, false, DryMetal}, {true, false, false, false, MetalPlastic}, {false, true, false, false, MetalPlastic},
		{false, false, false, false, PlasticFit}, {true, false, false, true, SoftPressed}, {false, false, true, true, SoftPressed},
	} {
		if got := Default(Sort{Metal: tc.aMetal, Soft: tc.aSoft}, Sort{Metal: tc.bMetal, Soft: tc.bSoft}); got != tc.want {
			t.Errorf("%+v: %s", tc, got)
		}
	}
}
