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
		return b / root1p(power(b/a, -n), -n)
	}
	return a * root1p(power(b/a, n), n)
}

// power returns xⁿ, 0 <= x <= 1; without a logarithm for the whole exponents that films use.
func power(x, n float64) float64 {
	x2 := x * x
	switch n {
	case 2:
		return x2
	case 3:
		return x2 * x
	case 4:
		return x2 * x2
	case 6:
		return x2 * x2 * x2
	case 10:
		x4 := x2 * x2
		return x4 * x4 * x2
	}
	return math.Pow(x, n)
}

// root1p returns (1+x)^(1/n), x >= 0.
func root1p(x, n float64) float64 {
	switch {
	case x < 1e-17:
		return 1
	case n == 2:
		return math.Sqrt(1 + x)
	case n == 3:
		return math.Cbrt(1 + x)
	case n == 4:
		return fourth(1 + x)
	}
	return math.Exp(math.Log1p(x) / n)
}

// fourth returns x^¼ for x >= 0.
func fourth(x float64) float64 { return math.Sqrt(math.Sqrt(x)) }

// pow9o16 returns x^(9/16), x >= 0, the power of the Prandtl number in Churchill's relations.
func pow9o16(x float64) float64 { r := math.Sqrt(x); return r * fourth(math.Sqrt(r)) }
