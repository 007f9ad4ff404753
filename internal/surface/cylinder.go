package surface

import "math"

// CylinderLaw is natural convection around a long horizontal cylinder, such as a cable.
var CylinderLaw = Law{
	Name:    "horizontal cylinder, natural convection",
	Formula: "Nu = {0.60 + 0.387 Ra^(1/6) / [1 + (0.559/Pr)^(9/16)]^(8/27)}², length D",
	Source:  "Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049-1053",
	Number:  "Ra", Lo: 1e-5, Hi: 1e12, ScatterFrac: 0.15,
	Outside: "horizontal cylinder: Ra outside 1e-5 to 1e12, the relation is extrapolated",
}

// CylinderNu returns the mean Nusselt number on the diameter. See CylinderLaw.
func CylinderNu(ra, pr float64) float64 {
	n := 0.60 + 0.387*math.Pow(ra, 1.0/6)/math.Pow(1+math.Pow(0.559/pr, 9.0/16), 8.0/27)
	return n * n
}

// CylinderForcedLaw is a long cylinder across a stream.
var CylinderForcedLaw = Law{
	Name:    "cylinder across a stream",
	Formula: "Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) / [1 + (0.4/Pr)^(2/3)]^(1/4) · [1 + (Re/282000)^(5/8)]^(4/5), length D",
	Source:  "Churchill & Bernstein, J. Heat Transfer 99 (1977) 300-306",
	Number:  "Re", Lo: 0.3, Hi: 1e7, ScatterFrac: 0.20,
	Outside: "cylinder across a stream: Re·Pr below 0.2 or Re above 1e7, the relation is extrapolated",
}

// CylinderForcedNu returns the mean Nusselt number on the diameter. See CylinderForcedLaw.
func CylinderForcedNu(re, pr float64) float64 {
	return 0.3 + 0.62*math.Sqrt(re)*math.Cbrt(pr)/math.Pow(1+math.Pow(0.4/pr, 2.0/3), 0.25)*
		math.Pow(1+math.Pow(re/282000, 5.0/8), 0.8)
}
