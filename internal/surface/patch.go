package surface

import (
	"fmt"
	"math"
)

// Patch is one outer face, channel or round side of a body as the air meets it in one posture. Several patches that share a
// face carry the dimensions of the whole smooth face, each its own AreaM2.
type Patch struct {
	Name   string
	AreaM2 float64
	// TiltRad is the angle between the outward normal and up: 0 faces up, π/2 is upright, π faces down.
	TiltRad float64
	// HeightM is the length of the smooth run up the slope, WidthM the length across; on a level face the two sides.
	// 0 = not known: the face is taken as square.
	HeightM, WidthM float64
	// DiameterM is that of a round side, 0 = flat; AxisTiltRad the angle of its axis from the vertical, 0..π/2.
	// HeightM is then the length along the axis.
	DiameterM, AxisTiltRad float64
	Channel                Channel // GapM 0 = none
	// BodyAreaM2 is the outer area of the whole body (its envelope, without the flanks of fins), 0 = the face is alone,
	// a thin plate with two such sides.
	BodyAreaM2 float64
	// BodyAspect is Pmax/√A of the body, Pmax its longest outline seen by the wind at hand; 0 = a compact body.
	BodyAspect float64
	// WindCos is the outward normal times the direction that the wind comes from: 1 windward, 0 along, -1 lee. It is
	// used when Env.WindKnown.
	WindCos float64
}

// Channel is the room between two walls that face each other, open to the air on some sides.
type Channel struct {
	GapM, DepthM, LengthM float64 // wall to wall; mouth to base, 0 = no base; along the run
	RunTiltRad            float64 // run from the vertical, 0..π/2
	MouthTiltRad          float64 // direction that the mouth looks to, from up, 0..π
	// OpenLow, OpenHigh: the lower and the upper end (of a level run: the two ends) give on open air; OpenMouth: the
	// long side away from the base does.
	OpenLow, OpenHigh, OpenMouth bool
	OneSided                     bool    // the facing wall guides the air but is not warm
	WindAlong                    float64 // |cosine| between run and wind, used when Env.WindKnown
}

// Env is the air around the body.
type Env struct {
	AirK       float64
	PressurePa float64 // 0 = one standard atmosphere
	WindMS     float64 // 0 = still air
	WindKnown  bool    // the wind's direction is known: WindCos, WindAlong and WindRise are meant
	WindRise   float64 // sine of the wind's climb: 1 straight up, -1 straight down
	Factor     Factors
}

// Factors multiply the published relations, 0 means 1: a study gives their scatter as unknowns common to all patches.
type Factors struct{ Faces, Channels, Forced float64 }

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

// Check tells what is wrong with the patch for a person, or nil.
func (p *Patch) Check() error {
	bad := func(v float64) bool { return !(v >= 0) || math.IsInf(v, 0) }
	angle := func(v, most float64) bool { return v >= 0 && v <= most+1e-9 }
	c := &p.Channel
	switch {
	case bad(p.AreaM2) || p.AreaM2 == 0:
		return fmt.Errorf("face %q: area %g m² must be positive", p.Name, p.AreaM2)
	case !angle(p.TiltRad, math.Pi):
		return fmt.Errorf("face %q: tilt %g rad must lie between 0 (faces up) and π (faces down)", p.Name, p.TiltRad)
	case bad(p.HeightM) || bad(p.WidthM) || bad(p.DiameterM) || bad(p.BodyAreaM2) || bad(p.BodyAspect):
		return fmt.Errorf("face %q: a length or the body's area is negative or not a number", p.Name)
	case !angle(p.AxisTiltRad, math.Pi/2):
		return fmt.Errorf("face %q: the axis stands %g rad from the vertical, which must lie between 0 and π/2", p.Name, p.AxisTiltRad)
	case !(math.Abs(p.WindCos) <= 1+1e-9), !(c.WindAlong >= 0 && c.WindAlong <= 1+1e-9):
		return fmt.Errorf("face %q: cosines of the wind, %g to the face and %g along the channel, must lie within -1..1 and 0..1", p.Name, p.WindCos, c.WindAlong)
	case bad(c.GapM) || bad(c.DepthM) || bad(c.LengthM):
		return fmt.Errorf("face %q: the channel's gap %g m, depth %g m or length %g m is negative or not a number", p.Name, c.GapM, c.DepthM, c.LengthM)
	case !angle(c.RunTiltRad, math.Pi/2), !angle(c.MouthTiltRad, math.Pi):
		return fmt.Errorf("face %q: the channel's run, %g rad from the vertical, must lie within 0..π/2 and its mouth, %g rad from up, within 0..π", p.Name, c.RunTiltRad, c.MouthTiltRad)
	}
	return nil
}

