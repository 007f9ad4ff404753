package surface

import "math"

// FlatPlateLaw is a stream along a plate with a sharp front edge.
var FlatPlateLaw = Law{
	Name:    "plate along a stream",
	Formula: "Nu = 0.664 Re^(1/2) Pr^(1/3) to Re 5e5; (0.037 Re^(4/5) - 871) Pr^(1/3) above; length along the stream",
	Source:  "Pohlhausen 1921 and Schlichting, as in Incropera et al., 6th ed., eqs. 7.30, 7.38",
	Number:  "Re", Lo: 1e3, Hi: 1e8, ScatterFrac: 0.20,
	Outside: "plate along a stream: Re below 1e3, the boundary layer is thick and the relation reads low; above 1e8 it is extrapolated",
}

// FlatPlateNu returns the mean Nusselt number over the length. At the transition the two relations meet within 0.1 %.
// See FlatPlateLaw.
func FlatPlateNu(re, pr float64) float64 {
	if re <= 5e5 {
		return 0.664 * math.Sqrt(re) * math.Cbrt(pr)
	}
	return (0.037*math.Pow(re, 0.8) - 871) * math.Cbrt(pr)
}
