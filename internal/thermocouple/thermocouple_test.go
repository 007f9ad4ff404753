package thermocouple

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Points of the NIST ITS-90 thermocouple tables (Monograph 175), recomputed there to 0.1 µV; the printed 1 µV entries agree.
var table = map[Type][][2]float64{
	K: {{-200, -5.8914}, {-100, -3.5536}, {-50, -1.8894}, {0, 0}, {20, 0.7981}, {25, 1.0002}, {37, 1.4889}, {40, 1.6118}, {50, 2.0231},
		{60, 2.4365}, {80, 3.2666}, {100, 4.0962}, {150, 6.1383}, {200, 8.1385}, {300, 12.2086}, {500, 20.6443}, {1000, 41.2756}, {1372, 54.8864}},
	T: {{-200, -5.6030}, {-100, -3.3786}, {-50, -1.8190}, {0, 0}, {25, 0.9920}, {50, 2.0357}, {100, 4.2785}, {200, 9.2881}, {300, 14.8619}, {400, 20.8720}},
	J: {{-210, -8.0954}, {-100, -4.6325}, {0, 0}, {25, 1.2773}, {50, 2.5853}, {100, 5.2689}, {200, 10.7787}, {500, 27.3926}, {760, 42.9186}, {1000, 57.9534}, {1200, 69.5532}},
	E: {{-200, -8.8246}, {-100, -5.2372}, {0, 0}, {25, 1.4951}, {50, 3.0476}, {100, 6.3189}, {200, 13.4213}, {500, 37.0054}, {1000, 76.3728}},
	N: {{-200, -3.9904}, {-100, -2.4068}, {0, 0}, {25, 0.6586}, {50, 1.3398}, {100, 2.7741}, {200, 5.9134}, {500, 16.7479}, {600, 20.6131}, {1000, 36.2555}, {1300, 47.5128}},
}

func TestTables(t *testing.T) {
	for _, tc := range Types {
		points := table[tc]
		if len(points) < 9 {
			t.Fatalf("type %s has only %d points", tc, len(points))
		}
		for _, p := range points {
			mV, err := tc.EMFmV(p[0])
			if err != nil || math.Round(mV*1e4)/1e4 != p[1] {
				t.Errorf("type %s at %g °C: %.5f mV, printed %.4f (%v)", tc, p[0], mV, p[1], err)
			}
			// A 0.1 µV entry fixes the temperature to half a digit over the slope.
			back, err := tc.TempC(mV)
			if err != nil || math.Abs(back-p[0]) > 1e-6 {
				t.Errorf("type %s %.5f mV: %.7f °C, went in as %g (%v)", tc, mV, back, p[0], err)
			}
		}
	}
}

// Seebeck coefficients at 25 and 100 °C, µV/K, NIST Monograph 175.
func TestSeebeck(t *testing.T) {
	for _, tc := range []struct {
		typ         Type
		at25, at100 float64
	}{{K, 40.518, 41.369}, {T, 40.682, 46.785}, {J, 51.752, 54.361}, {E, 60.952, 67.523}, {N, 26.782, 29.643}} {
		for tC, want := range map[float64]float64{25: tc.at25, 100: tc.at100} {
			got, err := tc.typ.SeebeckMVK(tC)
			if err != nil || math.Abs(got*1000-want) > 0.00051 {
				t.Errorf("type %s at %g °C: %.4f µV/K, want %.3f (%v)", tc.typ, tC, got*1000, want, err)
			}
		}
	}
}

// The published approximate inverses stay inside their own stated bands: a slip in either set of coefficients would show. The
// bands are stated to 0.01 K, so half of that is rounding.
func TestPolynomialsInsideStatedBand(t *testing.T) {
	for _, tc := range Types {
		for _, p := range inverse[tc] {
			worstLo, worstHi := 0.0, 0.0
			_, topC := tc.RangeC()
			topMV, _ := tc.EMFmV(topC)   // the printed end is rounded, for type T upwards
			for i := 1; i <= 2000; i++ { // the lower end belongs to the piece below
				mV := math.Min(topMV, p.loMV+(p.hiMV-p.loMV)*float64(i)/2000)
				exact, err := tc.TempC(mV)
				if err != nil {
					t.Fatal(err)
				}
				approx, err := tc.PolynomialC(mV)
				if err != nil {
					t.Fatal(err)
				}
				worstLo, worstHi = math.Min(worstLo, approx-exact), math.Max(worstHi, approx-exact)
			}
			if worstLo < p.errLoK-0.005 || worstHi > p.errHiK+0.005 {
				t.Errorf("type %s from %g mV: error %.4f..%.4f K, stated %.2f..%.2f", tc, p.loMV, worstLo, worstHi, p.errLoK, p.errHiK)
			}
			if math.Max(-worstLo, worstHi) > 0.06 {
				t.Errorf("type %s from %g mV: inverse is more than 0.06 K off", tc, p.loMV)
			}
		}
	}
}

