package surface

import "math"

// Law says where a relation comes from and where it holds. Laws are package variables and are never changed.
type Law struct {
	Name    string // in the words of the field
	Formula string // as published, in text
	Source  string // the published work; "from memory" where the coefficients were not checked against a print
	Number  string // the dimensionless number or quantity the range is about: "Ra", "Re", "El"
	Lo, Hi  float64
	// ScatterFrac is the half width of the band that holds about nine measurements of ten, as a share of the value.
	ScatterFrac float64
	// Outside tells what is done with a value outside Lo..Hi: the fallback, in a sentence.
	Outside string
}

// Note returns "" when x lies in the published range and the law's fallback sentence when it does not.
func (l *Law) Note(x float64) string {
	if x >= l.Lo && x <= l.Hi {
		return ""
	}
	return l.Outside
}

// gravityMS2 is standard gravity.
const gravityMS2 = 9.80665

// Rayleigh returns gβ|ΔT|L³/(να) of a length in air whose properties are taken at the film temperature.
func Rayleigh(air *Air, deltaK, lengthM float64) float64 {
	return gravityMS2 * air.BetaPerK * math.Abs(deltaK) * lengthM * lengthM * lengthM / (air.NuM2s * air.AlphaM2s)
}

// pnorm returns (aⁿ+bⁿ)^(1/n) for a, b >= 0 without overflow: a smooth "larger of the two" for n > 0 and, with n < 0,
// a smooth "smaller of the two" (Churchill & Usagi, AIChE J. 18, 1972).
func pnorm(a, b, n float64) float64 {
	if a < b {
		a, b = b, a
	}
	if b <= 0 {
		if n < 0 {
			return 0
		}
		return a
	}
	if n < 0 {
		return b * math.Pow(1+math.Pow(b/a, -n), 1/n)
	}
	return a * math.Pow(1+math.Pow(b/a, n), 1/n)
}

// fourth returns x^¼ for x >= 0.
func fourth(x float64) float64 { return math.Sqrt(math.Sqrt(x)) }
