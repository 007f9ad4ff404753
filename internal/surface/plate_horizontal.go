package surface

import "math"

// Lengths of horizontal plates are area over perimeter (Goldstein, Sparrow & Jones, Int. J. Heat Mass Transfer 16, 1973).

// UpwardPlateClassicLaw is the textbook pair for a hot plate facing up (or a cold one facing down).
var UpwardPlateClassicLaw = Law{
	Name:    "horizontal plate, hot face up, classical",
	Formula: "Nu = 0.54 Ra^(1/4) to Ra 1e7, 0.15 Ra^(1/3) above; length A/P",
	Source:  "McAdams, Heat Transmission, 3rd ed. 1954; Lloyd & Moran, J. Heat Transfer 96 (1974) 443-447; as in Incropera et al., 6th ed., eqs. 9.30, 9.31",
	Number:  "Ra", Lo: 1e4, Hi: 1e11, ScatterFrac: 0.20,
	Outside: "hot face up: Ra outside 1e4 to 1e11, the quarter-power (below) or third-power (above) relation is extrapolated; below 1e4 it reads low by what conduction adds",
}

// DownwardPlateClassicLaw is the textbook relation for a hot plate facing down (or a cold one facing up).
var DownwardPlateClassicLaw = Law{
	Name:    "horizontal plate, hot face down, classical",
	Formula: "Nu = 0.27 Ra^(1/4); length A/P",
	Source:  "McAdams, Heat Transmission, 3rd ed. 1954; as in Incropera et al., 6th ed., eq. 9.32",
	Number:  "Ra", Lo: 1e5, Hi: 1e10, ScatterFrac: 0.25,
	Outside: "hot face down: Ra outside 1e5 to 1e10, the quarter-power relation is extrapolated",
}

// UpwardPlateLaw is the newer form, with the conduction around the edges of a small plate.
var UpwardPlateLaw = Law{
	Name:    "horizontal plate, hot face up",
	Formula: "Nu = (Nul^10 + Nut^10)^(1/10), Nul = 1.4/ln(1 + 1.4/NuT), NuT = 0.835·Cl·Ra^(1/4), Nut = 0.14 (1 + 0.0107 Pr)/(1 + 0.01 Pr) Ra^(1/3); length A/P",
	Source:  "Raithby & Hollands, Natural Convection, in Handbook of Heat Transfer, 3rd ed. 1998, chapter 4 (coefficients from memory)",
	Number:  "Ra", Lo: 1, Hi: 1e10, ScatterFrac: 0.15,
	Outside: "hot face up: Ra outside 1 to 1e10, the relation is extrapolated",
}

// DownwardPlateLaw is the newer form for the stable side.
var DownwardPlateLaw = Law{
	Name:    "horizontal plate, hot face down",
	Formula: "Nu = 2.5/ln(1 + 2.5/NuT), NuT = 0.527 Ra^(1/5)/[1 + (1.9/Pr)^0.9]^(2/9); length A/P",
	Source:  "Raithby & Hollands, Natural Convection, in Handbook of Heat Transfer, 3rd ed. 1998, chapter 4 (coefficients from memory)",
	Number:  "Ra", Lo: 1e3, Hi: 1e10, ScatterFrac: 0.20,
	Outside: "hot face down: Ra outside 1e3 to 1e10, the relation is extrapolated",
}

// UpwardPlateClassicNu: see UpwardPlateClassicLaw. It steps by 6 % at Ra 1e7, as published.
func UpwardPlateClassicNu(ra float64) float64 {
	if ra <= 1e7 {
		return 0.54 * fourth(ra)
	}
	return 0.15 * math.Cbrt(ra)
}

// DownwardPlateClassicNu: see DownwardPlateClassicLaw.
func DownwardPlateClassicNu(ra float64) float64 { return 0.27 * fourth(ra) }

// UpwardPlateNu: see UpwardPlateLaw.
func UpwardPlateNu(ra, pr float64) float64 {
	return pnorm(edged(1.4, upwardThinNu(ra, pr)), upwardTurbulentNu(ra, pr), 10)
}

// DownwardPlateNu: see DownwardPlateLaw.
func DownwardPlateNu(ra, pr float64) float64 { return edged(2.5, downwardLayerNu(ra, pr)) }

// upwardLayerNu is the boundary layer alone: laminar and turbulent, without conduction around the edges.
func upwardLayerNu(ra, pr float64) float64 {
	return pnorm(upwardThinNu(ra, pr), upwardTurbulentNu(ra, pr), 10)
}

// downwardLayerNu is the boundary layer alone under a hot plate.
func downwardLayerNu(ra, pr float64) float64 {
	return 0.527 * math.Pow(ra, 0.2) / math.Pow(1+math.Pow(1.9/pr, 0.9), 2.0/9)
}

// upwardThinNu is 0.835·Cl·Ra^(1/4) with Raithby & Hollands' Cl = 0.671/[1+(0.492/Pr)^(9/16)]^(4/9).
func upwardThinNu(ra, pr float64) float64 {
	return 0.835 * (0.671 / 0.670) * laminarCoefficient(pr) * fourth(ra)
}

func upwardTurbulentNu(ra, pr float64) float64 {
	return 0.14 * (1 + 0.0107*pr) / (1 + 0.01*pr) * math.Cbrt(ra)
}

// edged turns a thin boundary layer into one of finite thickness, a/ln(1+a/NuT).
func edged(a, thin float64) float64 {
	if thin <= 0 {
		return 0
	}
	return a / math.Log1p(a/thin)
}