// Check tells what is wrong with the surroundings for a person, or nil.
func (e *Env) Check() error {
	if err := CheckAir(e.AirK, e.pressurePa()); err != nil {
		return err
	}
	if !(e.WindMS >= 0 && e.WindMS <= 40) {
		return fmt.Errorf("wind of %g m/s must lie between 0 and 40 m/s", e.WindMS)
	}
	if !(math.Abs(e.WindRise) <= 1+1e-9) {
		return fmt.Errorf("the sine of the wind's climb, %g, must lie between -1 (straight down) and 1 (straight up)", e.WindRise)
	}
	for _, f := range []float64{e.Factor.Faces, e.Factor.Channels, e.Factor.Forced} {
		if !(f >= 0 && f <= 10) {
			return fmt.Errorf("a factor of %g on the film coefficients must lie between 0 (taken as 1) and 10", f)
		}
	}
	return nil
}

func (e *Env) pressurePa() float64 {
	if e.PressurePa > 0 {
		return e.PressurePa
	}
	return StandardPressurePa
}

// Formula names of Film.
const (
	formulaStill     = "conduction into resting air"
	formulaVertical  = "natural convection, upright or inclined face"
	formulaUp        = "natural convection, rising from a level face"
	formulaDown      = "natural convection, stable level face"
	formulaChannel   = "natural convection, open channel"
	formulaForced    = "forced convection, compact body"
	formulaFlat      = "forced convection, flat plate"
	formulaMixed     = "natural and forced convection together"
	noteSurface      = "surface temperature is not a positive number; the air's temperature was taken"
	noteAir          = "film temperature or pressure outside -40 to 120 °C, 30 to 110 kPa: properties of air are extrapolated"
	noteLevelChannel = "level face in a channel: no published relation fits; estimated from the head of warm air the channel holds"
	noteChannelWind  = "wind into a channel: estimated from the stagnation pressure; no published relation fits"
)

// regime is the inner result of a film: all coefficients before they are joined, W/(m² K), and the numbers that place
// them within their published ranges.
type regime struct {
	air               Air
	floor             float64 // conduction of the whole body into resting air
	vert, up, down    float64 // natural, boundary layer only
	layer             float64 // the three joined
	duct              float64 // full-duct limit of a channel, 0 without
	natural           float64 // layer and duct joined
	fresh             float64 // share of fresh air, see freshShare
	forced            float64 // what a stream adds
	conv              float64 // all joined
	raV, raH, re      float64
	lengthV, lengthH  float64
	lengthF           float64
	surfaceOK, bodyOK bool
}

// Film returns what the face exchanges at a surface temperature. It allocates nothing, is finite for every patch and
// surroundings that pass Check whatever surfaceK is, and is continuous in surfaceK, tilt and wind.
//
//	h = h0 + [hn^m + hf^m]^(1/m)                        m = 3 upright, 4 level (MixedLaw)
//	h0 = k Nu0/√A of the whole body, shared by area     (BodyDiffusionLaw), thinned in a channel to mouth/(wall area)
//	hn = [(hv^10 + hu^10)^(1/10)] and the duct limit at the power -2 (ChannelLaw, UChannelLaw)
//	hf = the stream's part of BodyForcedLaw, or FlatPlateLaw when the face is alone
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
// box then agrees with their relation for the whole body within 5 % when all faces are equally warm. It matters most
// for upward faces: 0 to 1 spans 4 to 7 W/(m² K) on the top of a hand-sized box.
func (p *Patch) Film(surfaceK, upstreamK float64, env *Env) Film {
	var r regime
	p.evaluate(surfaceK, upstreamK, env, &r)
	f := Film{ConvWm2K: r.conv, ScatterFrac: 0.15, LengthM: r.lengthV}
	if !r.surfaceOK {
		surfaceK = env.AirK
		f.Note = noteSurface
	}

	switch { // which relation rules
	case r.forced > 3*r.natural && r.forced > 0:
		f.Formula, f.ScatterFrac, f.LengthM = formulaForced, BodyForcedLaw.ScatterFrac, r.lengthF
		if !r.bodyOK {
			f.Formula = formulaFlat
		}
	case r.natural <= 3*r.forced && r.forced > 0:
		f.Formula, f.ScatterFrac = formulaMixed, MixedLaw.ScatterFrac
	case r.floor > r.natural:
		f.Formula, f.LengthM = formulaStill, math.Sqrt(p.bodyAreaM2())
	case p.channelled() && r.duct < r.layer:
		f.Formula, f.ScatterFrac, f.LengthM = formulaChannel, UChannelLaw.ScatterFrac, p.Channel.GapM
	case r.vert >= r.up && r.vert >= r.down:
		f.Formula = formulaVertical
	case r.up > 0:
		f.Formula, f.LengthM = formulaUp, r.lengthH
	default:
		f.Formula, f.ScatterFrac, f.LengthM = formulaDown, DownwardPlateLaw.ScatterFrac, r.lengthH
	}
	if f.Note == "" {
		f.Note = p.note(surfaceK, env, &r)
	}
	return f
}

