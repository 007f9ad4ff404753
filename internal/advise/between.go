package advise

import "finwright/internal/unit"

// between puts an interval into words: "38 to 44 °C".
func between(lo, hi float64, dim unit.Dim) string {
	a, b := unit.Format(lo, dim), unit.Format(hi, dim)
	if a == b {
		return a
	}
	return a + " to " + b
}
