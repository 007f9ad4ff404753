package surface

import "math"

// UprightGapLaw is the relation for air sealed between two upright walls.
var UprightGapLaw = Law{
	Name: "sealed gap between upright walls",
	Formula: "Nu = max{0.0605 Ra^(1/3), [1 + (0.104 Ra^0.293/(1 + (6310/Ra)^1.36))³]^(1/3), 0.242 (Ra L/H)^0.272}; " +
		"Ra on the gap's width L",
	Source: "ElSherbiny, Raithby & Hollands, J. Heat Transfer 104 (1982) 96-102, coefficients from memory",
	Number: "Ra", Lo: 1e2, Hi: 2e7, ScatterFrac: 0.10,
	Outside: "sealed upright gap: Ra outside 1e2 to 2e7; below, the air only conducts, above, the relation is extrapolated",
}

// SquareGapLaw bounds the third term of UprightGapLaw in gaps that are nearly as wide as high, for which that was not measured.
var SquareGapLaw = Law{
	Name:    "sealed upright gap one to two times as high as wide",
	Formula: "Nu = 0.18 [Ra Pr/(0.2 + Pr)]^0.29; Ra on the gap's width",
	Source:  "Berkovsky & Polevikov 1977 in Catton, Proc. 6th Int. Heat Transfer Conf. (1978); Incropera et al., 6th ed., section 9.8.1, coefficients from memory",
	Number:  "H/L", Lo: 1, Hi: 2, ScatterFrac: 0.15,
	Outside: "sealed upright gap: H/L outside 1 to 2; above, the term with H/L rules, below, the gap is taken as square",
}

// TiltedGapLaw is the relation for a gap that lies or leans, warm side below.
var TiltedGapLaw = Law{
	Name: "sealed gap, lying or leaning, warm side below",
	Formula: "Nu = 1 + 1.44 [1 - 1708/(Ra cos θ)]⁺ [1 - 1708 (sin 1.8θ)^1.6/(Ra cos θ)] + [(Ra cos θ/5830)^(1/3) - 1]⁺; " +
		"Ra on the gap's width, θ from lying",
	Source: "Hollands, Unny, Raithby & Konicek, J. Heat Transfer 98 (1976) 189-193, coefficients from memory",
	Number: "Ra", Lo: 0, Hi: 1e5, ScatterFrac: 0.10,
	Outside: "sealed gap, warm side below: Ra above 1e5, the relation is extrapolated (with the third power of Ra, as layers " +
		"that lie do)",
}

// gapRaCeil keeps the arithmetic finite whatever a solver on its way asks for.
const gapRaCeil = 1e12

// SealedGapNu returns the Nusselt number on the width L of air sealed between two walls: how many times more heat crosses
// than by conduction in still air. ra is Rayleigh on L and the difference between the walls, aspect is H/L with H the extent
// up the walls; tiltRad is 0 for a gap that lies with its warm wall below, π/2 for an upright one, π with the warm wall on top.
//
//	0 .. 60°    TiltedGapLaw (measured for H/L from 12 on; side walls close by hold the air back, which is not in it)
//	60 .. 90°   straight line between the two (Hollands et al. 1976)
//	90°         UprightGapLaw
//	90 .. 180°  1 + (Nu90 - 1) sin θ: 1 with the warm wall on top (Arnold, Catton & Edwards 1975, from memory)
//
// Continuous in all arguments and never below 1. A Rayleigh number or aspect that is not above zero gives 1.
func SealedGapNu(ra, pr, aspect, tiltRad float64) float64 {
	if !(ra > 0) || !(aspect > 0) || !(pr > 0) || math.IsNaN(tiltRad) {
		return 1
	}
	ra = min(ra, gapRaCeil)
	const leaning, upright = math.Pi / 3, math.Pi / 2
	switch tilt := min(math.Abs(tiltRad), math.Pi); {
	case tilt <= leaning:
		return tiltedGapNu(ra, tilt)
	case tilt < upright:
		w := (tilt - leaning) / (upright - leaning)
		return (1-w)*tiltedGapNu(ra, leaning) + w*uprightGapNu(ra, pr, aspect)
	default:
		return 1 + (uprightGapNu(ra, pr, aspect)-1)*math.Sin(tilt)
	}
}

// uprightGapNu is UprightGapLaw, its third term held below SquareGapLaw. From H/L = 5 on, where the former was measured, the
// latter never rules: 0.18·0.78^0.29 Ra^0.29 > 0.242·5^-0.272 Ra^0.272 for air at any Ra above 1.
func uprightGapNu(ra, pr, aspect float64) float64 {
	turbulent := 0.0605 * math.Cbrt(ra)
	c := 0.104 * math.Pow(ra, 0.293) / (1 + math.Pow(6310/ra, 1.36))
	onset := math.Cbrt(1 + c*c*c)
	layers := min(0.242*math.Pow(ra/aspect, 0.272), 0.18*math.Pow(ra*pr/(0.2+pr), 0.29))
	return max(turbulent, onset, layers)
}

// tiltedGapNu is TiltedGapLaw, for tilts up to 60°.
func tiltedGapNu(ra, tiltRad float64) float64 {
	across := ra * math.Cos(tiltRad)
	nu := 1.0
	if across > 1708 {
		nu += 1.44 * (1 - 1708/across) * (1 - 1708*math.Pow(math.Sin(1.8*tiltRad), 1.6)/across)
	}
	return nu + max(0, math.Cbrt(across/5830)-1)
}
