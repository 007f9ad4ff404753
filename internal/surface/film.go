package surface

import "math"

// Film is what a patch of a given temperature gives to the air: ConvWm2K·(T-AirK).
type Film struct {
	ConvWm2K    float64
	Formula     string  // which relation rules; Describe tells it in full
	Note        string  // "" or what is outside the published ranges, or estimated, and what was done
	ScatterFrac float64 // about nine measurements of ten lie within this share
	LengthM     float64 // length of the ruling relation
	// Number is the dimensionless number of the ruling relation, NumberName its symbol ("Ra", "El", "Re"), Lo..Hi the
	// range over which the relation was published.
	Lo, Hi, Number float64
	NumberName     string
}

// Formula names of Film.
const (
	formulaStill     = "conduction into resting air"
	formulaVertical  = "natural convection, upright or inclined face"
	formulaUp        = "natural convection, rising from a level face"
	formulaDown      = "natural convection, stable level face"
	formulaSlot      = "natural convection, channel between plates"
	formulaUChannel  = "natural convection, channel between fins"
	formulaFinsUp    = "natural convection, fins standing on a level base"
	formulaFinsDown  = "natural convection, fins hanging under a level base"
	formulaBreathing = "natural convection, channel that air only enters and leaves by one opening"
	formulaLying     = "natural convection, lying cylinder"
	formulaStanding  = "natural convection, standing cylinder"
	formulaForced    = "forced convection, compact body"
	formulaFlat      = "forced convection, flat plate"
	formulaDuct      = "forced convection, wind through a channel"
	formulaAcross    = "forced convection, cylinder across the wind"
	formulaMixed     = "natural and forced convection together"
)

// Notes of Film that are not a Law's.
const (
	noteSurface     = "surface temperature is not a positive number; the air's temperature was taken"
	noteAir         = "film temperature or pressure outside -40 to 120 °C, 30 to 110 kPa: properties of air are extrapolated"
	noteSealed      = "channel closed on all sides: the air in it only conducts; what it passes on is the share of its mouth in the body's conduction"
	noteClosedEnd   = "channel closed at an end: no published relation fits; the pull on its air is halved for each closed end, an estimate"
	noteBreathing   = "no air runs through this channel: no published relation fits; estimated from two streams, in and out by the same opening"
	noteFinsDown    = "fins under a level base: no published relation fits; estimated from the downward plate and the air driven to the ends"
	noteChannelWind = "wind into a channel: its air's speed is estimated from the wind's pressure; no published relation fits"
	noteWindUnknown = "the wind's direction is not known: the mean over the whole body was taken"
)

// rule is one relation in use: what is told of it, and how much it carries.
type rule struct {
	hWm2K           float64
	formula         string
	law             *Law
	number, lengthM float64
}

// take keeps the larger of the two.
func (r *rule) take(o rule) {
	if o.hWm2K > r.hWm2K {
		*r = o
	}
}

// regime is the inner result of a film: all coefficients before they are joined, W/(m² K), and the numbers that place
// them within their published ranges.
type regime struct {
	air               Air
	deltaK            float64
	floor             float64 // conduction of the whole body into resting air
	fresh             float64 // share of fresh air, see freshShare
	vert, up, down    float64 // natural, boundary layer only
	layer             float64 // the three joined
	natural, forced   float64 // joined, factors in
	conv              float64 // all joined
	raV, raH, re      float64
	lengthV, lengthH  float64
	lengthF           float64
	surfaceOK, bodyOK bool
	channel           channelRegime
	naturalRule       rule
	forcedRule        rule
}

