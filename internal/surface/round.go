package surface

import "math"

// round fills r for the curved side of a cylinder. The published relations carry a long cylinder's conduction with them; the
// body's joins as what is left when they vanish, at the power 4.
//
// Of a wind of known direction, WindCos is the cosine to the axis: what blows across counts by CylinderForcedLaw without its
// 0.3, which is conduction, what blows along by FlatPlateLaw on the length, by the squares of sine and cosine. Of an unknown
// direction a third blows along, the mean of all.
func (p *Patch) round(env *Env, r *regime) {
	air := &r.air
	d := p.DiameterM
	heightM := p.HeightM
	if heightM <= 0 {
		heightM = p.AreaM2 / (math.Pi * d)
	}
	upright := math.Cos(p.AxisTiltRad)
	upright *= upright
	raD, raH := Rayleigh(air, r.deltaK, d), Rayleigh(air, r.deltaK, heightM)
	lying := air.KWmK / d * CylinderNu(raD, air.Pr)
	standing := air.KWmK / heightM * UprightCylinderNu(raH, air.Pr, heightM, d)
	r.lengthV, r.lengthH, r.raV, r.raH = heightM, d, raH, raD
	r.natural = factor(env.Factor.Faces) * (upright*standing + (1-upright)*lying)
	r.naturalRule = rule{lying, formulaLying, &CylinderLaw, raD, d}
	if upright > 0.5 {
		r.naturalRule = rule{standing, formulaStanding, &UprightCylinderLaw, slenderness(max(raH, 1e-2), air.Pr, heightM, d), heightM}
	}
	if env.WindMS > 0 {
		along := 1.0 / 3
		if env.WindKnown {
			along = min(p.WindCos*p.WindCos, 1)
		}
		reD, reH := env.WindMS*d/air.NuM2s, env.WindMS*heightM/air.NuM2s
		across := air.KWmK / d * (CylinderForcedNu(reD, air.Pr) - 0.3)
		plate := air.KWmK / heightM * FlatPlateNu(reH, air.Pr)
		r.forced = factor(env.Factor.Forced) * (along*plate + (1-along)*across)
		r.re, r.lengthF = reD, d
		r.forcedRule = rule{across, formulaAcross, &CylinderForcedLaw, reD, d}
		if along > 0.5 {
			r.re, r.lengthF = reH, heightM
			r.forcedRule = rule{plate, formulaFlat, &FlatPlateLaw, reH, heightM}
		}
	}
	r.conv = pnorm(r.floor, p.joinAt(env, r, 4-upright, upright), 4)
}
