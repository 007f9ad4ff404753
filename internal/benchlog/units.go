package benchlog

import (
	"strings"
	"unicode"
)

// Kind is what sort of quantity a column has.
type Kind string

// The kinds of quantity that loggers write. Values are handed on in the unit behind each.
const (
	Temperature Kind = "temperature" // K
	Duration    Kind = "time"        // s
	Voltage     Kind = "voltage"     // V
	Current     Kind = "current"     // A
	Power       Kind = "power"       // W
	Resistance  Kind = "resistance"  // Ω
	Frequency   Kind = "frequency"   // Hz
	Humidity    Kind = "humidity"    // as a share of 1
	Share       Kind = "share"       // of 1
	Number      Kind = "number"      // as written, in no unit or one that is not known here
)

// Unit is a unit as a logger writes it: SI value = written · scale + shift.
type Unit struct {
	Name         string // as we write it
	Kind         Kind
	scale, shift float64
}

// SI converts a written value.
func (u Unit) SI(x float64) float64 { return x*u.scale + u.shift }

// Written converts back.
func (u Unit) Written(si float64) float64 { return (si - u.shift) / u.scale }

// The Celsius scale is T − 273.15 K and the Fahrenheit scale (t/°C)·9/5 + 32: SI Brochure, 9th ed., 2.3.1; NIST SP 811, B.8.
var (
	celsius    = Unit{"°C", Temperature, 1, 273.15}
	fahrenheit = Unit{"°F", Temperature, 5. / 9, 273.15 - 32*5./9}
	kelvin     = Unit{"K", Temperature, 1, 0}
	seconds    = Unit{"s", Duration, 1, 0}
	plain      = Unit{"", Number, 1, 0}
)

// unitSpellings maps what is left of a unit's text after squeezeUnit.
var unitSpellings = map[string]Unit{
	"c": celsius, "degc": celsius, "celsius": celsius, "degreesc": celsius, "degreec": celsius, "degcelsius": celsius, "gradc": celsius, "degreescelsius": celsius,
	"f": fahrenheit, "degf": fahrenheit, "fahrenheit": fahrenheit, "degreesf": fahrenheit, "degreef": fahrenheit, "degfahrenheit": fahrenheit, "degreesfahrenheit": fahrenheit,
	"K": kelvin, "kelvin": kelvin, "degk": kelvin,
	"s": seconds, "sec": seconds, "secs": seconds, "second": seconds, "seconds": seconds, "sek": seconds, "sekunden": seconds,
	"ms": {"ms", Duration, 1e-3, 0}, "msec": {"ms", Duration, 1e-3, 0}, "milliseconds": {"ms", Duration, 1e-3, 0},
	"us":  {"µs", Duration, 1e-6, 0},
	"min": {"min", Duration, 60, 0}, "mins": {"min", Duration, 60, 0}, "minute": {"min", Duration, 60, 0}, "minutes": {"min", Duration, 60, 0}, "minuten": {"min", Duration, 60, 0},
	"h": {"h", Duration, 3600, 0}, "hr": {"h", Duration, 3600, 0}, "hrs": {"h", Duration, 3600, 0}, "hour": {"h", Duration, 3600, 0}, "hours": {"h", Duration, 3600, 0}, "stunden": {"h", Duration, 3600, 0},
	"v": {"V", Voltage, 1, 0}, "volt": {"V", Voltage, 1, 0}, "volts": {"V", Voltage, 1, 0},
	"mV": {"mV", Voltage, 1e-3, 0}, "millivolts": {"mV", Voltage, 1e-3, 0}, "uv": {"µV", Voltage, 1e-6, 0},
	"a": {"A", Current, 1, 0}, "amp": {"A", Current, 1, 0}, "amps": {"A", Current, 1, 0}, "mA": {"mA", Current, 1e-3, 0}, "ua": {"µA", Current, 1e-6, 0},
	"w": {"W", Power, 1, 0}, "watt": {"W", Power, 1, 0}, "watts": {"W", Power, 1, 0}, "mW": {"mW", Power, 1e-3, 0},
	"ohm": {"Ω", Resistance, 1, 0}, "ohms": {"Ω", Resistance, 1, 0}, "kohm": {"kΩ", Resistance, 1e3, 0}, "Mohm": {"MΩ", Resistance, 1e6, 0},
	"hz": {"Hz", Frequency, 1, 0}, "khz": {"kHz", Frequency, 1e3, 0}, "r/s": {"1/s", Frequency, 1, 0}, "rpm": {"1/min", Frequency, 1. / 60, 0}, "1/s": {"1/s", Frequency, 1, 0}, "1/min": {"1/min", Frequency, 1. / 60, 0},
	"%": {"%", Share, .01, 0}, "percent": {"%", Share, .01, 0}, "pct": {"%", Share, .01, 0},
	"%humidity": {"% humidity", Humidity, .01, 0}, "%rh": {"% humidity", Humidity, .01, 0}, "rh": {"% humidity", Humidity, .01, 0}, "%rf": {"% humidity", Humidity, .01, 0}, "%r.h.": {"% humidity", Humidity, .01, 0},
}

