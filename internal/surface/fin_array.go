package surface

import "math"

// Arrays of plate fins whose channels do not stand upright.

// InclinedChannelLaw says how the upright channel relations are used on a leaning run.
var InclinedChannelLaw = Law{
	Name:    "channel leaning from the vertical",
	Formula: "the upright relation with g replaced by g cos θ, θ from the vertical",
	Source:  "Mehrtash & Tari, Appl. Therm. Eng. 51 (2013) 1067-1075 (plate-fin arrays, valid from 60° one way to 80° the other; abstract read)",
	Number:  "θ rad", Lo: 0, Hi: math.Pi / 3, ScatterFrac: 0.30,
	Outside: "channel leaning more than 60°: the largest of the leaning and the level relations is used",
}

// HorizontalArrayLaw is an array of fins standing on a level base.
var HorizontalArrayLaw = Law{
	Name:    "fins standing on a level base",
	Formula: "Nu = [(Ra/1500)^-2 + (0.081 Ra^0.39)^-2]^(-1/2), on the gap",
	Source:  "Jones & Smith, J. Heat Transfer 92 (1970) 6-10, in the form of the handbooks (coefficients from memory; 0.026-0.19 of the base's width tall, gaps 0.016-0.20 of it)",
	Number:  "Ra", Lo: 2e2, Hi: 6e5, ScatterFrac: 0.30,
	Outside: "fins on a level base: Ra on the gap outside 200 to 6e5, the relation is extrapolated",
}

// HorizontalArrayNu returns the mean Nusselt number on the gap; ra is the Rayleigh number of the gap. See HorizontalArrayLaw.
func HorizontalArrayNu(ra float64) float64 { return pnorm(ra/1500, 0.081*math.Pow(ra, 0.39), -2) }

// DownwardArrayLaw is an array of fins hanging under a level base.
var DownwardArrayLaw = Law{
	Name:    "fins hanging under a level base",
	Formula: "h = [hn^-2 + hw^-2 + hup^-2]^(-1/2): hup the same fins standing, hw the downward plate's layer on L/4, whole on the base and half on the fins; hn = k Ra D²/(6 L² (2D + S)), the air that the head D drives along half a run to an open end",
	Source:  "estimate of ours, with hup so that it stays below the same fins standing; that it is weak and rules by the run's length: Dayan et al., Int. J. Heat Mass Transfer 47 (2004) 2849-2860 (abstract read)",
	Number:  "Ra", Lo: 1e3, Hi: 1e10, ScatterFrac: 0.50,
	Outside: "fins under a level base: Ra on a quarter of the run outside 1e3 to 1e10, the estimate is extrapolated",
}

// DownwardArrayNu returns the mean Nusselt number on the gap, over base and fins, of channels whose mouth looks down; ra is
// the Rayleigh number of the gap, ends how many of a channel's two ends are open. See DownwardArrayLaw.
func DownwardArrayNu(ra, pr, gapM, depthM, lengthM float64, ends int) float64 {
	wet := 2*depthM + gapM
	quarterM := lengthM / 4
	q := quarterM / gapM
	wide := downwardLayerNu(ra*q*q*q, pr) / q * (gapM + depthM) / wet
	narrow := ra * depthM * depthM * gapM / (6 * lengthM * lengthM * wet) * float64(ends*ends) / 4
	return pnorm(pnorm(wide, narrow, -2), HorizontalArrayNu(ra), -2)
}

// BreathingLaw is a channel that no air runs through: it comes and goes by the same opening.
var BreathingLaw = Law{
	Name:    "channel without a run for the air",
	Formula: "h = [(hs + ½ (openings/walls) hface)^-2 + hface^-2]^(-1/2), hface the open face's (undersides of level walls count 0.4), the air in an opening half as warm as the walls, hs the exchange of two laminar streams, in below and out above: mouth with level walls k Ra S/(384 D (2D+S)); ends k Ra D²/(24 L² (2D+S)) between upright walls, k Ra S/(192 L²) between level ones",
	Source:  "estimate of ours from plane Poiseuille flow; ½ and 0.4 were set so that level channels on an upright base come out as the worst posture, as found by Bilitzky 1986 in Bejan & Kraus, Heat Transfer Handbook, 2003, p. 1006",
	Number:  "Ra", Lo: 0, Hi: 1e6, ScatterFrac: 0.50,
	Outside: "channel without a run for the air: Ra on the gap above 1e6, the estimate is that of the open face",
}

// breathingNu returns what two counter-flowing streams exchange, on the gap and all walls, without the limit of the
// open face. across is the vertical share of the gap's direction, mouth that of a closed mouth's; ends and openMouth tell what
// gives on the air. depthM 0: two bare walls. See BreathingLaw.
func breathingNu(ra, gapM, depthM, lengthM, across, mouth float64, ends int, openMouth bool) float64 {
	e := float64(ends*ends) / 4 // with one end the path doubles and one opening is left
	l2 := lengthM * lengthM
	nu := ra * across * gapM * gapM / (192 * l2) * e
	if depthM > 0 {
		wet := 2*depthM + gapM
		nu += ra * mouth * depthM * depthM * gapM / (24 * l2 * wet) * e
		if openMouth {
			nu += ra * across * gapM * gapM / (384 * depthM * wet)
		}
	}
	return nu
}
