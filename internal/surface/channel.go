package surface

import "math"

// Channels between upright parallel walls. El = gβ|ΔT|S⁴/(ναL) (the Rayleigh number on the gap S, times S/L, L the
// upright length), Nu = hS/k with h on the difference between wall and outside air.

// ElenbaasLaw is the classic relation.
var ElenbaasLaw = Law{
	Name:    "upright parallel plates",
	Formula: "Nu = El/24 · [1 - exp(-35/El)]^(3/4)",
	Source:  "Elenbaas, Physica 9 (1942) 1-28",
	Number:  "El", Lo: 0.1, Hi: 1e5, ScatterFrac: 0.15,
	Outside: "upright parallel plates: El outside 0.1 to 1e5, the relation is extrapolated to its limits (full duct below, single plate above)",
}

// ChannelLaw is the composite of the two limits.
var ChannelLaw = Law{
	Name:    "upright parallel plates, composite",
	Formula: "Nu = (576/El² + 2.873/El^(1/2))^(-1/2); one wall insulated: 144 in place of 576",
	Source:  "Bar-Cohen & Rohsenow, J. Heat Transfer 106 (1984) 116-123 (coefficients from memory)",
	Number:  "El", Lo: 0, Hi: 1e5, ScatterFrac: 0.15,
	Outside: "upright parallel plates: El above 1e5, the single-plate limit holds",
}

// UChannelLaw is a channel with one open long side: the space between two fins on a base.
var UChannelLaw = Law{
	Name:    "upright U-channel between fins",
	Formula: "Nu = R/ψ · {1 - exp[-ψ (0.5/R)^(3/4)]}, R = (r/L) Ra, length r = 2DS/(2D+S), a = S/D, ψ = 24 (1 - 0.483 e^(-0.17/a)) / {(1 + a/2)[1 + (1 - e^(-0.83a))(9.14 a^(1/2) e^(-465 S) - 0.61)]}³, S in m",
	Source:  "Van de Pol & Tierney 1973 (coefficients from memory; limits checked)",
	Number:  "R", Lo: 0, Hi: 1e5, ScatterFrac: 0.30,
	Outside: "U-channel: R above 1e5, the single-plate limit holds",
}

// ElenbaasNu: see ElenbaasLaw.
func ElenbaasNu(el float64) float64 {
	return el / 24 * math.Pow(-math.Expm1(-35/el), 0.75)
}

// ChannelNu is the composite relation with both walls warm. See ChannelLaw.
func ChannelNu(el float64) float64 { return pnorm(el/24, fourth(el)/math.Sqrt(2.873), -2) }

// ChannelOneSidedNu is the composite relation with one wall warm and the other insulated. See ChannelLaw.
func ChannelOneSidedNu(el float64) float64 { return pnorm(el/12, fourth(el)/math.Sqrt(2.873), -2) }

// UChannelNu returns the mean Nusselt number on r = 2DS/(2D+S); channelRa is (r/L)·Ra on r. See UChannelLaw.
func UChannelNu(channelRa, gapM, depthM float64) float64 {
	return uChannelNu(channelRa, uChannelPsi(gapM, depthM))
}

// UChannelOneSidedNu is the same with one wall of the facing pair not warm: the same air, half the heat, as in ChannelLaw.
func UChannelOneSidedNu(channelRa, gapM, depthM float64) float64 {
	return uChannelNu(channelRa, uChannelPsi(gapM, depthM)/2)
}

func uChannelNu(channelRa, psi float64) float64 {
	if channelRa <= 0 {
		return 0
	}
	return channelRa / psi * -math.Expm1(-psi*math.Pow(0.5/channelRa, 0.75))
}

// uChannelPsi is the friction of the full duct: 24 for a closed slot (D much larger than S), less when it is open.
func uChannelPsi(gapM, depthM float64) float64 {
	a := gapM / depthM
	open := (1 + a/2) * (1 - math.Expm1(-0.83*a)*(9.14*math.Sqrt(a)*math.Exp(-11.8/0.0254*gapM)-0.61))
	return 24 * (1 - 0.483*math.Exp(-0.17/a)) / (open * open * open)
}
