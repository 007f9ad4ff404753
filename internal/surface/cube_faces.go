package surface

import "math"

// CubeFacesLaw tells how the sides of a block share what the stream carries off.
var CubeFacesLaw = Law{
	Name:    "sides of a block in a stream",
	Formula: "windward 0.71 Re^0.52, along 0.12 Re^0.70 (two sides) and 0.071 Re^0.74 (top), lee 0.11 Re^0.67, on the edge; here as shares of the cube's mean, between them by the square of the cosine",
	Source:  "Nakamura, Igarashi & Tsutsui, Int. J. Heat Mass Transfer 44 (2001) 3385-3395, cube on a wall (coefficients from memory; their sum agrees with the 0.138 Re^0.68 of the whole)",
	Number:  "Re", Lo: 4.2e3, Hi: 3.3e4, ScatterFrac: 0.25,
	Outside: "sides of a block in a stream: Re on the edge outside 4200 to 33000, the shares of the nearer end are taken",
}

// CubeFaceShare returns the coefficient of a block's side over the mean of a cube; re is on the edge, √(A/6), windCos the
// side's outward normal times the direction that the wind comes from. Over the six sides of a cube turned in any way the
// shares average 1. See CubeFacesLaw.
func CubeFaceShare(re, windCos float64) float64 {
	l := math.Log(min(max(re, CubeFacesLaw.Lo), CubeFacesLaw.Hi))
	front := 0.71 * math.Exp(0.52*l)
	along := (2*0.12*math.Exp(0.70*l) + 0.071*math.Exp(0.74*l)) / 3
	lee := 0.11 * math.Exp(0.67*l)
	mean := (front + lee + 4*along) / 6
	end := front
	if windCos < 0 {
		end = lee
	}
	return (along + (end-along)*windCos*windCos) / mean
}
