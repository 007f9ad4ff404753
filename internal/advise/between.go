package advise

import (
	"strings"

	"finwright/internal/unit"
)

// between puts an interval into words: "38 to 44 °C".
func between(lo, hi float64, dim unit.Dim) string {
	a, b := unit.Format(lo, dim), unit.Format(hi, dim)
	if a == b {
		return a
	}
	number, unitA, _ := strings.Cut(a, " ")
	if _, unitB, _ := strings.Cut(b, " "); unitA == unitB {
		a = number
	}
	return a + " to " + b
}
