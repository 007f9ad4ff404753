package surface

import "math"

// MixedLaw joins natural and forced convection.
var MixedLaw = Law{
	Name:    "natural and forced convection together",
	Formula: "Nu^n = Nuforced^n + Nunatural^n, n = 3 for upright faces, 4 for horizontal ones",
	Source:  "Churchill, AIChE J. 23 (1977) 10-16; Incropera et al., 6th ed., section 9.9",
	Number:  "Gr/Re²", Lo: 0, Hi: math.Inf(1), ScatterFrac: 0.25,
}

// AssistingNu joins the two when they blow the same way or across each other.
func AssistingNu(forced, natural, n float64) float64 { return pnorm(forced, natural, n) }

// OpposingNu joins the two when they blow against each other: |Nuforced^n - Nunatural^n|^(1/n). It is 0 where they
// balance; a real face keeps some loss there, so use it as the lower bound it is.
func OpposingNu(forced, natural, n float64) float64 {
	return math.Pow(math.Abs(math.Pow(forced, n)-math.Pow(natural, n)), 1/n)
}
