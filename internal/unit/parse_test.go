package unit

import (
	"errors"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// near compares to a relative tolerance; the tolerance covers rounding of the decimal conversion only.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-12*(1+math.Abs(b)) }

var conversions = []struct {
	text   string
	dim    Dim
	wantSI float64
	source string
}{
	{"1 in", Length, 0.0254, "NIST SP 811 (2008), B.8"},
	{`0.5"`, Length, 0.0127, "NIST SP 811 (2008), B.8"},
	{"1 inch", Length, 0.0254, "NIST SP 811 (2008), B.8"},
	{"1 ft", Length, 0.3048, "NIST SP 811 (2008), B.8"},
	{"1 oz", Mass, 0.028349523125, "NIST SP 811 (2008), B.8"},
	{"1 lb", Mass, 0.45359237, "NIST SP 811 (2008), B.8"},
	{"1 mph", Velocity, 0.44704, "NIST SP 811 (2008), B.8: mile per hour, exact"},
	{"36 km/h", Velocity, 10, "definition of the hour"},
	{"1 bar", Pressure, 1e5, "NIST SP 811 (2008), B.8"},
	{"1 MPa", Pressure, 1e6, "SI prefix"},
	{"1 psi", Pressure, 6894.757, "NIST SP 811 (2008), B.8"},
	{"1 Wh", Energy, 3600, "NIST SP 811 (2008), B.8"},
	{"1 kgf", Force, 9.80665, "NIST SP 811 (2008), B.8"},
	{"1 lbf", Force, 4.4482216152605, "NIST SP 811 (2008), B.8"},
	{"32 °F", Temperature, 273.15, "NIST SP 811 (2008), B.8: T/K = (t/°F + 459.67)/1.8"},
	{"212 °F", Temperature, 373.15, "same"},
	{"-40 °F", Temperature, 233.15, "same; where both scales meet"},
	{"-40 °C", Temperature, 233.15, "SI Brochure, 9th ed., 2.3.1: T/K = t/°C + 273.15"},
	{"75 °F", Temperature, 297.0388888888889, "NIST SP 811 (2008), B.8"},
	{"300 K", Temperature, 300, "SI unit"},
	{"9 °F", TemperatureDiff, 5, "NIST SP 811 (2008), B.8: a difference of 1 °F is 5/9 K"},
	{"3 °C", TemperatureDiff, 3, "SI Brochure, 9th ed., 2.3.1"},
	{"180 deg", Angle, math.Pi, "definition"},
	{"180°", Angle, math.Pi, "definition"},
	{"15 %", Ratio, 0.15, "definition"},
	{"7", Ratio, 7, "definition"},
	{"1 d", Time, 86400, "definition"},
	{"90 min", Time, 5400, "definition"},
	{"1.5 h", Time, 5400, "definition"},
	{"250 ms", Time, 0.25, "SI prefix"},
	{"12 µm", Length, 12e-6, "SI prefix, micro sign"},
	{"12 μm", Length, 12e-6, "SI prefix, Greek mu"},
	{"12 um", Length, 12e-6, "SI prefix"},
	{"12 micron", Length, 12e-6, "NIST SP 811 (2008), B.8"},
	{"2.7 g/cm3", Density, 2700, "SI prefix"},
	{"1 ml", Volume, 1e-6, "SI prefix"},
	{"4 cm2", Area, 4e-4, "SI prefix"},
	{"1 W/cm²", HeatFlux, 1e4, "SI prefix"},
	{"1 kJ", Energy, 1000, "SI prefix"},
	{"120 J/K", HeatCapacity, 120, "SI unit"},
	{"920 mA", Current, 0.92, "SI unit"},
	{"5.08 V", Voltage, 5.08, "SI unit"},
	{"2.5 °C/W", Resistance, 2.5, "a Celsius degree is a kelvin as a difference"},
	{"1e-3 m", Length, 1e-3, "notation"},
	{"1.5E+2 mm", Length, 0.15, "notation"},
	{".5 mm", Length, 0.5e-3, "notation"},
	{"5. mm", Length, 5e-3, "notation"},
	{"+5 mm", Length, 5e-3, "notation"},
	{"−5 mm", Length, -5e-3, "Unicode minus"},
	{"24\u00a0°C", Temperature, 297.15, "no-break space"},
}

// TestConversions checks factors against the published ones.
func TestConversions(t *testing.T) {
	for _, c := range conversions {
		q, err := Parse(c.text, c.dim)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if q.Kind != Exact || !near(q.Mid, c.wantSI) || q.Lo != q.Mid || q.Hi != q.Mid || q.Doubtful() {
			t.Errorf("%s = %v (%v..%v), want %v [%s]", c.text, q.Mid, q.Lo, q.Hi, c.wantSI, c.source)
		}
	}
}

// TestSpellings checks that each way to write a unit is read as the same unit.
func TestSpellings(t *testing.T) {
	for _, c := range []struct {
		dim    Dim
		wantSI float64
		units  string // separated by |
	}{
		{Conductivity, 2, "W/mK|W/(m K)|W/m·K|W/(m·K)|W/m/K|W/m K|W m^-1 K^-1|W/(m*K)|W/m°C"},
		{FilmCoefficient, 2, "W/m2K|W/(m2 K)|W/(m² K)|W/m²K|W/m²·K|W/m2/K|W/(m^2 K)|W/m²°C"},
		{SpecificHeat, 2, "J/kgK|J/(kg K)|J/kg/K|J/(kg·K)|J/kg°C"},
		{AreaResistance, 2, "m2K/W|m² K/W|K m2/W|K·m²/W|m²·°C/W"},
		{AreaResistance, 2e-4, "cm2K/W|K cm2/W|cm² K/W|K·cm²/W"},
		{Temperature, 275.15, "°C|C|degC|deg C|º C|℃"},
		{Velocity, 2, "m/s|m / s"},
		{Density, 2, "kg/m3|kg/m³|kg/m^3"},
	} {
		for _, u := range strings.Split(c.units, "|") {
			q, err := Parse("2 "+u, c.dim)
			if err != nil || !near(q.Mid, c.wantSI) {
				t.Errorf("2 %s as %s = %v, %v; want %v", u, c.dim.Name(), q.Mid, err, c.wantSI)
			}
		}
	}
}

func TestDoubt(t *testing.T) {
	for _, c := range []struct {
		text        string
		dim         Dim
		kind        Kind
		lo, mid, hi float64
	}{
		{"3.4 W ± 15 %", Power, Spread, 2.89, 3.4, 3.91},
		{"3.4 W +/- 15%", Power, Spread, 2.89, 3.4, 3.91},
		{"3.4 W +- 0.2 W", Power, Spread, 3.2, 3.4, 3.6},
		{"3.4W±0.2", Power, Spread, 3.2, 3.4, 3.6},
		{"3.4 W ± 200 mW", Power, Spread, 3.2, 3.4, 3.6},
		{"-2 W ± 50 %", Power, Spread, -3, -2, -1},
		{"93 °C ± 3 K", Temperature, Spread, 363.15, 366.15, 369.15},
		{"93 °C ± 3 °C", Temperature, Spread, 363.15, 366.15, 369.15},
		{"93 °C ± 3", Temperature, Spread, 363.15, 366.15, 369.15},
		{"200 °F ± 9", Temperature, Spread, 361.4833333333333, 366.4833333333333, 371.4833333333333}, // 9 °F is 5 K
		{"93 °C ± 9 °F", Temperature, Spread, 361.15, 366.15, 371.15},
		{"4 to 5 W", Power, Range, 4, 4.5, 5},
		{"4 W to 5 W", Power, Range, 4, 4.5, 5},
		{"4..5 W", Power, Range, 4, 4.5, 5},
		{"4 .. 5 W", Power, Range, 4, 4.5, 5},
		{"4 W…5 W", Power, Range, 4, 4.5, 5},
		{"90 s to 2 min", Time, Range, 90, 105, 120},
		{"20to30min", Time, Range, 1200, 1500, 1800},
		{"20 to 25 °C", Temperature, Range, 293.15, 295.65, 298.15},
		{"-1 to 3 mm", Length, Range, -1e-3, 1e-3, 3e-3},
		{"1 to 100 W", Power, Range, 1, 10, 100}, // wide and positive: geometric middle
		{"5 to 5 W", Power, Range, 5, 5, 5},
		{"90 % ± 5 %", Ratio, Spread, 0.85, 0.90, 0.95}, // points
		{"0.90 ± 5 %", Ratio, Spread, 0.855, 0.90, 0.945},
		{"0.90 ± 0.05", Ratio, Spread, 0.85, 0.90, 0.95},
		{"50 to 60 %", Ratio, Range, 0.5, 0.55, 0.6},
	} {
		q, err := Parse(c.text, c.dim)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if q.Kind != c.kind || q.Dim != c.dim || !near(q.Lo, c.lo) || !near(q.Mid, c.mid) || !near(q.Hi, c.hi) {
			t.Errorf("%s = kind %d, %v %v %v; want kind %d, %v %v %v", c.text, q.Kind, q.Lo, q.Mid, q.Hi, c.kind, c.lo, c.mid, c.hi)
		}
		if q.Text != c.text {
			t.Errorf("%s: Text is %q", c.text, q.Text)
		}
	}
}

func TestUnknown(t *testing.T) {
	for d := Dim(0); d < numDims; d++ {
		q, err := Parse(" Unknown ", d)
		if err != nil || q.Kind != Unknown || !q.Doubtful() || !(q.Lo <= q.Mid && q.Mid <= q.Hi) || q.Dim != d {
			t.Errorf("unknown %s = %+v, %v", d.Name(), q, err)
		}
		if ex, err := Parse(strings.Split(d.Example(), " or ")[0], d); err != nil || ex.Kind != Exact {
			t.Errorf("the example of %s does not read: %v", d.Name(), err)
		}
		for _, u := range d.Units() {
			if _, err := Parse("1 "+u, d); err != nil {
				t.Errorf("the unit %s of %s does not read: %v", u, d.Name(), err)
			}
		}
	}
}

// TestTrouble checks that each mistake is found where it is and answered with what to do.
func TestTrouble(t *testing.T) {
	for _, c := range []struct {
		text       string
		dim        Dim
		offset     int
		what, hint string // parts of them
	}{
		{"", Power, 0, "nothing", ""},
		{"W", Power, 0, "a number should stand", ""},
		{"12", Length, 2, "unit is missing", "write 12 mm, 12 cm or 12 m"},
		{"0.5", Temperature, 3, "unit is missing", "0.5 °C"},
		{"3 to 5", Power, 6, "unit is missing", "5 W"},
		{"1,5 mm", Length, 1, "comma", "1.5"},
		{"1,500 W", Power, 1, "comma", "1500 if thousands"},
		{"12 m", Time, 3, "m is a unit of length", "write min"},
		{"2600 mAh", Energy, 5, "charge", "2600 mAh at 3.7 V is 9.62 Wh"},
		{"2.6 Ah", Energy, 4, "charge", "9.62 Wh"},
		{"3 MW", Power, 2, "not a unit", "did you mean mW?"},
		{"3 mmm", Length, 2, "not a unit", "did you mean mm?"},
		{"3 furlong", Length, 2, "not a unit", "units that would do: mm, cm"},
		{"0.2 W/mK", FilmCoefficient, 4, "unit of conductivity", "W/(m² K)"},
		{"3-5 W", Power, 1, "left over", `"to"`},
		{"3 – 5 W", Power, 2, "left over", `"to"`},
		{"1 h 30 min", Time, 4, "left over", "90 min"},
		{"3 mm x 4 mm", Length, 5, "left over", "not several"},
		{"5 to 3 W", Power, 5, "downwards", "smaller"},
		{"5 W ± -1 W", Power, 7, "negative", ""},
		{"5 W ±", Power, 6, "missing at the end", ""},
		{"5 W ± 1 kg", Power, 9, "unit of mass", "W"},
		{"5 W ± 150 %", Power, 7, "100 %", "range"},
		{"93 °C ± 3 %", Temperature, 12, "no meaning", "kelvin"},
		{"-300 °C", Temperature, 0, "absolute zero", ""},
		{"-3 g", Mass, 0, "negative", ""},
		{"1 g ± 2 g", Mass, 0, "below zero", "range"},
		{"1e999 W", Power, 0, "too large", ""},
		{"1e308 kW", Power, 0, "too large", ""},
		{"about 3 W", Power, 0, "number", "range"},
		{"< 3 W", Power, 0, "number", "range"},
		{"3 to 5 W ± 1 W", Power, 9, "left over", "range has none"},
		{"unknown W", Power, 0, "stands alone", ""},
		{"NaN W", Power, 0, "number", ""},
		{"Inf W", Power, 0, "number", ""},
	} {
		q, err := Parse(c.text, c.dim)
		var pe *ParseError
		if !errors.As(err, &pe) {
			t.Errorf("%q read as %+v, want an error", c.text, q)
			continue
		}
		if pe.Offset != c.offset || !strings.Contains(pe.What, c.what) || !strings.Contains(pe.Hint, c.hint) || pe.Text != c.text || pe.Want == "" {
			t.Errorf("%q: got offset %d, what %q, hint %q; want %d, %q, %q", c.text, pe.Offset, pe.What, pe.Hint, c.offset, c.what, c.hint)
		}
		if q != (Quantity{}) {
			t.Errorf("%q: an error came with a value %+v", c.text, q)
		}
	}
}

func TestParseVec(t *testing.T) {
	for _, c := range []struct {
		text string
		want []float64 // mm
	}{
		{"60 x 90 x 22 mm", []float64{60, 90, 22}},
		{"60 × 90 × 22 mm", []float64{60, 90, 22}},
		{"60x90x22mm", []float64{60, 90, 22}},
		{"60X90X22 mm", []float64{60, 90, 22}},
		{"22 56 15.2 mm", []float64{22, 56, 15.2}},
		{"22, 56, 15.2 mm", []float64{22, 56, 15.2}},
		{"22 mm, 5.6 cm, 1 in", []float64{22, 56, 25.4}},
		{"1 in x 2 x 3 mm", []float64{25.4, 2, 3}},
		{"60mmx90mm", []float64{60, 90}},
		{"-5 -6 7 mm", []float64{-5, -6, 7}},
		{"12 mm", []float64{12}},
	} {
		got, err := ParseVec(c.text, Length)
		if err != nil || len(got) != len(c.want) {
			t.Errorf("%q = %v, %v", c.text, got, err)
			continue
		}
		for i := range got {
			if !near(got[i].Mid, c.want[i]/1000) || got[i].Kind != Exact {
				t.Errorf("%q[%d] = %v, want %v mm", c.text, i, got[i], c.want[i])
			}
		}
	}
	got, err := ParseVec("60 mm ± 0.1 x 80 to 90 x 22 mm", Length)
	if err != nil || len(got) != 3 || got[0].Kind != Spread || !near(got[0].Hi, 60.1e-3) || got[1].Kind != Range || !near(got[1].Hi, 90e-3) || got[2].Kind != Exact {
		t.Errorf("a row with doubt = %v, %v", got, err)
	}
	for text, want := range map[string]string{
		"60 x 90":          "unit is missing",
		"60 mm x 90":       "unit is missing",
		"":                 "nothing",
		"1 x":              "missing at the end",
		"22,56,15 mm":      "comma",
		"60 x 90 mm ± 1":   "which of the numbers",
		"60 ± 1 x 90 mm":   "no unit of its own",
		"60 x 90 x 22 W":   "unit of power",
		"60 mm; 90 mm":     "left over",
		"60 x 1e999 mm":    "too large",
		"60 to 50 x 22 mm": "downwards",
	} {
		q, err := ParseVec(text, Length)
		var pe *ParseError
		if !errors.As(err, &pe) || !strings.Contains(pe.What, want) || q != nil {
			t.Errorf("%q = %v, %v; want an error on %q", text, q, err, want)
		}
	}
}

// TestRoundTrip: what String writes, Parse reads, to the six digits it writes.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dim := Dim(rapid.IntRange(0, int(numDims)-1).Draw(t, "dim"))
		size := math.Pow(10, rapid.Float64Range(-7, 7).Draw(t, "size"))
		if dim == Temperature {
			size = rapid.Float64Range(1, 2000).Draw(t, "K")
		}
		q := ExactSI(size, dim)
		switch rapid.IntRange(0, 2).Draw(t, "kind") {
		case 1:
			half := size * rapid.Float64Range(1e-3, 0.9).Draw(t, "half")
			q = Quantity{Dim: dim, Kind: Spread, Mid: size, Lo: size - half, Hi: size + half}
		case 2:
			q = RangeSI(size, size*rapid.Float64Range(1.01, 100).Draw(t, "ratio"), dim)
		}
		got, err := Parse(q.String(), dim)
		if err != nil {
			t.Fatalf("%v", err)
		}
		tol := 1e-5 * math.Max(math.Abs(q.Hi), math.Abs(q.Lo)) // six digits of the largest number, in its own unit
		if dim == Temperature {
			tol += 1e-5 * zeroCelsiusK
		}
		midTol := tol
		if q.Kind == Range && math.Abs(q.Hi/q.Lo-logRatio) < 1e-5 { // the last digit decides between the two kinds of middle
			midTol = (q.Lo+q.Hi)/2 - math.Sqrt(q.Lo*q.Hi) + tol
		}
		if got.Kind != q.Kind || math.Abs(got.Lo-q.Lo) > tol || math.Abs(got.Hi-q.Hi) > tol || math.Abs(got.Mid-q.Mid) > midTol {
			t.Fatalf("%+v wrote %q, which reads %+v", q, q.String(), got)
		}
	})
}

