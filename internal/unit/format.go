package unit

import (
	"math"
	"strconv"
	"strings"
)

// rung is a display unit used from a size on.
type rung struct {
	from float64 // smallest |SI| shown in it
	unit string
}

// ladders pick the unit a person at a bench would use, largest first. The last rung takes all that is smaller.
var ladders = [numDims][]rung{
	Length:          {{10e3, "km"}, {1, "m"}, {0.1e-3, "mm"}, {0, "µm"}},
	Area:            {{1, "m²"}, {1e-4, "cm²"}, {0, "mm²"}},
	Volume:          {{1, "m³"}, {0.1e-6, "cm³"}, {0, "mm³"}},
	Mass:            {{10, "kg"}, {0.1e-3, "g"}, {0, "mg"}},
	Time:            {{36000, "h"}, {120, "min"}, {1, "s"}, {0, "ms"}},
	Power:           {{10e3, "kW"}, {0.1, "W"}, {0, "mW"}},
	Energy:          {{3.6e6, "kWh"}, {360, "Wh"}, {0, "J"}},
	Temperature:     {{0, "°C"}},
	TemperatureDiff: {{0, "K"}},
	Velocity:        {{0, "m/s"}},
	Angle:           {{0, "deg"}},
	Ratio:           {{0, ""}},
	Pressure:        {{1e6, "MPa"}, {1e3, "kPa"}, {0, "Pa"}},
	Conductivity:    {{0, "W/(m K)"}},
	SpecificHeat:    {{0, "J/(kg K)"}},
	Density:         {{0, "kg/m³"}},
	FilmCoefficient: {{0, "W/(m² K)"}},
	AreaResistance:  {{0, "cm² K/W"}},
	Resistance:      {{0, "K/W"}},
	HeatFlux:        {{0, "W/m²"}},
	HeatCapacity:    {{0, "J/K"}},
	Current:         {{0.1, "A"}, {0, "mA"}},
	Voltage:         {{0.1, "V"}, {0, "mV"}},
	Force:           {{0, "N"}},
}

// shown is the unit a value is printed in.
func shown(si float64, dim Dim) *unitDef {
	name := ""
	if si == 0 && len(ladders[dim]) > 1 {
		name = dim.Units()[0] // 0 mm, not 0 µm
	} else {
		for _, r := range ladders[dim] {
			if name = r.unit; math.Abs(si) >= r.from*(1-1e-9) {
				break
			}
		}
	}
	return spellings[dim][squeeze(name)]
}

// Format prints an SI value with the unit a person at a bench would use and three significant digits (temperatures to
// 0.1 °C, whole numbers below 10 000 in full). A value that is not a number prints as "–", an infinite one as "∞" with its unit.
func Format(si float64, dim Dim) string {
	u := shown(si, dim)
	if math.IsNaN(si) {
		return "–"
	}
	return join(number(u.from(si), dim), u.name)
}

func number(v float64, dim Dim) string {
	switch {
	case math.IsNaN(v):
		return "–"
	case math.IsInf(v, 0):
		return strings.Repeat("-", b2i(v < 0)) + "∞"
	case dim == Temperature || dim == TemperatureDiff && math.Abs(v) >= 1:
		return fixed(v, 0.1)
	case v == 0:
		return "0"
	}
	step := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-2)
	if a := math.Abs(v); a < 1e4 {
		step = math.Min(step, 1)
	}
	return fixed(v, step)
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// FormatInterval prints a middle and its interval once, to no more digits than the interval deserves: the last digit shown
// is at least a thirtieth of the half width, and ends far apart have two significant digits each.
// "25 min (20 to 30)". Without width it is Format.
func FormatInterval(lo, mid, hi float64, dim Dim) string {
	if !(hi > lo) || math.IsNaN(mid) {
		return Format(mid, dim)
	}
	u := shown(mid, dim)
	a, m, b := u.from(lo), u.from(mid), u.from(hi)
	half := (b - a) / 2
	step := decade(half / 3)
	say := func(v float64) string {
		if math.IsInf(v, 0) || math.IsInf(half, 0) {
			return number(v, dim)
		}
		if a > 0 && b > 3*a && v != 0 {
			return fixed(v, math.Min(step, decade(v)/10))
		}
		return fixed(v, step)
	}
	return join(say(m), u.name) + " (" + say(a) + " to " + say(b) + ")"
}

// decade is the power of ten at or below |v|.
func decade(v float64) float64 { return math.Pow(10, math.Floor(math.Log10(math.Abs(v)))) }

// fixed rounds v to a multiple of step, a power of ten, and drops zeros after the point.
func fixed(v, step float64) string {
	places := int(math.Round(-math.Log10(step)))
	if places > 12 || places < -12 {
		return strconv.FormatFloat(v, 'g', 3, 64)
	}
	if places < 0 {
		s := strconv.FormatFloat(math.Round(v/step)*step, 'f', 0, 64)
		return plainZero(s)
	}
	s := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return plainZero(s)
}

func plainZero(s string) string {
	if s == "-0" {
		return "0"
	}
	return s
}

func join(num, name string) string {
	if name == "" {
		return num
	}
	return num + " " + name
}

// trim prints a number as short as it can be told apart to six digits.
func trim(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// String writes the quantity so that Parse reads it back, to six significant digits. It does not repeat Text, so a quantity
// whose numbers were changed prints the new ones. An absent quantity is "".
func (q Quantity) String() string {
	u := shown(q.Mid, q.Dim)
	num := func(si float64) string { return trim(u.from(si)) }
	switch q.Kind {
	case Absent:
		return ""
	case Unknown:
		return "unknown"
	case Exact:
		return join(num(q.Mid), u.name)
	}
	half := (q.Hi - q.Lo) / 2
	if uneven := math.Abs(q.Mid-q.Lo-half) > 1e-9*(math.Abs(q.Mid)+half); q.Kind == Range || uneven {
		u = shown(math.Max(math.Abs(q.Lo), math.Abs(q.Hi)), q.Dim)
		return num(q.Lo) + " to " + join(num(q.Hi), u.name)
	}
	name := u.name
	if q.Dim == Temperature {
		name = "K"
	}
	return join(num(q.Mid), u.name) + " ± " + join(trim(u.fromDiff(half)), name)
}
