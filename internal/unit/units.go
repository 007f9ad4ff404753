package unit

import "strings"

// unitDef is one unit: SI value = (v·mul)/div + addK. Multiplier and divisor are kept apart because 22/1000 is rounded
// correctly and 22·0.001 is not.
type unitDef struct {
	name     string // as printed; "" for a bare number
	mul, div float64
	addK     float64 // what 0 of this unit is in kelvin; only absolute temperatures
	also     string  // other spellings, squeezed (see squeeze), separated by spaces
}

// zeroCelsiusK is 0 °C in kelvin, exact by definition (SI Brochure, 9th ed., 2.3.1).
const zeroCelsiusK = 273.15

// fahrenheitZeroK is 0 °F in kelvin: T/K = (t/°F + 459.67)·5/9 (NIST SP 811, B.8).
const fahrenheitZeroK = 459.67 * 5 / 9

// Factors: NIST Special Publication 811 (2008), appendix B: inch 0.0254 m, foot 0.3048 m, ounce 0.028349523125 kg, pound
// 0.45359237 kg, mile 1609.344 m, kilogram-force 9.80665 N, pound-force 4.4482216152605 N, psi 6894.757 Pa (all exact but
// the last).
var units = [numDims][]unitDef{
	Length: {
		{"mm", 1, 1e3, 0, "millimetre millimetres millimeter millimeters"}, {"cm", 1, 1e2, 0, ""}, {"m", 1, 1, 0, "metre metres meter meters"},
		{"µm", 1, 1e6, 0, "um micron microns"}, {"in", 0.0254, 1, 0, `inch inches " ″ ''`}, {"ft", 0.3048, 1, 0, "foot feet"},
		{"km", 1e3, 1, 0, ""},
	},
	Area:   {{"cm²", 1, 1e4, 0, "cm2"}, {"mm²", 1, 1e6, 0, "mm2"}, {"m²", 1, 1, 0, "m2"}, {"in²", 0.0254 * 0.0254, 1, 0, "in2"}},
	Volume: {{"cm³", 1, 1e6, 0, "cm3 cc"}, {"ml", 1, 1e6, 0, "mL"}, {"mm³", 1, 1e9, 0, "mm3"}, {"l", 1, 1e3, 0, "L litre liter"}, {"m³", 1, 1, 0, "m3"}},
	Mass:   {{"g", 1, 1e3, 0, "gram grams"}, {"kg", 1, 1, 0, ""}, {"mg", 1, 1e6, 0, ""}, {"oz", 0.028349523125, 1, 0, "ounce ounces"}, {"lb", 0.45359237, 1, 0, "lbs pound pounds"}},
	Time: {
		{"min", 60, 1, 0, "minute minutes mins"}, {"s", 1, 1, 0, "sec second seconds secs"}, {"h", 3600, 1, 0, "hr hrs hour hours"},
		{"ms", 1, 1e3, 0, ""}, {"d", 86400, 1, 0, "day days"},
	},
	Power:       {{"W", 1, 1, 0, "watt watts"}, {"mW", 1, 1e3, 0, ""}, {"kW", 1e3, 1, 0, ""}},
	Energy:      {{"Wh", 3600, 1, 0, "Whr"}, {"J", 1, 1, 0, "Ws joule joules"}, {"kJ", 1e3, 1, 0, ""}, {"mWh", 3.6, 1, 0, ""}, {"kWh", 3.6e6, 1, 0, ""}},
	Temperature: {{"°C", 1, 1, zeroCelsiusK, "C degC ℃ celsius Celsius"}, {"K", 1, 1, 0, "kelvin"}, {"°F", 5, 9, fahrenheitZeroK, "F degF ℉ fahrenheit Fahrenheit"}},
	TemperatureDiff: {
		{"K", 1, 1, 0, "kelvin"}, {"°C", 1, 1, 0, "C degC ℃ celsius Celsius"}, {"°F", 5, 9, 0, "F degF ℉ fahrenheit Fahrenheit"},
	},
	Velocity:        {{"m/s", 1, 1, 0, ""}, {"km/h", 1, 3.6, 0, "kmh kph"}, {"mph", 1609.344, 3600, 0, ""}, {"cm/s", 1, 1e2, 0, ""}, {"ft/s", 0.3048, 1, 0, ""}},
	Angle:           {{"deg", degree, 1, 0, "° degree degrees"}, {"rad", 1, 1, 0, ""}},
	Ratio:           {{"", 1, 1, 0, ""}, {"%", 1, 1e2, 0, "percent"}},
	Pressure:        {{"kPa", 1e3, 1, 0, ""}, {"MPa", 1e6, 1, 0, "N/mm2"}, {"Pa", 1, 1, 0, "N/m2"}, {"bar", 1e5, 1, 0, ""}, {"mbar", 1e2, 1, 0, "hPa"}, {"psi", 6894.757, 1, 0, ""}},
	Conductivity:    {{"W/(m K)", 1, 1, 0, "W/mK Wm-1K-1"}, {"mW/(m K)", 1, 1e3, 0, "mW/mK"}, {"W/(cm K)", 1e2, 1, 0, "W/cmK"}},
	SpecificHeat:    {{"J/(kg K)", 1, 1, 0, "J/kgK Jkg-1K-1"}, {"kJ/(kg K)", 1e3, 1, 0, "kJ/kgK"}, {"J/(g K)", 1e3, 1, 0, "J/gK"}},
	Density:         {{"kg/m³", 1, 1, 0, "kg/m3"}, {"g/cm³", 1e3, 1, 0, "g/cm3 g/cc g/ml g/mL"}},
	FilmCoefficient: {{"W/(m² K)", 1, 1, 0, "W/m2K Wm-2K-1"}, {"W/(cm² K)", 1e4, 1, 0, "W/cm2K"}, {"kW/(m² K)", 1e3, 1, 0, "kW/m2K"}},
	AreaResistance: {
		{"cm² K/W", 1, 1e4, 0, "cm2K/W Kcm2/W"}, {"m² K/W", 1, 1, 0, "m2K/W Km2/W"}, {"mm² K/W", 1, 1e6, 0, "mm2K/W Kmm2/W"},
	},
	Resistance:   {{"K/W", 1, 1, 0, "C/W"}, {"K/mW", 1e3, 1, 0, ""}},
	HeatFlux:     {{"W/m²", 1, 1, 0, "W/m2"}, {"W/cm²", 1e4, 1, 0, "W/cm2"}, {"kW/m²", 1e3, 1, 0, "kW/m2"}, {"mW/cm²", 10, 1, 0, "mW/cm2"}},
	HeatCapacity: {{"J/K", 1, 1, 0, ""}, {"kJ/K", 1e3, 1, 0, ""}, {"Wh/K", 3600, 1, 0, ""}},
	Current:      {{"A", 1, 1, 0, "amp amps ampere amperes"}, {"mA", 1, 1e3, 0, ""}},
	Voltage:      {{"V", 1, 1, 0, "volt volts"}, {"mV", 1, 1e3, 0, ""}},
	Force:        {{"N", 1, 1, 0, ""}, {"kN", 1e3, 1, 0, ""}, {"kgf", 9.80665, 1, 0, ""}, {"lbf", 4.4482216152605, 1, 0, ""}},
}