// Direct and inverse agree everywhere, also in the nearly flat cold end. Pieces meet within 1e-5 K.
func TestInverseIsExact(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		typ := rapid.SampledFrom(Types).Draw(rt, "type")
		lo, hi := typ.RangeC()
		tC := rapid.Float64Range(lo, hi).Draw(rt, "t")
		mV, err := typ.EMFmV(tC)
		if err != nil {
			rt.Fatal(err)
		}
		back, err := typ.TempC(mV)
		if err != nil {
			rt.Fatal(err)
		}
		again, err := typ.EMFmV(back)
		if err != nil || math.Abs(again-mV) > 1e-8 {
			rt.Fatalf("%s: %.9f mV gave %.9f °C, which gives %.9f mV", typ, mV, back, again)
		}
		if tol := 1e-6; tC > -250 && math.Abs(back-tC) > tol {
			rt.Fatalf("%s: %.9f °C came back as %.9f", typ, tC, back)
		}
	})
}

// The slope against a central difference of the function.
func TestSeebeckIsTheDerivative(t *testing.T) {
	for _, typ := range Types {
		lo, hi := typ.RangeC()
		n := 0
		for tC := lo + 1; tC < hi-1; tC += 7.3 {
			if math.Abs(tC) < 1 || math.Abs(tC-760) < 1 {
				continue // pieces meet
			}
			a, _ := typ.EMFmV(tC - 0.01)
			b, _ := typ.EMFmV(tC + 0.01)
			s, err := typ.SeebeckMVK(tC)
			if err != nil || math.Abs(s-(b-a)/0.02) > 1e-7 || s <= 0 {
				t.Errorf("%s at %.1f °C: slope %.8f, difference %.8f", typ, tC, s, (b-a)/0.02)
			}
			n++
		}
		if n < 50 {
			t.Fatalf("only %d points looked at", n)
		}
	}
}

// Cold-junction examples worked by hand from the tables: reading, junction, total, exact root.
func TestColdJunction(t *testing.T) {
	for _, tc := range []struct {
		typ                                       Type
		readMV, junctionC, totalMV, polyC, exactC float64
	}{
		{K, 2.436, 25, 3.43624, 84.0592, 84.0829},
		{K, 1.000, 25, 2.00024, 49.4797, 49.4463},
		{T, 1.500, 22, 2.37031, 57.7394, 57.7543},
	} {
		j, err := tc.typ.EMFmV(tc.junctionC)
		if err != nil || math.Abs(tc.readMV+j-tc.totalMV) > 6e-6 {
			t.Errorf("%s: total %.6f mV, want %.5f (%v)", tc.typ, tc.readMV+j, tc.totalMV, err)
		}
		tK, err := tc.typ.ReadingK(tc.readMV, tc.junctionC+273.15)
		if err != nil || math.Abs(tK-273.15-tc.exactC) > 6e-5 {
			t.Errorf("%s: %.5f °C, want %.4f (%v)", tc.typ, tK-273.15, tc.exactC, err)
		}
		p, err := tc.typ.PolynomialC(tc.totalMV)
		if err != nil || math.Abs(p-tc.polyC) > 2e-4 { // the total is printed to 0.01 µV, 2e-4 K
			t.Errorf("%s: polynomial %.5f °C, want %.4f (%v)", tc.typ, p, tc.polyC, err)
		}
	}
}

// IEC 60584-1:2013 and ASTM E230 tables, and where the share takes over from the fixed part.
func TestTolerance(t *testing.T) {
	for _, tc := range []struct {
		typ       Type
		class     Class
		tC, wantK float64
	}{
		{K, IEC1, 25, 1.5}, {K, IEC1, 375, 1.5}, {K, IEC1, 1000, 4}, {K, IEC2, 333.33, 2.5}, {K, IEC2, 400, 3}, {N, IEC2, 1200, 9},
		{K, IEC3, -200, 3}, {J, IEC1, 750, 3}, {E, IEC2, 900, 6.75}, {T, IEC1, 125, 0.5}, {T, IEC1, 250, 1}, {T, IEC2, 133.3, 1},
		{T, IEC3, -100, 1.5}, {K, ASTMSpecial, 25, 1.1}, {K, ASTMStandard, 25, 2.2}, {K, ASTMStandard, 1000, 7.5},
		{J, ASTMSpecial, 500, 2}, {E, ASTMStandard, 500, 2.5}, {T, ASTMSpecial, 100, 0.5}, {T, ASTMStandard, 200, 1.5},
		{T, ASTMStandard, -100, 1.5}, {E, ASTMStandard, -200, 2},
	} {
		got, err := tc.typ.ToleranceK(tc.class, tc.tC)
		if err != nil || math.Abs(got-tc.wantK) > 1e-9 {
			t.Errorf("%s, %s at %g °C: ± %g K, want %g (%v)", tc.typ, tc.class, tc.tC, got, tc.wantK, err)
		}
	}
	for _, tc := range []struct {
		typ   Type
		class Class
		tC    float64
	}{{K, IEC1, 1100}, {T, IEC1, 400}, {J, IEC3, 0}, {K, IEC3, 41}, {N, ASTMStandard, -1}, {K, IEC2, math.NaN()}, {K, Class(99), 20}} {
		if v, err := tc.typ.ToleranceK(tc.class, tc.tC); err == nil {
			t.Errorf("%s, %s at %g °C gave ± %g K and no error", tc.typ, tc.class, tc.tC, v)
		}
	}
	q, err := K.Doubt(IEC2, 323.15)
	if err != nil || q.Lo != 320.65 || q.Hi != 325.65 || q.Mid != 323.15 {
		t.Errorf("doubt of 50 °C, class 2: %+v (%v)", q, err)
	}
}

