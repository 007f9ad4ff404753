package benchlog

import (
	"bytes"
	"math"
	"strings"
)

// Reason tells why a reading is missing.
type Reason uint8

// The reasons. Present is the absence of one.
const (
	Present      Reason = iota
	Blank               // nothing written
	NotANumber          // nan, NULL
	OpenSensor          // OPEN, ----, or a number that stands for an open circuit
	AboveRange          // OL, inf, 9.99999999e+37
	BelowRange          // -inf, UNDER
	SensorError         // Err, FAIL
	CodeNumber          // a number that is known to stand for a missing or dead sensor: -9999, 850, 1372
	HeldCode            // 0, 85 or 100 °C, reached in one step of more than 15 K or all the time
	OutOfRange          // a temperature that nothing hand-sized has: below -100 °C or above 700 °C
	UnknownText         // a word that is no number and no known code
	OtherUnit           // this row is in the unit of another quantity
	NoConversion        // a thermocouple voltage that could not be turned into a temperature
	numReasons
)

var reasonWords = [numReasons]string{"present", "empty field", "not a number", "open or missing sensor", "above the range", "below the range",
	"sensor error", "number that stands for a dead sensor", "held value that stands for no sensor", "out of any possible range",
	"text that is not understood", "row in the unit of another quantity", "voltage without a temperature"}

func (r Reason) String() string { return reasonWords[r] }

// textCodes are written by loggers in place of a reading; upper case.
var textCodes = map[string]Reason{
	"NAN": NotANumber, "NA": NotANumber, "N/A": NotANumber, "#N/A": NotANumber, "NULL": NotANumber, "NONE": NotANumber, "-NAN": NotANumber, "NAN(IND)": NotANumber, "-NAN(IND)": NotANumber,
	"OPEN": OpenSensor, "OPN": OpenSensor, "BURNOUT": OpenSensor, "B.OUT": OpenSensor, "BO": OpenSensor, "NC": OpenSensor, "N.C.": OpenSensor, "NO SENSOR": OpenSensor, "NO PROBE": OpenSensor,
	"OPEN CIRCUIT": OpenSensor, "DISCONNECTED": OpenSensor, "UNPLUGGED": OpenSensor,
	"OL": AboveRange, "O.L": AboveRange, "O.L.": AboveRange, "0L": AboveRange, "OVER": AboveRange, "OVERLOAD": AboveRange, "OVERFLOW": AboveRange, "OVERRANGE": AboveRange, "INF": AboveRange, "+INF": AboveRange, "+OL": AboveRange, "+OVER": AboveRange,
	"HI": AboveRange, "INFINITY": AboveRange, "1.#INF": AboveRange, "+++++": AboveRange, "++++": AboveRange,
	"-INF": BelowRange, "-INFINITY": BelowRange, "UNDER": BelowRange, "UNDERRANGE": BelowRange, "LO": BelowRange, "-OL": BelowRange, "-OVER": BelowRange, "UR": BelowRange,
	"ERR": SensorError, "ERROR": SensorError, "FAIL": SensorError, "FAULT": SensorError, "BAD": SensorError, "E": SensorError, "#VALUE!": SensorError, "SHORT": SensorError, "INVALID": SensorError,
}

// textCode recognises a code that is no number.
func textCode(f []byte) (Reason, bool) {
	f = bytes.Trim(f, " '\"[]")
	if len(f) == 0 {
		return Blank, true
	}
	if len(f) > 16 {
		return 0, false
	}
	if f[0] == '-' || f[0] == '*' || f[0] == '_' || f[0] == '?' { // --, ----, --.-, *****
		rest := bytes.Trim(f, "-*_?. ")
		if len(rest) == 0 {
			return OpenSensor, true
		}
	}
	if f[0] >= '0' && f[0] <= '9' && f[0] != '0' && f[0] != '1' {
		return 0, false
	}
	up := strings.ToUpper(string(f))
	if r, ok := textCodes[up]; ok {
		return r, true
	}
	if strings.HasPrefix(up, "ERR") || strings.HasPrefix(up, "E-") { // Err2, ERR 07, E-01
		return SensorError, true
	}
	return 0, false
}

// codeNumbers are written as temperatures, in whatever unit, and are none. They are ends of ranges, full words of a converter,
// and what programmers choose for "no probe"; seen in users' files, no other source.
var codeNumbers = [...]float64{-9999, 9999, -999.9, 999.9, -999, 999, 999.99, -888, 8888, 32767, -32768, 3276.7, -3276.8, 327.67, -327.68, 65535, 6553.5,
	655.35, 850, 1372, 1768, 1800, 800, 1820, 400, 399.984, -250, -2040, -2048, 2047.75, 2047.9375, -127, 1999, 19999, -1999}

// codeNumber tells whether a written number in a temperature's column stands for a dead sensor: as written, or as °C. The
// number -200 and -270, bottoms of scales, are left to the range.
func codeNumber(written, tC float64) (Reason, bool) {
	if math.Abs(written) >= 9.9e36 {
		return AboveRange, true
	}
	if tC > -90 && tC < 320 && !(written > 999 || written < -99) {
		return 0, false
	}
	for _, c := range codeNumbers {
		if math.Abs(written-c) < 1e-6*math.Abs(c) {
			return CodeNumber, true
		}
		if math.Abs(tC-c) < 0.06 { // the same in °F, rounded to a tenth
			return CodeNumber, true
		}
	}
	return 0, false
}

// The limits of OutOfRange, °C.
const (
	lowestC  = -100
	highestC = 700
)

// heldCode tells whether a temperature is one of those that may stand for "no sensor" and may as well be real: a dead
// digital sensor's 0, its 85 after switching on, and the 100 that some programs choose.
func heldCode(tC float64) bool { return tC == 0 || tC == 85 || tC == 100 }

// heldStepK is how far a reading must jump in one row to one of those values not to be believed, K. Common practice, no source.
const heldStepK = 15
