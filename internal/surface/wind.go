package surface

import "math"

// compactPerimeter is Pmax/√A of a body of which only the area is known: cube 1.63, flat box 2.3.
const compactPerimeter = 2.0

// forcedFace fills what a stream adds to a flat face.
//
//	part of a body   the stream's part of BodyForcedLaw, times CubeFaceShare of the known direction
//	alone            FlatPlateLaw along; from the front or behind, as the body it is, by the square of the cosine
func (p *Patch) forcedFace(env *Env, r *regime) {
	air := &r.air
	aspect := compactPerimeter
	if p.BodyAspect > 0 {
		aspect = p.BodyAspect
	}
	bodyM2 := p.bodyAreaM2()
	lengthM := math.Sqrt(bodyM2)
	re := env.WindMS * lengthM / air.NuM2s
	body := air.KWmK / lengthM * BodyForcedLayerNu(re, air.Pr, aspect)
	if env.WindKnown {
		body *= CubeFaceShare(env.WindMS*math.Sqrt(bodyM2/6)/air.NuM2s, p.WindCos)
	}
	r.forced, r.re, r.lengthF = body, re, lengthM
	r.forcedRule = rule{body, formulaForced, &BodyForcedLaw, re, lengthM}
	if r.bodyOK {
		return
	}
	head := 0.0
	if env.WindKnown {
		head = p.WindCos * p.WindCos
	}
	re = env.WindMS * r.lengthV / air.NuM2s
	plate := air.KWmK / r.lengthV * FlatPlateNu(re, air.Pr)
	r.forced = head*body + (1-head)*plate
	if head < 0.5 {
		r.re, r.lengthF = re, r.lengthV
		r.forcedRule = rule{plate, formulaFlat, &FlatPlateLaw, re, r.lengthV}
	}
}

// forcedChannel turns r.forced, the open face's, into the channel's: the air that the wind drives along the run (ChannelWindLaw,
// DuctForcedLaw) and, across the run, the open face's coefficient on the openings. Closed ends take from the driving pressure
// what they take from the pull of gravity.
func (p *Patch) forcedChannel(env *Env, r *regime) {
	air, c, g := &r.air, &p.Channel, &r.channel
	cos := 0.5
	if env.WindKnown {
		cos = min(c.WindAlong, 1)
	}
	l := p.channelRunM(r)
	gapM := c.GapM
	if c.DepthM > 0 && !c.OpenMouth {
		gapM = c.GapM * c.DepthM / (c.GapM + c.DepthM)
	}
	u := ChannelWindMS(env.WindMS*cos*math.Sqrt(g.through), gapM, l, air.NuM2s)
	reStar := u * gapM / air.NuM2s * gapM / l
	nu := DuctForcedNu(reStar, air.Pr)
	if c.OneSided {
		nu = DuctForcedOneSidedNu(reStar, air.Pr)
	}
	along := air.KWmK / gapM * nu
	across := 0.0
	if c.OpenMouth {
		across = r.forced * g.openShare * math.Sqrt(1-cos*cos)
	}
	r.forced = g.weight*pnorm(along, across, 3) + (1-g.weight)*r.forced
	if g.weight > 0.5 {
		r.forcedRule = rule{r.forced, formulaDuct, &ChannelWindLaw, reStar, gapM}
	}
}

// join puts natural and forced together, MixedLaw. A wind of known direction that climbs with the air at an upright face or
// along an upright channel aids, one that falls opposes (a face colder than the air: the other way round); across and of
// unknown direction it counts as aiding.
func (p *Patch) join(env *Env, r *regime) float64 {
	n := 3 + math.Abs(math.Cos(p.TiltRad))
	upright := max(math.Sin(p.TiltRad), 0)
	if r.channel.weight > 0.5 {
		n, upright = 4-r.channel.run, r.channel.run
	}
	return p.joinAt(env, r, n, upright)
}

func (p *Patch) joinAt(env *Env, r *regime, n, upright float64) float64 {
	aided := AssistingNu(r.forced, r.natural, n)
	if !env.WindKnown || r.forced <= 0 {
		return aided
	}
	against := -env.WindRise * upright
	if r.deltaK < 0 {
		against = -against
	}
	against = min(max(against, 0), 1)
	if against == 0 {
		return aided
	}
	return (1-against)*aided + against*OpposingHeldNu(r.forced, r.natural, n)
}