// FuzzParse: no text makes Parse panic, and what it accepts is a sound quantity.
func FuzzParse(f *testing.F) {
	for _, c := range conversions {
		f.Add(c.text, uint8(c.dim))
	}
	for _, s := range []string{"3.4 W ± 15 %", "3 to 5 W", "3..5 W", "60 x 90 x 22 mm", "22, 56, 15.2 mm", "unknown", "1,5 mm", "93 °C ± 3", "…", "±", "\xff", "1e", "x", "5 to", "--1 mm", "1....2 mm", "0 to 0 W", "0 W ± 0 %"} {
		f.Add(s, uint8(Power))
		f.Add(s, uint8(Temperature))
	}
	f.Fuzz(func(t *testing.T, text string, d uint8) {
		dim := Dim(d % uint8(numDims))
		check := func(q Quantity) {
			for _, v := range []float64{q.Lo, q.Mid, q.Hi} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%q gave %+v", text, q)
				}
			}
			if !(q.Lo <= q.Mid && q.Mid <= q.Hi) || q.Kind == Absent || q.Dim != dim {
				t.Fatalf("%q gave %+v", text, q)
			}
			p := q.Prior()
			if math.IsNaN(p.At(1)) || math.IsNaN(p.At(-1)) || math.IsNaN(p.Score(q.Lo)) {
				t.Fatalf("%q gave a broken prior %+v", text, p)
			}
			if s := FormatInterval(q.Lo, q.Mid, q.Hi, dim); s == "" || !utf8.ValidString(s) {
				t.Fatalf("%q prints %q", text, s)
			}
		}
		if q, err := Parse(text, dim); err == nil {
			check(q)
		} else if pe := (*ParseError)(nil); !errors.As(err, &pe) || pe.Offset < 0 || pe.Offset > len(text) {
			t.Fatalf("%q: error %#v", text, err)
		}
		qs, err := ParseVec(text, dim)
		if err == nil && len(qs) == 0 {
			t.Fatalf("%q gave an empty row", text)
		}
		for _, q := range qs {
			check(q)
		}
	})
}
