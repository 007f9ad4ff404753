package unit

import (
	"math"
	"testing"
)

func TestFormat(t *testing.T) {
	for _, c := range []struct {
		si   float64
		dim  Dim
		want string
	}{
		{0.012, Length, "12 mm"}, {0.0152, Length, "15.2 mm"}, {30e-6, Length, "30 µm"}, {1500, Length, "1500 m"}, {0, Length, "0 mm"},
		{-0.0005, Length, "-0.5 mm"},
		{5400, Time, "90 min"}, {1530, Time, "25.5 min"}, {90, Time, "90 s"}, {0.02, Time, "20 ms"}, {86400, Time, "24 h"},
		{366.15, Temperature, "93 °C"}, {297.0388, Temperature, "23.9 °C"}, {268.15, Temperature, "-5 °C"}, {273.14, Temperature, "0 °C"},
		{12.34, TemperatureDiff, "12.3 K"}, {0.0123, TemperatureDiff, "0.0123 K"},
		{3.4567, Power, "3.46 W"}, {0.0421, Power, "42.1 mW"}, {36000, Energy, "10 Wh"}, {100, Energy, "100 J"},
		{0.0853, Mass, "85.3 g"}, {0.9, Ratio, "0.9"}, {2700, Density, "2700 kg/m³"}, {167, Conductivity, "167 W/(m K)"},
		{12345.6, FilmCoefficient, "12300 W/(m² K)"}, {1.91886e-4, AreaResistance, "1.92 cm² K/W"},
		{math.NaN(), Time, "–"}, {math.Inf(1), Time, "∞ h"},
	} {
		if got := Format(c.si, c.dim); got != c.want {
			t.Errorf("Format(%v, %s) = %q, want %q", c.si, c.dim.Name(), got, c.want)
		}
	}
}

func TestFormatInterval(t *testing.T) {
	for _, c := range []struct {
		lo, mid, hi float64
		dim         Dim
		want        string
	}{
		{1200, 1481.7, 1800, Time, "25 min (20 to 30)"},
		{2.89, 3.4, 3.91, Power, "3.4 W (2.9 to 3.9)"},
		{123.4, 187.6, 256.7, HeatCapacity, "190 J/K (120 to 260)"},
		{363.15, 366.15, 369.15, Temperature, "93 °C (90 to 96)"},
		{314.03, 314.4567, 314.9, Temperature, "41.3 °C (40.9 to 41.8)"},
		{50, 1000, 20000, FilmCoefficient, "1000 W/(m² K) (50 to 20000)"},
		{0.1, 1.2247, 15, Power, "1.2 W (0.1 to 15)"},
		{3, 3, 3, Power, "3 W"},
		{1200, 1500, math.Inf(1), Time, "25 min (20 to ∞)"},
	} {
		if got := FormatInterval(c.lo, c.mid, c.hi, c.dim); got != c.want {
			t.Errorf("FormatInterval(%v, %v, %v, %s) = %q, want %q", c.lo, c.mid, c.hi, c.dim.Name(), got, c.want)
		}
	}
}

func TestString(t *testing.T) {
	for _, c := range []struct {
		text string
		dim  Dim
		want string
	}{
		{"3.4 W ± 15 %", Power, "3.4 W ± 0.51 W"},
		{"200 °F ± 9 °F", Temperature, "93.3333 °C ± 5 K"},
		{"3..5 W", Power, "3 to 5 W"},
		{"90 % ± 5 %", Ratio, "0.9 ± 0.05"},
		{"unknown", Power, "unknown"},
	} {
		q, err := Parse(c.text, c.dim)
		if err != nil || q.String() != c.want {
			t.Errorf("%s prints %q (%v), want %q", c.text, q.String(), err, c.want)
		}
	}
	if s := (Quantity{}).String(); s != "" {
		t.Errorf("absent prints %q", s)
	}
}