// note returns the first thing a user should know about ranges.
func (p *Patch) note(surfaceK float64, env *Env, r *regime) string {
	filmK, pressurePa := (surfaceK+env.AirK)/2, env.pressurePa()
	if !(filmK >= airLoK && filmK <= airHiK && pressurePa >= airLoPa && pressurePa <= airHiPa) {
		return noteAir
	}
	if p.channelled() {
		if env.WindMS > 0 {
			return noteChannelWind
		}
		if math.Sin(p.TiltRad) < 0.5 {
			return noteLevelChannel
		}
	}
	if env.WindMS > 0 && r.bodyOK {
		if n := BodyForcedLaw.Note(r.re); n != "" {
			return n
		}
	} else if env.WindMS > 0 {
		if n := FlatPlateLaw.Note(r.re); n != "" {
			return n
		}
	}
	switch {
	case r.vert >= r.up && r.vert >= r.down:
		if r.raV > VerticalPlateLaw.Hi {
			return VerticalPlateLaw.Outside
		}
	case r.raH > UpwardPlateLaw.Hi:
		if r.up > 0 {
			return UpwardPlateLaw.Outside
		}
		return DownwardPlateLaw.Outside
	}
	return ""
}

// bodyAreaM2 is the body's area, at least that of a thin plate of this face.
func (p *Patch) bodyAreaM2() float64 {
	if p.BodyAreaM2 > p.AreaM2 {
		return p.BodyAreaM2
	}
	return 2 * p.AreaM2
}

// channelled tells whether a facing wall matters: a channel a hundred times wider than it is deep is an open face.
func (p *Patch) channelled() bool {
	return p.Channel.GapM > 0 && (p.Channel.DepthM <= 0 || p.Channel.DepthM*100 > p.Channel.GapM)
}