// Film returns what the patch gives to the air at a surface temperature; upstreamK is the mean temperature of the outer
// surface that the air passes before it gets here, surfaceK itself for an evenly warm body. It allocates nothing, is finite
// and positive for every patch and surroundings that pass Check whatever the temperatures are, and is continuous in
// temperature, tilt and wind.
//
//	flat     h = h0 + join(hn, hf)
//	h0 = k Nu0/√A of the whole body, shared by area              (BodyDiffusionLaw), in a channel as openings over walls
//	hn = (hv^10 + hu^10)^(1/10)                                  or the channel's, see naturalChannel
//	hf = the stream's part of BodyForcedLaw times CubeFaceShare, FlatPlateLaw when the face is alone, or the channel's
//	round    h = [h0^4 + join(hn, hf)^4]^(1/4)                   hn, hf: CylinderLaw, UprightCylinderLaw, CylinderForcedLaw
//
// join is MixedLaw with n = 3 upright, 4 level; a wind that falls along an upright face opposes the rise of its air.
//
// Orientation, after Raithby & Hollands 1998: the larger of the upright relation with g·sin(tilt) and of the level
// relation with g·|cos(tilt)|, as a smooth maximum (they take the full g for downward faces; the cosine makes the
// join at upright continuous and only matters where the upright relation rules). A face colder than the air is the
// same face turned over.
//
// Separate faces of a body. Each published plate relation is for a face alone, fed with fresh air; added up over a box
// they come out a quarter high. Here the conduction part is the whole body's, and upright and upward faces are thinned
// for the air that reaches them warm, as one continuous boundary layer (thickness after a run s grows as s^¼):
//
//	factor = [(s0+l)^¾ - s0^¾]/l^¾
//
// with s0 the heated run upstream in upright lengths: half of A/P for the underside, the height for the sides, the
// idea of Lee, Yovanovich & Jafarpur 1991. The body's shape is inferred from its area and this face. The sum over a
// box then agrees with their relation for the whole body within 7 % when all faces are equally warm. It matters most
// for upward faces: fresh air against warm air spans 4 to 7 W/(m² K) on the top of a hand-sized box.
func (p *Patch) Film(surfaceK, upstreamK float64, env *Env) Film {
	var r regime
	p.evaluate(surfaceK, upstreamK, env, &r)
	use := r.naturalRule
	switch { // which relation rules
	case r.forced > 3*r.natural:
		use = r.forcedRule
	case r.forced > 0 && r.natural <= 3*r.forced:
		// Gr/Re² on the length of the natural relation.
		l := r.naturalRule.lengthM
		u := env.WindMS
		use = rule{formula: formulaMixed, law: &MixedLaw, lengthM: l,
			number: min(gravityMS2*r.air.BetaPerK*math.Abs(r.deltaK)*l/(u*u), 1e9)}
	case r.floor > r.natural:
		use = rule{formula: formulaStill, law: &BodyDiffusionLaw, lengthM: math.Sqrt(p.bodyAreaM2()), number: 1}
	}
	f := Film{ConvWm2K: r.conv, Formula: use.formula, ScatterFrac: use.law.ScatterFrac, LengthM: use.lengthM,
		Lo: use.law.Lo, Hi: use.law.Hi, Number: use.number, NumberName: use.law.Number}
	f.Note = p.note(env, &r)
	return f
}

// note returns the first thing a user should know about ranges and estimates.
func (p *Patch) note(env *Env, r *regime) string {
	filmK, pressurePa := env.AirK+r.deltaK/2, env.pressurePa()
	if !r.surfaceOK {
		return noteSurface
	}
	if !(filmK >= airLoK && filmK <= airHiK && pressurePa >= airLoPa && pressurePa <= airHiPa) {
		return noteAir
	}
	if r.channel.weight > 0.5 {
		if r.channel.sealed {
			return noteSealed
		}
		if env.WindMS > 0 && 3*r.forced > r.natural {
			return noteChannelWind
		}
		switch r.naturalRule.law {
		case &BreathingLaw:
			return noteBreathing
		case &DownwardArrayLaw:
			return noteFinsDown
		}
		if r.channel.closed {
			return noteClosedEnd
		}
	}
	if r.forced > 0 && 3*r.forced > r.natural {
		if n := r.forcedRule.law.Note(r.forcedRule.number); n != "" && !(r.forcedRule.law == &FlatPlateLaw && r.forced <= r.natural) {
			return n
		}
		if !env.WindKnown {
			return noteWindUnknown
		}
	}
	if r.natural > r.floor { // else conduction rules, and how far the moving part is out of its range does not matter
		if n := r.naturalRule.law.Note(r.naturalRule.number); n != "" {
			return n
		}
	}
	if r.naturalRule.law == &HorizontalArrayLaw {
		return HorizontalArrayLaw.Note(r.naturalRule.number)
	}
	if r.channel.weight > 0.5 && r.naturalRule.law != &UpwardPlateLaw {
		return InclinedChannelLaw.Note(p.Channel.RunTiltRad)
	}
	return ""
}

// bodyAreaM2 is the body's area; of a patch alone that of a thin plate of this face, of this round side, or of the face that
// a channel's walls stand on. A body smaller than one of its faces is taken as alone.
func (p *Patch) bodyAreaM2() float64 {
	switch {
	case p.Channel.GapM > 0 && p.BodyAreaM2 > 0:
		return p.BodyAreaM2 // the walls of channels may be more than the envelope
	case p.BodyAreaM2 > p.AreaM2:
		return p.BodyAreaM2
	case p.DiameterM > 0:
		return p.AreaM2
	case p.Channel.GapM > 0:
		heightM, widthM := p.sides()
		return 2 * heightM * widthM
	}
	return 2 * p.AreaM2
}

