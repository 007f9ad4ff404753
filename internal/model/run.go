package model

import (
	"math"

	"finwright/internal/device"
	"finwright/internal/part"
	"finwright/internal/surface"
	"finwright/internal/unit"
)

// Under is where and how a run takes place, in SI: the device file's conditions with every default filled in.
type Under struct {
	AirK           float64
	SkyK, GroundK  float64 // what is seen around, above and below the horizon
	PressurePa     float64
	AltitudeM      float64
	WindMS         float64
	WindKnown      bool
	WindFrom       part.Vec // unit vector towards where it comes from, when known
	SunWm2         float64  // direct, on faces square to it
	SunKnown       bool
	SunFrom        part.Vec // unit vector towards it, when known
	SkyLightWm2    float64  // diffuse, on level ground
	GroundReflects float64
	Up             part.Vec // unit vector against gravity
	UpAxis, UpSign int      // the axis nearest to it: what pictures follow
	Rests          []Rest
	Mode           string
}

// Defaults of light out of doors.
var (
	// skyLightDefault is the sky's light as a share of the direct sun: 10 to 25 % on a clear day (from memory).
	skyLightDefault = unit.Quantity{Dim: unit.Ratio, Kind: unit.Range, Mid: 0.15, Lo: 0.10, Hi: 0.25}
	// groundReflectsDefault is the usual albedo of grass and soil (0.2; Liu & Jordan, Solar Energy 4, 1960, and common since).
	groundReflectsDefault = unit.Quantity{Dim: unit.Ratio, Kind: unit.Range, Mid: 0.2, Lo: 0.1, Hi: 0.3}
)

// under reads conditions c over the file's own defaults.
func (r *resolver) under(f *device.File, own *device.Conditions, mode string) Under {
	c := f.Under(own)
	u := Under{AirK: device.DefaultAmbientK, Up: part.Vec(c.UpDir(r.values)), Mode: mode}
	if c.Ambient.Given() {
		u.AirK = r.stated(c.Ambient, "ambient temperature")
	} else {
		r.decide("ambient temperature", "25 °C", "our default: the file states none")
	}
	around := u.AirK
	if c.Surroundings.Given() {
		around = r.stated(c.Surroundings, "temperature of the surroundings")
	}
	u.SkyK, u.GroundK = around, around
	if c.Sky.Given() {
		u.SkyK = r.stated(c.Sky, "temperature of the sky")
	}
	if c.Ground.Given() {
		u.GroundK = r.stated(c.Ground, "temperature of the ground")
	}
	if c.Air.Given && !c.Air.Still {
		u.WindMS = r.stated(c.Air.Speed, "air speed")
		u.WindKnown, u.WindFrom = c.WindFrom.Given, part.Vec(c.WindFrom.Dir)
	}
	if c.Sun.Given() {
		u.SunWm2 = r.stated(c.Sun, "sun")
		u.SunKnown, u.SunFrom = c.SunFrom.Given, part.Vec(c.SunFrom.Dir)
	}
	switch {
	case c.SkyLight.Given():
		u.SkyLightWm2 = r.stated(c.SkyLight, "light of the sky")
	case u.SunWm2 > 0:
		u.SkyLightWm2 = u.SunWm2 * r.value("sun.sky light", "light of the sky, as a share of the sun's", "a clear day, 10 to 25 %: from memory", skyLightDefault, false)
	}
	switch {
	case c.GroundReflects.Given():
		u.GroundReflects = r.stated(c.GroundReflects, "what the ground reflects")
	case u.SunWm2 > 0 || u.SkyLightWm2 > 0:
		u.GroundReflects = r.value("sun.ground reflects", "share of the light that the ground throws back", "grass and soil, 0.2 (Liu & Jordan, Solar Energy 4, 1960)", groundReflectsDefault, false)
	}
	if c.Altitude.Given() {
		u.AltitudeM = r.stated(c.Altitude, "altitude")
	}
	u.PressurePa = surface.PressureAtAltitude(u.AltitudeM)
	for a, x := range u.Up {
		if math.Abs(x) > math.Abs(u.Up[u.UpAxis])+1e-9 {
			u.UpAxis = a
		}
	}
	u.UpSign = 1
	if u.Up[u.UpAxis] < 0 {
		u.UpSign = -1
	}
	for _, s := range c.Supports() {
		rest := Rest{Face: s.Face, What: s.What}
		if s.Share.Given() {
			rest.Share = r.stated(s.Share, "share of "+s.Face+" that is touched")
		}
		u.Rests = append(u.Rests, rest)
	}
	if u.Mode == "" {
		u.Mode = f.Mode
	}
	return u
}

const (
	zeroCelsiusK = 273.15
)
