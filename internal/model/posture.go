package model

import (
	"math"

	"finwright/internal/part"
	"finwright/internal/skin"
	"finwright/internal/surface"
)

// envelope is the device as a whole in the air.
type envelope struct {
	areaM2 float64 // of the box around it, without the flanks of fins
	aspect float64 // outline square to the wind over √area; 0 when the wind's direction is not known
}

func (s *Shape) envelope(u *Under) envelope {
	x, y, z := extent(s.Grid.X), extent(s.Grid.Y), extent(s.Grid.Z)
	e := envelope{areaM2: 2 * (x*y + y*z + z*x)}
	if u.WindMS > 0 && u.WindKnown {
		outlineM := 0.0
		for a, p := range [3]float64{2 * (y + z), 2 * (z + x), 2 * (x + y)} {
			outlineM += u.WindFrom[a] * u.WindFrom[a] * p
		}
		e.aspect = outlineM / math.Sqrt(e.areaM2)
	}
	return e
}

// patchOf is what the relations for convection ask of a surface, for one posture.
func patchOf(sk *skin.Surface, u *Under, body envelope) surface.Patch {
	p := surface.Patch{Name: sk.Name, AreaM2: sk.AreaM2, TiltRad: angle(dot(sk.Normal, u.Up)), BodyAreaM2: body.areaM2, BodyAspect: body.aspect}
	p.HeightM, p.WidthM = run(sk, u.Up)
	if u.WindKnown {
		p.WindCos = dot(sk.Normal, u.WindFrom)
	}
	if c := sk.Round; c != nil {
		p.DiameterM, p.HeightM = c.DiameterM, c.LengthM
		p.AxisTiltRad = angle(math.Abs(dot(c.Axis, u.Up)))
		p.WidthM = math.Pi * c.DiameterM
	}
	if c := sk.Channel; c != nil {
		rise := dot(c.Along, u.Up)
		p.Channel = surface.Channel{GapM: c.GapM, DepthM: c.DepthM, LengthM: c.LengthM, RunTiltRad: angle(math.Abs(rise)),
			MouthTiltRad: angle(dot(c.Mouth, u.Up)), OpenLow: c.OpenLo, OpenHigh: c.OpenHi, OpenMouth: c.OpenMouth, OneSided: c.OneSided,
			WindAlong: math.Abs(dot(c.Along, u.WindFrom))}
		if rise < 0 {
			p.Channel.OpenLow, p.Channel.OpenHigh = c.OpenHi, c.OpenLo
		}
	}
	return p
}

// run is the length of a face along the slope, through its middle, and its width across; of a level face its two sides.
func run(sk *skin.Surface, up part.Vec) (heightM, widthM float64) {
	alongU, alongV := math.Abs(dot(sk.U, up)), math.Abs(dot(sk.V, up))
	slope := math.Hypot(alongU, alongV)
	if slope < 1e-6 {
		return math.Min(sk.UM, sk.VM), math.Max(sk.UM, sk.VM)
	}
	heightM = 1 / math.Max(alongU/slope/sk.UM, alongV/slope/sk.VM)
	return heightM, sk.UM * sk.VM / heightM
}

// angle is the arc cosine of a number that rounding may have put a hair beyond 1.
func angle(cos float64) float64 { return math.Acos(math.Max(-1, math.Min(1, cos))) }

func dot(a, b part.Vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