// Worked with the fin equation and the disk on a half-space, six digits.
func TestWireErrors(t *testing.T) {
	for _, tc := range []struct{ d, k, h, depth, want float64 }{
		{0.25e-3, 25, 50, 5e-3, 0.700580}, {0.5e-3, 25, 10, 10e-3, 0.858876}, {0.5e-3, 400, 10, 10e-3, 0.990083},
	} {
		if got, err := HoleError(tc.d, tc.k, tc.h, tc.depth); err != nil || math.Abs(got-tc.want) > 6e-7 {
			t.Errorf("hole %+v: %.7f (%v)", tc, got, err)
		}
	}
	for _, tc := range []struct {
		d, kw, h, kb float64
		wires        int
		want         float64
	}{
		{0.25e-3, 25, 20, 0.2, 1, 0.581310}, {0.25e-3, 25, 20, 0.2, 2, 0.735226}, {0.25e-3, 25, 20, 167, 1, 0.0016600},
		{0.25e-3, 25, 20, 167, 2, 0.0033145}, {0.08e-3, 25, 40, 0.2, 1, 0.526228}, {0.08e-3, 25, 40, 0.2, 2, 0.689580},
	} {
		if got, err := SurfaceError(tc.d, tc.kw, tc.h, tc.kb, tc.wires); err != nil || math.Abs(got-tc.want) > 6e-7 {
			t.Errorf("surface %+v: %.7f (%v)", tc, got, err)
		}
	}
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if v, err := HoleError(bad, 25, 10, 0.01); err == nil {
			t.Errorf("diameter %g gave %g", bad, v)
		}
		if v, err := SurfaceError(0.001, 25, bad, 1, 2); err == nil {
			t.Errorf("film %g gave %g", bad, v)
		}
	}
}

func TestOutOfRangeIsSaid(t *testing.T) {
	for _, typ := range Types {
		lo, hi := typ.RangeC()
		for _, tC := range []float64{lo - 0.01, hi + 0.01, math.NaN(), math.Inf(1), math.Inf(-1)} {
			var re *RangeError
			if v, err := typ.EMFmV(tC); !errors.As(err, &re) {
				t.Errorf("%s at %g °C gave %g mV, %v", typ, tC, v, err)
			}
		}
		for _, mV := range []float64{-20, 100, math.NaN(), math.Inf(1)} {
			var re *RangeError
			if v, err := typ.TempC(mV); !errors.As(err, &re) {
				t.Errorf("%s at %g mV gave %g °C, %v", typ, mV, v, err)
			}
		}
	}
	if _, err := K.ReadingK(1, 0); err == nil || !strings.Contains(err.Error(), "cold junction") {
		t.Errorf("a junction at 0 K: %v", err)
	}
	if _, err := Type('Z').EMFmV(20); err == nil {
		t.Error("type Z is known")
	}
	if _, err := Type('Z').PolynomialC(1); err == nil {
		t.Error("type Z has an inverse")
	}
}

func TestParseType(t *testing.T) {
	for text, want := range map[string]Type{"K": K, "k": K, "type K": K, "Typ J": J, "TC-T": T, "N-type": N, "(E)": E, "thermocouple K": K} {
		if got, err := ParseType(text); err != nil || got != want {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "B", "KK", "Pt100", "type"} {
		if got, err := ParseType(text); err == nil {
			t.Errorf("%q was read as %v", text, got)
		}
	}
}

func TestParseClass(t *testing.T) {
	for _, c := range Classes {
		if got, err := ParseClass(c.String()); err != nil || got != c {
			t.Errorf("%s reads as %v %v", c, got, err)
		}
	}
	for text, want := range map[string]Class{"IEC 2": IEC2, "iec-1": IEC1, "class 3": IEC3, "2": IEC2, "ASTM special": ASTMSpecial, "standard limits of error": ASTMStandard, "ASTM E230 (standard)": ASTMStandard} {
		if got, err := ParseClass(text); err != nil || got != want {
			t.Errorf("%q reads as %v %v, want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "IEC", "IEC 4", "ASTM", "A", "class", "1 2"} {
		if got, err := ParseClass(text); err == nil || !strings.Contains(err.Error(), "IEC 2") {
			t.Errorf("%q reads as %v %v", text, got, err)
		}
	}
}
