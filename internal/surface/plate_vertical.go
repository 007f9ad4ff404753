package surface

import "math"

// VerticalPlateLaw is the relation for all Rayleigh numbers.
var VerticalPlateLaw = Law{
	Name:    "upright plate, natural convection, all Rayleigh numbers",
	Formula: "Nu = {0.825 + 0.387 Ra^(1/6) / [1 + (0.492/Pr)^(9/16)]^(8/27)}²",
	Source:  "Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323-1329",
	Number:  "Ra", Lo: 0.1, Hi: 1e12, ScatterFrac: 0.15,
	Outside: "upright plate: Ra outside 0.1 to 1e12, the relation is extrapolated",
}

// VerticalPlateLaminarLaw is the more exact relation below the onset of turbulence.
var VerticalPlateLaminarLaw = Law{
	Name:    "upright plate, laminar natural convection",
	Formula: "Nu = 0.68 + 0.670 Ra^(1/4) / [1 + (0.492/Pr)^(9/16)]^(4/9)",
	Source:  "Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323-1329",
	Number:  "Ra", Lo: 0, Hi: 1e9, ScatterFrac: 0.10,
	Outside: "upright plate: Ra above 1e9, the flow turns turbulent and the laminar relation reads low; the relation for all Ra is meant",
}

// VerticalPlateNu returns the mean Nusselt number of one side of an upright isothermal plate, on its height. See VerticalPlateLaw.
func VerticalPlateNu(ra, pr float64) float64 {
	n := 0.825 + 0.387*math.Pow(ra, 1.0/6)/math.Pow(1+pow9o16(0.492/pr), 8.0/27)
	return n * n
}

// VerticalPlateLaminarNu is the laminar relation. See VerticalPlateLaminarLaw.
func VerticalPlateLaminarNu(ra, pr float64) float64 {
	return 0.68 + laminarCoefficient(pr)*fourth(ra)
}

// laminarCoefficient returns 0.670/[1+(0.492/Pr)^(9/16)]^(4/9), 0.513 for air: the boundary layer of an upright plate.
func laminarCoefficient(pr float64) float64 {
	return 0.670 / math.Pow(1+pow9o16(0.492/pr), 4.0/9)
}

// verticalLayerNu is the boundary layer alone, without what a small plate loses by conduction around its edges:
// the laminar layer of Churchill & Chu, and the large-Ra end of their relation, 0.387²/[...]^(16/27) Ra^(1/3), joined
// with the exponent 6 of Raithby & Hollands. Tends to 0 with Ra.
func verticalLayerNu(ra, pr float64) float64 {
	c := laminarCoefficient(pr)
	b := c / 0.670 // [..]^(-4/9), and [..]^(-16/27) = b^(4/3)
	turb := 0.387 * 0.387 * b * math.Cbrt(b) * math.Cbrt(ra)
	return pnorm(c*fourth(ra), turb, 6)
}
