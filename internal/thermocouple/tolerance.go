package thermocouple

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/unit"
)

// Class is a tolerance class of new thermocouple wire.
type Class uint8

// The classes. A wire whose class is not known is best taken as IEC2, or ASTMStandard where wire is sold to ASTM.
const (
	IEC1 Class = iota // IEC 60584-1:2013 class 1
	IEC2
	IEC3         // for use below 40 °C
	ASTMSpecial  // ASTM E230 special limits of error
	ASTMStandard // ASTM E230 standard limits of error
)

// String is the class as the standards write it.
func (c Class) String() string {
	switch c {
	case IEC1:
		return "IEC 60584-1 class 1"
	case IEC2:
		return "IEC 60584-1 class 2"
	case IEC3:
		return "IEC 60584-1 class 3"
	case ASTMSpecial:
		return "ASTM E230 special limits"
	case ASTMStandard:
		return "ASTM E230 standard limits"
	}
	return "unknown tolerance class"
}

// Classes lists the classes known.
var Classes = []Class{IEC1, IEC2, IEC3, ASTMSpecial, ASTMStandard}

// ParseClass reads a class as people write it: "IEC 1", "class 2", "IEC 60584-1 class 3", "ASTM special", "standard limits".
func ParseClass(text string) (Class, error) {
	s := " " + strings.Join(strings.FieldsFunc(strings.ToUpper(text), func(r rune) bool { return strings.ContainsRune(" -_.,:;()", r) }), " ") + " "
	for _, word := range []string{" IEC 60584 1 ", " IEC 60584 ", " IEC ", " CLASS ", " TOLERANCE ", " ASTM E230 ", " ASTM ", " LIMITS OF ERROR ", " LIMITS "} {
		s = strings.Replace(s, word, " ", 1)
	}
	switch strings.TrimSpace(s) {
	case "1":
		return IEC1, nil
	case "2":
		return IEC2, nil
	case "3":
		return IEC3, nil
	case "SPECIAL":
		return ASTMSpecial, nil
	case "STANDARD":
		return ASTMStandard, nil
	}
	return 0, fmt.Errorf("tolerance class %q is not one of IEC 1, IEC 2, IEC 3, ASTM special, ASTM standard: it stands on the wire's packing; IEC 2 or ASTM standard is the usual one", text)
}

// limit is one row: the greater of fixedK and share·|t|, from loC to hiC.
type limit struct {
	loC, hiC, fixedK, share float64
}

// limits holds the rows of each class and type. Four published tables agree on the values above 0 °C and on all of IEC.
// ASTM below 0 °C: for K one table says 1 % and an older printing 2 %; the wider is used. N and J have no published limit there.
// The lower end -200 °C of ASTM's cold rows and the range of T class 2 are from memory.
var limits = map[Class]map[Type][]limit{
	IEC1: {
		K: {{-40, 1000, 1.5, 0.004}}, N: {{-40, 1000, 1.5, 0.004}}, J: {{-40, 750, 1.5, 0.004}},
		E: {{-40, 800, 1.5, 0.004}}, T: {{-40, 350, 0.5, 0.004}},
	},
	IEC2: {
		K: {{-40, 1200, 2.5, 0.0075}}, N: {{-40, 1200, 2.5, 0.0075}}, J: {{-40, 750, 2.5, 0.0075}},
		E: {{-40, 900, 2.5, 0.0075}}, T: {{-40, 350, 1.0, 0.0075}},
	},
	IEC3: {
		K: {{-200, 40, 2.5, 0.015}}, N: {{-200, 40, 2.5, 0.015}}, E: {{-200, 40, 2.5, 0.015}}, T: {{-200, 40, 1.0, 0.015}},
	},
	ASTMSpecial: {
		K: {{0, 1260, 1.1, 0.004}}, N: {{0, 1260, 1.1, 0.004}}, J: {{0, 760, 1.1, 0.004}},
		E: {{0, 870, 1.0, 0.004}}, T: {{0, 370, 0.5, 0.004}},
	},
	ASTMStandard: {
		K: {{-200, 0, 2.2, 0.02}, {0, 1260, 2.2, 0.0075}}, N: {{0, 1260, 2.2, 0.0075}}, J: {{0, 760, 2.2, 0.0075}},
		E: {{-200, 0, 1.7, 0.01}, {0, 870, 1.7, 0.005}}, T: {{-200, 0, 1.0, 0.015}, {0, 370, 1.0, 0.0075}},
	},
}

// ToleranceK is the largest departure from the reference function that the class allows new wire of this type at tC, K.
// It is a bound and not a spread, it holds for the wire only (the instrument and its cold junction come on top), and it is nearly
// the same for every reading of one probe: it does not average out, and it nearly cancels in a rise.
// Source: IEC 60584-1:2013 and ASTM E230 tolerance tables.
func (t Type) ToleranceK(c Class, tC float64) (float64, error) {
	rows, ok := limits[c][t]
	if !ok {
		return 0, fmt.Errorf("%s has no tolerance for type %s: state the probe's error, such as ± 2 K", c, t)
	}
	for i := len(rows) - 1; i >= 0; i-- {
		if r := rows[i]; tC >= r.loC && tC <= r.hiC {
			return math.Max(r.fixedK, r.share*math.Abs(tC)), nil
		}
	}
	return 0, fmt.Errorf("%s covers type %s from %.0f to %.0f °C, not %.1f °C: state the probe's error, such as ± 3 K",
		c, t, rows[0].loC, rows[len(rows)-1].hiC, tC)
}

// Doubt is a reading of tK with its class's tolerance as the 90 % interval. The tolerance is a bound, so this is on the wide side.
func (t Type) Doubt(c Class, tK float64) (unit.Quantity, error) {
	d, err := t.ToleranceK(c, tK-zeroCK)
	if err != nil {
		return unit.Quantity{}, err
	}
	return unit.Quantity{Dim: unit.Temperature, Kind: unit.Spread, Mid: tK, Lo: tK - d, Hi: tK + d}, nil
}