// evaluate fills r. See Film for the formulas.
func (p *Patch) evaluate(surfaceK, upstreamK float64, env *Env, r *regime) {
	r.surfaceOK = surfaceK > 0 && !math.IsInf(surfaceK, 1)
	if !r.surfaceOK {
		surfaceK = env.AirK
	}
	deltaK := surfaceK - env.AirK
	pressurePa := env.pressurePa()
	r.fresh = freshShare(upstreamK-env.AirK, deltaK)
	r.air = AirAt((surfaceK+env.AirK)/2, pressurePa)
	air := &r.air

	heightM, widthM := p.HeightM, p.WidthM
	if heightM <= 0 && widthM <= 0 {
		heightM = math.Sqrt(p.AreaM2)
		widthM = heightM
	} else if heightM <= 0 {
		heightM = p.AreaM2 / widthM
	} else if widthM <= 0 {
		widthM = p.AreaM2 / heightM
	}
	perimeterM := 2 * (heightM + widthM)
	lengthH := heightM * widthM / perimeterM // area over perimeter
	bodyM2 := p.bodyAreaM2()
	r.bodyOK = p.BodyAreaM2 > 0
	r.lengthV, r.lengthH = heightM, lengthH

	sin, cos := math.Sincos(p.TiltRad)
	sin = math.Max(sin, 0)
	if deltaK < 0 { // colder than the air: the flow is that of the warm face turned over
		cos = -cos
	}

	// Natural, each boundary layer on its own.
	r.raV = Rayleigh(air, deltaK, heightM) * sin
	r.raH = Rayleigh(air, deltaK, lengthH)
	r.vert = air.KWmK / heightM * verticalLayerNu(r.raV, air.Pr) * wake(r.fresh, undersideRunM(bodyM2, heightM), heightM)
	if cos > 0 {
		// The whole box below the face: its height from the body's area, if it has one like this on the other side.
		below := math.Max(bodyM2-2*heightM*widthM, 0) / perimeterM
		r.up = air.KWmK / lengthH * upwardLayerNu(r.raH*cos, air.Pr) * wake(r.fresh, lengthH/2+below, lengthH/2)
		r.layer = pnorm(r.vert, r.up, 10)
	} else {
		r.down = air.KWmK / lengthH * downwardLayerNu(r.raH*-cos, air.Pr)
		r.layer = pnorm(r.vert, r.down, 10)
	}

	// Whole-body conduction, and what a channel leaves of it: through the mouth, spread over the walls.
	r.floor = air.KWmK * compactNu0 / math.Sqrt(bodyM2)
	r.natural = r.layer
	if p.channelled() {
		depthM := p.Channel.DepthM
		if depthM <= 0 {
			depthM = heightM / 2 // closed slot: its two ends, 2S, serve walls 2H
		}
		r.floor *= p.Channel.GapM / (p.Channel.GapM + 2*depthM)
		// Along the run; a level channel is still driven by the head of warm air it holds, as tall as the gap or the
		// depth. That share is our estimate, no source.
		headM := p.Channel.DepthM
		if headM <= 0 {
			headM = p.Channel.GapM
		}
		r.duct = p.ductWm2K(air, deltaK, heightM, math.Min(sin+math.Abs(cos)*headM/heightM, 1))
		if cos > 0 && p.Channel.DepthM > 0 { // the mouth looks up: warm air leaves through it
			r.duct += p.ductWm2K(air, deltaK, p.Channel.DepthM, cos)
		}
		r.natural = pnorm(r.layer, r.duct, -2)
	}

	// Forced.
	if env.WindMS > 0 {
		if r.bodyOK {
			r.lengthF = math.Sqrt(bodyM2)
			r.re = env.WindMS * r.lengthF / air.NuM2s
			r.forced = air.KWmK / r.lengthF * BodyForcedLayerNu(r.re, air.Pr, compactPerimeter)
		} else {
			r.lengthF = heightM
			r.re = env.WindMS * r.lengthF / air.NuM2s
			r.forced = air.KWmK / r.lengthF * FlatPlateNu(r.re, air.Pr)
		}
		if p.channelled() {
			r.forced = pnorm(r.forced, p.windDuctWm2K(air, env.WindMS, heightM), -2)
		}
	}
	r.conv = r.floor + AssistingNu(r.forced, r.natural, 3+math.Abs(cos))
}

// compactPerimeter is Pmax/√A of a body of which only the area is known: cube 1.63, flat box 2.3.
const compactPerimeter = 2.0

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

// ductWm2K is the coefficient of a channel so narrow that the air leaves at wall temperature: the first limit of
// ChannelLaw (closed) or UChannelLaw (one long side open). pull is the share of gravity along the run.
func (p *Patch) ductWm2K(air *Air, deltaK, runM, pull float64) float64 {
	if pull <= 0 {
		return 0
	}
	r, psi := p.Channel.GapM, 24.0
	if p.Channel.DepthM > 0 {
		r = 2 * p.Channel.DepthM * p.Channel.GapM / (2*p.Channel.DepthM + p.Channel.GapM)
		psi = uChannelPsi(p.Channel.GapM, p.Channel.DepthM)
	}
	if p.Channel.OneSided {
		psi /= 2 // the same air, half the warm wall
	}
	return air.KWmK / psi * Rayleigh(air, deltaK, r) * pull / runM
}

// windDuctWm2K bounds forced convection in a channel by the air that the wind can push through it. Our estimate, no
// source: the stagnation pressure ½ρU² against laminar friction, 12 µ L u/S², gives u = ρU²S²/(24µL), at most U;
// that air leaves at wall temperature: h = ρ c u S/(2L).
func (p *Patch) windDuctWm2K(air *Air, windMS, runM float64) float64 {
	viscous := windMS * windMS * p.Channel.GapM * p.Channel.GapM / (24 * air.NuM2s * runM)
	u := windMS * viscous / (windMS + viscous)
	return air.DensityKgM3 * air.CpJkgK * u * p.Channel.GapM / (2 * runM)
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
	return math.Min(math.Max(1-(upstreamRiseK*riseK+e2)/(riseK*riseK+e2), 0), 1)
}
