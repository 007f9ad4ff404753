package surface

// InclinedPlateLaw is the laminar upright relation with the pull of gravity along the plate.
var InclinedPlateLaw = Law{
	Name:    "inclined plate, natural convection",
	Formula: "the laminar upright relation with g replaced by g cos θ, θ from the vertical",
	Source:  "Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., section 9.6.2; Rich, Trans. ASME 75 (1953) 489-499",
	Number:  "θ rad", Lo: 0, Hi: 1.0472, ScatterFrac: 0.15,
	Outside: "inclined plate: more than 60° from the vertical, the larger of the inclined and the horizontal relation is used",
}

// InclinedPlateNu returns the mean Nusselt number on the sloping length, with ra the Rayleigh number of the upright
// plate and cosFromVertical the cosine of the angle from the vertical. It holds for both sides (on the upper side of a
// hot plate from 0 to 60° only for laminar flow). See InclinedPlateLaw.
func InclinedPlateNu(ra, pr, cosFromVertical float64) float64 {
	return VerticalPlateLaminarNu(ra*max(cosFromVertical, 0), pr)
}