// parseUnit reads a unit's text. The degree sign may be any of the things that wrong encodings make of it: whatever is not
// ASCII before a C or an F is taken as a degree sign.
func parseUnit(text string) (Unit, bool) {
	s := strings.TrimSpace(text)
	if len(s) > 40 {
		return Unit{}, false
	}
	for len(s) > 1 && (s[0] == '[' && s[len(s)-1] == ']' || s[0] == '(' && s[len(s)-1] == ')') {
		s = strings.TrimSpace(s[1 : len(s)-1])
	}
	switch s {
	case "℃", "\u0081Ž", "\x81\x8e": // the last two: one sign of a Japanese code page
		return celsius, true
	case "℉":
		return fahrenheit, true
	}
	s = strings.NewReplacer("Ω", "ohm", "Ω", "ohm", "µ", "u", "μ", "u", "Âµ", "u").Replace(s)
	junk, ascii := 0, strings.Builder{}
	for _, r := range s {
		switch {
		case r == '?' || r > unicode.MaxASCII || r < ' ':
			junk++
		case r != ' ' && r != '_' && r != '*' && r != '.':
			ascii.WriteRune(r)
		}
	}
	s = ascii.String()
	if junk > 0 && s != "C" && s != "F" && s != "c" && s != "f" && s != "K" || junk > 6 {
		return Unit{}, false
	}
	// Upper and lower case tell K from k, mV from MV: a few units are looked up as they stand first.
	if u, ok := unitSpellings[s]; ok && len(s) > 0 {
		return u, ok
	}
	low := strings.ToLower(s)
	if low == "k" {
		return Unit{}, false
	}
	for _, exact := range []string{"mV", "mA", "mW"} {
		if low == strings.ToLower(exact) {
			return unitSpellings[exact], true
		}
	}
	u, ok := unitSpellings[low]
	return u, ok
}

// splitUnit takes a heading apart: "T1 [°C]", "T1 (degC)", "T1/°C", "T1, °C", "T1_degC", "T1 °C".
func splitUnit(h string) (name string, u Unit, ok bool) {
	h = strings.TrimSpace(h)
	for _, pair := range []string{"[]", "()", "{}"} {
		open := strings.LastIndexByte(h, pair[0])
		if open < 0 || !strings.HasSuffix(h, pair[1:]) {
			continue
		}
		if u, ok = parseUnit(h[open+1 : len(h)-1]); ok {
			return strings.TrimRight(strings.TrimSpace(h[:open]), " ,;:/_-"), u, true
		}
	}
	for _, sep := range []string{"/", ", ", " in ", "_", " "} {
		i := strings.LastIndex(h, sep)
		if i <= 0 {
			continue
		}
		tail := h[i+len(sep):]
		// A lone letter after a space or a low line may be a name ("probe C"): only one that is a degree or a long unit counts,
		// but "Temp_C", "temp F" and "T1 C" are how many loggers write it.
		if u, ok = parseUnit(tail); ok && (len(tail) > 1 || sep == "/" || sep == ", " || sep == " in " || (u.Kind == Temperature || u.Kind == Duration) && looksLike(h[:i], timeWords, temperatureWords) || u.Kind == Temperature && plainChannelNumbered(h[:i])) {
			return strings.TrimRight(strings.TrimSpace(h[:i]), " ,;:/_-"), u, true
		}
	}
	return h, Unit{}, false
}