const degree = 0.017453292519943295769 // rad, π/180

// spellings maps every squeezed spelling of a dimension to its unit.
var spellings = func() (out [numDims]map[string]*unitDef) {
	for d := range units {
		out[d] = map[string]*unitDef{}
		for i := range units[d] {
			u := &units[d][i]
			for _, s := range append(strings.Fields(u.also), u.name) {
				key := squeeze(s)
				if old, taken := out[d][key]; taken && old != u {
					panic("unit: two units are both written " + key)
				}
				out[d][key] = u
			}
		}
	}
	return out
}()

var respell = strings.NewReplacer("²", "2", "³", "3", "μ", "µ", "º", "°", "·", "", "⋅", "", "∙", "", "*", "", "(", "", ")", "", "^", "", "−", "-", "⁻¹", "-1", "⁻²", "-2")

// squeeze brings the many ways to write one unit together: W/mK, W/(m K), W/m·K, W/m/K become "W/mK", m² becomes m2, and a
// degree Celsius below a fraction bar is a kelvin. Upper and lower case stay apart: mW is not MW.
func squeeze(s string) string {
	s = respell.Replace(strings.Join(strings.Fields(s), ""))
	s = strings.Replace(s, "µm", "um", 1)
	if num, den, ok := strings.Cut(s, "/"); ok && num != "" {
		s = num + "/" + strings.ReplaceAll(den, "/", "")
		for _, c := range []string{"°C", "℃", "degC"} {
			s = strings.ReplaceAll(s, c, "K")
		}
	}
	return s
}

// si converts a number in this unit.
func (u *unitDef) si(v float64) float64 { return v*u.mul/u.div + u.addK }

// diff converts a difference in this unit.
func (u *unitDef) diff(v float64) float64 { return v * u.mul / u.div }

// from converts back.
func (u *unitDef) from(si float64) float64 { return (si - u.addK) * u.div / u.mul }

// fromDiff converts a difference back.
func (u *unitDef) fromDiff(si float64) float64 { return si * u.div / u.mul }
