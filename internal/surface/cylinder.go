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
	n := 0.60 + 0.387*math.Pow(ra, 1.0/6)/math.Pow(1+pow9o16(0.559/pr), 8.0/27)
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

// UprightCylinderLaw is natural convection along an upright cylinder.
var UprightCylinderLaw = Law{
	Name:    "upright cylinder, natural convection",
	Formula: "the upright plate's Nu times 1 + 0.3 [32^(1/2) Gr^(-1/4) H/D]^0.909, length H",
	Source:  "Popiel, Heat Transfer Engineering 29 (2008) 521-536, fit to the solution of Cebeci 1974 for air (coefficients from memory; agrees with the rule D/H >= 35 Gr^(-1/4) for 5 %)",
	Number:  "32^(1/2) Gr^(-1/4) H/D", Lo: 0, Hi: 5, ScatterFrac: 0.15,
	Outside: "upright cylinder: thinner than the solution the correction was fitted to, it is extrapolated",
}

// UprightCylinderNu returns the mean Nusselt number on the height; ra is that of the height. See UprightCylinderLaw.
func UprightCylinderNu(ra, pr, heightM, diameterM float64) float64 {
	return VerticalPlateNu(ra, pr) * slenderFactor(ra, pr, heightM, diameterM)
}

// slenderness is the number of UprightCylinderLaw.
func slenderness(ra, pr, heightM, diameterM float64) float64 {
	return math.Sqrt(32) / fourth(ra/pr) * heightM / diameterM
}

// slenderFactor is held at its value for Ra 1e-2, below which there is no layer whose curvature could matter.
func slenderFactor(ra, pr, heightM, diameterM float64) float64 {
	return 1 + 0.3*math.Pow(slenderness(max(ra, 1e-2), pr, heightM, diameterM), 0.909)
}

// InclinedCylinderLaw joins the two.
var InclinedCylinderLaw = Law{
	Name:    "leaning cylinder, natural convection",
	Formula: "h = h_upright cos²θ + h_horizontal sin²θ, θ of the axis from the vertical",
	Source:  "interpolation of ours between the published ends",
	Number:  "θ rad", Lo: 0, Hi: math.Pi / 2, ScatterFrac: 0.20,
	Outside: "leaning cylinder: the angle is not within 0..90°",
}