// evaluate fills r. See Film for the formulas.
func (p *Patch) evaluate(surfaceK, upstreamK float64, env *Env, r *regime) {
	r.surfaceOK = surfaceK > 0 && !math.IsInf(surfaceK, 1)
	if !r.surfaceOK {
		surfaceK = env.AirK
	}
	r.deltaK = surfaceK - env.AirK
	r.fresh = freshShare(upstreamK-env.AirK, r.deltaK)
	r.air = AirAt((surfaceK+env.AirK)/2, env.pressurePa())
	r.bodyOK = p.BodyAreaM2 > 0
	// Whole-body conduction.
	r.floor = r.air.KWmK * compactNu0 / math.Sqrt(p.bodyAreaM2())
	if p.DiameterM > 0 {
		p.round(env, r)
		return
	}
	p.naturalFace(r)
	r.natural = factor(env.Factor.Faces) * r.layer
	if env.WindMS > 0 {
		p.forcedFace(env, r)
	}
	if p.Channel.GapM > 0 {
		p.naturalChannel(r)
		c := &r.channel
		r.natural = c.weight*factor(env.Factor.Channels)*c.natural + (1-c.weight)*r.natural
		r.floor *= c.weight*c.openShare + 1 - c.weight
		if c.weight > 0.5 {
			r.naturalRule = c.rule
		}
		if env.WindMS > 0 {
			p.forcedChannel(env, r)
		}
	}
	r.forced *= factor(env.Factor.Forced)
	r.conv = r.floor + p.join(env, r)
}

// naturalFace fills the boundary layers of a flat face.
func (p *Patch) naturalFace(r *regime) {
	air := &r.air
	heightM, widthM := p.sides()
	perimeterM := 2 * (heightM + widthM)
	lengthH := heightM * widthM / perimeterM // area over perimeter
	bodyM2 := p.bodyAreaM2()
	r.lengthV, r.lengthH = heightM, lengthH

	sin, cos := math.Sincos(p.TiltRad)
	sin = max(sin, 0)
	if r.deltaK < 0 { // colder than the air: the flow is that of the warm face turned over
		cos = -cos
	}
	r.raV = Rayleigh(air, r.deltaK, heightM) * sin
	r.raH = Rayleigh(air, r.deltaK, lengthH)
	r.vert = air.KWmK / heightM * verticalLayerNu(r.raV, air.Pr) * wake(r.fresh, undersideRunM(bodyM2, heightM), heightM)
	r.naturalRule = rule{r.vert, formulaVertical, &VerticalPlateLaw, r.raV, heightM}
	if cos > 0 {
		// The whole box below the face: its height from the body's area, if it has one like this on the other side.
		below := max(bodyM2-2*heightM*widthM, 0) / perimeterM
		r.up = air.KWmK / lengthH * upwardLayerNu(r.raH*cos, air.Pr) * wake(r.fresh, lengthH/2+below, lengthH/2)
		r.layer = pnorm(r.vert, r.up, 10)
		r.naturalRule.take(rule{r.up, formulaUp, &UpwardPlateLaw, r.raH, lengthH})
	} else {
		r.down = air.KWmK / lengthH * downwardLayerNu(r.raH*-cos, air.Pr)
		r.layer = pnorm(r.vert, r.down, 10)
		r.naturalRule.take(rule{r.down, formulaDown, &DownwardPlateLaw, r.raH, lengthH})
	}
}

// sides returns the face's run up the slope and its width, a missing one from the area.
func (p *Patch) sides() (heightM, widthM float64) {
	heightM, widthM = p.HeightM, p.WidthM
	switch {
	case heightM <= 0 && widthM <= 0:
		heightM = math.Sqrt(p.AreaM2)
		widthM = heightM
	case heightM <= 0:
		heightM = p.AreaM2 / widthM
	case widthM <= 0:
		widthM = p.AreaM2 / heightM
	}
	return heightM, widthM
}

// wake returns the factor on a face of run lengthM for a heated run upstreamM before it, eased by the share of fresh air.
func wake(fresh, upstreamM, lengthM float64) float64 {
	warm := (pow34(upstreamM+lengthM) - pow34(upstreamM)) / pow34(lengthM)
	return fresh + (1-fresh)*warm
}

// pow34 returns x^¾.
func pow34(x float64) float64 { s := math.Sqrt(x); return s * math.Sqrt(s) }

// undersideRunM returns the upright run, m, that the underside of the body is worth: half of its area over its
// perimeter, the underside being that of a square prism heightM tall with the body's area.
func undersideRunM(bodyM2, heightM float64) float64 {
	sideM := math.Sqrt(heightM*heightM+bodyM2/2) - heightM
	return sideM / 8
}

// freshShare tells how cold the air is that reaches a face: 0, it has passed surfaces as warm as this one; 1, it has passed
// none that are warmer than the air. It is 1 - upstream/own excess temperature within 0..1, its denominator eased over
// freshEaseK where the own excess vanishes and with it the heat.
func freshShare(upstreamRiseK, riseK float64) float64 {
	const freshEaseK = 0.3
	if math.IsNaN(upstreamRiseK) || math.IsInf(upstreamRiseK, 0) {
		return 0
	}
	const e2 = freshEaseK * freshEaseK
	return min(max(1-(upstreamRiseK*riseK+e2)/(riseK*riseK+e2), 0), 1)
}
