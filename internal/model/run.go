package model

import (
	"math"

	"finwright/internal/device"
	"finwright/internal/part"
	"finwright/internal/surface"
)

// Under is where and how a run takes place, in SI: the device file's conditions with every default filled in.
type Under struct {
	AirK, RadiantK float64
	PressurePa     float64
	AltitudeM      float64
	WindMS         float64
	SunWm2         float64
	SunSide        int // index into skin.Sides; -1: the worst side
	UpAxis, UpSign int
	RestsFace      string // "part.face" or empty
	RestsWhat      string
	Mode           string
}

// up is the unit vector against gravity.
func (u *Under) up() part.Vec {
	var v part.Vec
	v[u.UpAxis] = float64(u.UpSign)
	return v
}

// NewUnder reads conditions c over the file's own defaults. about names the run for the list of unknowns.
func (r *resolver) under(f *device.File, c *device.Conditions, mode string) Under {
	base := &f.Conditions
	pick := func(a, b device.Q) device.Q {
		if a.Given() {
			return a
		}
		return b
	}
	u := Under{AirK: device.DefaultAmbientK, SunSide: -1, UpAxis: 1, UpSign: 1, Mode: mode}
	if q := pick(c.Ambient, base.Ambient); q.Given() {
		u.AirK = r.stated(q, "ambient temperature")
	} else {
		r.decide("ambient temperature", "25 °C", "our default: the file states none")
	}
	u.RadiantK = u.AirK
	if q := pick(c.Surroundings, base.Surroundings); q.Given() {
		u.RadiantK = r.stated(q, "temperature of the surroundings")
	}
	air := c.Air
	if !air.Given {
		air = base.Air
	}
	if air.Given && !air.Still {
		u.WindMS = r.stated(air.Speed, "air speed")
	}
	if q := pick(c.Sun, base.Sun); q.Given() {
		u.SunWm2 = r.stated(q, "sun")
	}
	from := c.SunFrom
	if from == "" {
		from = base.SunFrom
	}
	if a, s, ok := axisSign(from); ok {
		u.SunSide = 2*a + (s+1)/2
	}
	if q := pick(c.Altitude, base.Altitude); q.Given() {
		u.AltitudeM = r.stated(q, "altitude")
	}
	u.PressurePa = surface.PressureAtAltitude(u.AltitudeM)
	for _, name := range []string{c.Up, base.Up, f.Up} {
		if a, s, ok := axisSign(name); ok {
			u.UpAxis, u.UpSign = a, s
			break
		}
	}
	rests := c.RestsOn
	if rests == nil {
		rests = base.RestsOn
	}
	if rests != nil && rests.What != "nothing" {
		u.RestsFace, u.RestsWhat = rests.Face, rests.What
	}
	if u.Mode == "" {
		u.Mode = f.Mode
	}
	return u
}

const (
	zeroCelsiusK = 273.15
)

// supports is what a device may lie on or be held by. The film is that of an isothermal disk of the face's area on a deep
// body of conductivity kWmK (R = 1/(4 k a), the half-space limit of spreading resistance; Yovanovich & Marotta in Bejan &
// Kraus, Heat Transfer Handbook 2003 ch. 4), in series with a contact film. Conductivities: handbook orders of magnitude,
// from memory; contact films: common practice, no source.
var supports = map[string]struct {
	kWmK, contactWm2K, atK float64 // atK 0: at ambient
}{
	"wood":  {0.15, 100, 0},
	"paper": {0.07, 50, 0},
	"cloth": {0.05, 30, 0},
	"stone": {2.0, 200, 0},
	"metal": {100, 500, 0},
	"hand":  {0.4, 100, 33 + zeroCelsiusK}, // skin at rest is near 33 °C; blood flow keeps it there
}

// supportFilm is the film coefficient, W/(m2 K), and reference temperature of a support under a face of that area.
func supportFilm(what string, areaM2, airK float64) (hWm2K, refK float64) {
	s := supports[what]
	a := math.Sqrt(areaM2 / math.Pi)
	hSpread := 4 * s.kWmK / (math.Pi * a)
	refK = airK
	if s.atK > 0 {
		refK = s.atK
		hSpread = 60 // blood flow, not conduction, sets a hand's sink: 30-100 W/(m2 K), common practice, no source
	}
	return 1 / (1/hSpread + 1/s.contactWm2K), refK
}
