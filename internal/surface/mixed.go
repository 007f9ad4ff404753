package surface

import "math"

// MixedLaw joins natural and forced convection.
var MixedLaw = Law{
	Name:    "natural and forced convection together",
	Formula: "Nu^n = Nuforced^n + Nunatural^n, n = 3 for upright faces, 4 for horizontal ones",
	Source:  "Churchill, AIChE J. 23 (1977) 10-16; Incropera et al., 6th ed., section 9.9",
	Number:  "Gr/Re²", Lo: 0.1, Hi: 10, ScatterFrac: 0.25,
	Outside: "natural and forced convection together: Gr/Re² outside 0.1 to 10, one of the two carries nearly all",
}

// AssistingNu joins the two when they blow the same way or across each other.
func AssistingNu(forced, natural, n float64) float64 { return pnorm(forced, natural, n) }

// OpposingNu joins the two when they blow against each other: |Nuforced^n - Nunatural^n|^(1/n). It is 0 where they
// balance; a real face keeps some loss there, see OpposingHeldNu.
func OpposingNu(forced, natural, n float64) float64 {
	big, small := max(forced, natural), min(forced, natural)
	if big <= 0 {
		return 0
	}
	return big * math.Pow(1-math.Pow(small/big, n), 1/n)
}

// OpposingHeldNu is OpposingNu, held at 2^(-1/n) of the larger of the two: near balance the air does not rest but turns.
// The figure is ours: with it the loss of a face never falls as the face gets warmer, whatever natural relation stands against
// the stream.
func OpposingHeldNu(forced, natural, n float64) float64 {
	return max(OpposingNu(forced, natural, n), math.Pow(2, -1/n)*max(forced, natural))
}
