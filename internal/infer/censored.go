package infer

import "math"

// A one-sided observation is a censored one: of a value known with an error N(0, 1) it was only seen that it had not passed a limit. Where
// the model puts the value r beyond the limit, the probability of that is Φ(-r) (Tobin, Econometrica 26 (1958), 24-36, eq. 3, the part of
// the observations at the limit).

// farOut is from where on the tail of the normal is taken by its series.
const farOut = 30.0

// NotPassed is -ln Φ(-r) with its first and second derivative. It is convex, next to nothing for r far below zero and r²/2 + ln(r√(2π)) far
// above (series: Abramowitz & Stegun, Handbook of Mathematical Functions, 1964, 26.2.12).
func NotPassed(r float64) (cost, slope, curve float64) {
	if r > farOut {
		x := 1 / (r * r)
		tail := 1 - x + 3*x*x - 15*x*x*x
		slope = r / tail
		return r*r/2 + math.Log(r) + math.Log(2*math.Pi)/2 - math.Log(tail), slope, slope * r * (1 - tail) / tail
	}
	density := math.Exp(-r*r/2) / math.Sqrt(2*math.Pi)
	if r > 0 {
		below := math.Erfc(r/math.Sqrt2) / 2
		cost, slope = -math.Log(below), density/below
	} else {
		passed := math.Erfc(-r/math.Sqrt2) / 2
		cost, slope = -math.Log1p(-passed), density/(1-passed)
	}
	return cost, slope, slope * (slope - r)
}

// about is the cost of residual i about the signed value r as a weighted square, ½ weight (r - target)² and a constant: itself for a
// two-sided one.
func (e *evaluator) about(i int, r float64) (weight, target float64) {
	if !e.oneSided[i] {
		return 1, 0
	}
	_, slope, curve := NotPassed(r)
	if curve == 0 {
		return 0, 0
	}
	return curve, r - slope/curve
}

// doubled is the cost of residual i at signed value r, times two: r² for a two-sided one.
func (e *evaluator) doubled(i int, r float64) float64 {
	if !e.oneSided[i] {
		return r * r
	}
	cost, _, _ := NotPassed(r)
	return 2 * cost
}
