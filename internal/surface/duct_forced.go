package surface

import "math"

// DuctForcedLaw is a stream between parallel walls, laminar and developing.
var DuctForcedLaw = Law{
	Name:    "stream between parallel plates",
	Formula: "Nu = {(Re* Pr/2)^-3 + [0.664 Re*^(1/2) Pr^(1/3) (1 + 3.65/Re*^(1/2))^(1/2)]^-3}^(-1/3), on the gap S, difference to the entering air, Re* = (u S/ν) S/L",
	Source:  "Teertstra, Yovanovich & Culham, J. Electronics Manufacturing 10 (2000) 253-261 (coefficients from memory; range from the abstract; limits checked)",
	Number:  "Re*", Lo: 0.1, Hi: 100, ScatterFrac: 0.15,
	Outside: "stream between parallel plates: Re* outside 0.1 to 100, the relation goes to its limits (air leaves at wall temperature, single plate)",
}

// DuctForcedNu returns the mean Nusselt number on the gap with both walls warm. See DuctForcedLaw.
func DuctForcedNu(reStar, pr float64) float64 { return ductForcedNu(reStar, pr, 2) }

// DuctForcedOneSidedNu is the same with one wall warm: the same air carries the heat of one wall.
func DuctForcedOneSidedNu(reStar, pr float64) float64 { return ductForcedNu(reStar, pr, 1) }

func ductForcedNu(reStar, pr, walls float64) float64 {
	if reStar <= 0 {
		return 0
	}
	root := math.Sqrt(reStar)
	return pnorm(reStar*pr/walls, 0.664*math.Cbrt(pr)*math.Sqrt(reStar+3.65*root), -3)
}

// ChannelWindLaw is the speed of the air that wind drives through a channel.
var ChannelWindLaw = Law{
	Name:    "wind through a channel",
	Formula: "½ρu² + 12 µ L u/S² = ½ρ(U cos α)², α between wind and run; what blows across the run counts on the openings only; of an unknown direction cos α = ½, the mean of all",
	Source:  "estimate of ours: pressure balance with laminar friction",
	Number:  "Re*", Lo: 0.1, Hi: 100, ScatterFrac: 0.50,
	Outside: "wind through a channel: Re* outside 0.1 to 100, the relation for the stream inside goes to its limits",
}

// ChannelWindMS returns the mean speed in a channel that lies along a wind. See ChannelWindLaw.
func ChannelWindMS(windMS, gapM, lengthM, nuM2s float64) float64 {
	b := 12 * nuM2s * lengthM / (gapM * gapM)
	return windMS * windMS / (b + math.Sqrt(b*b+windMS*windMS))
}
