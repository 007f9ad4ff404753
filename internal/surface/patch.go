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
	// 0 = not known: the face is taken as square. Of channels AreaM2 counts all walls; tilt, height and width are those of
	// the open face they are cut into.
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
	// WindCos is the outward normal times the direction that the wind comes from: 1 windward, 0 along, -1 lee; of a round
	// side the cosine between axis and wind. It is used when Env.WindKnown.
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

// Check tells what is wrong with the patch for a person, or nil.
func (p *Patch) Check() error {
	// A length is not given, 0, or lies between a micrometre and a kilometre; the arithmetic relies on it.
	bad := func(v float64) bool { return v != 0 && !(v >= 1e-6 && v <= 1e3) }
	angle := func(v, most float64) bool { return v >= 0 && v <= most+1e-9 }
	c := &p.Channel
	switch {
	case !(p.AreaM2 >= 1e-12 && p.AreaM2 <= 1e6):
		return fmt.Errorf("face %q: area %g m² must be positive and below a square kilometre", p.Name, p.AreaM2)
	case !angle(p.TiltRad, math.Pi):
		return fmt.Errorf("face %q: tilt %g rad must lie between 0 (faces up) and π (faces down)", p.Name, p.TiltRad)
	case bad(p.HeightM) || bad(p.WidthM) || bad(p.DiameterM):
		return fmt.Errorf("face %q: height %g m, width %g m and diameter %g m must each be 0 (not given) or between 1 µm and 1 km", p.Name, p.HeightM, p.WidthM, p.DiameterM)
	case !(p.BodyAreaM2 >= 0 && p.BodyAreaM2 <= 1e6), !(p.BodyAspect >= 0 && p.BodyAspect <= 100):
		return fmt.Errorf("face %q: the body's area %g m² and its outline over √area, %g, must be 0 (not given) or positive, below a square kilometre and 100", p.Name, p.BodyAreaM2, p.BodyAspect)
	case !angle(p.AxisTiltRad, math.Pi/2):
		return fmt.Errorf("face %q: the axis stands %g rad from the vertical, which must lie between 0 and π/2", p.Name, p.AxisTiltRad)
	case !(math.Abs(p.WindCos) <= 1+1e-9), !(c.WindAlong >= 0 && c.WindAlong <= 1+1e-9):
		return fmt.Errorf("face %q: cosines of the wind, %g to the face and %g along the channel, must lie within -1..1 and 0..1", p.Name, p.WindCos, c.WindAlong)
	case bad(c.GapM) || bad(c.DepthM) || bad(c.LengthM):
		return fmt.Errorf("face %q: the channel's gap %g m, depth %g m or length %g m must each be 0 (none) or between 1 µm and 1 km", p.Name, c.GapM, c.DepthM, c.LengthM)
	case !angle(c.RunTiltRad, math.Pi/2), !angle(c.MouthTiltRad, math.Pi):
		return fmt.Errorf("face %q: the channel's run, %g rad from the vertical, must lie within 0..π/2 and its mouth, %g rad from up, within 0..π", p.Name, c.RunTiltRad, c.MouthTiltRad)
	}
	return nil
}
