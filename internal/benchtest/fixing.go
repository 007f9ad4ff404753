package benchtest

import (
	"math"

	"finwright/internal/thermocouple"
)

// Fixing is one way to fix a thermocouple's junction, and how much it reads low by it.
type Fixing struct {
	Way    string
	How    string
	Share  float64 // of (place - room)
	LowK   float64 // at the warmest probe's rise on that kind of body
	Source string
}

// A cheap type K wire pair, as loggers bring them: 0.2 mm, bare bead as thick as the wire. Common practice, no source; conductivity of the
// pair's mean from memory; the film on so thin a wire from memory (natural convection on thin wires, 30 to 60 W/(m² K)).
const (
	wireM, wireWmK, wireWm2K = 0.0002, 25, 40
	bareLegs                 = 2
	alongDiameters           = 25.0 // wire that lies along the surface; common practice is 20 to 30
	filmWmK                  = 0.2  // adhesive of tapes, varnish, unfilled epoxy; from memory
	filmM                    = 0.05e-3
	pasteWmK                 = 1.0
	holeM, holeDepthM        = 0.0008, 0.003
	metalWmK, plasticWmK     = 150, 0.25
)

// fixings are the usual ways on metal or on a body that conducts badly, best first, for a rise in K.
func fixings(metal bool, riseK float64) ([]Fixing, error) {
	kBody := float64(plasticWmK)
	if metal {
		kBody = metalWmK
	}
	bare, err := thermocouple.SurfaceError(wireM, wireWmK, wireWm2K, kBody, bareLegs)
	if err != nil {
		return nil, err
	}
	// the legs' conductance is that share's x = nG·R over R of the disk, 1/(2 k d); a film under the bead adds its resistance to R
	nG := bare / (1 - bare) * 2 * kBody * wireM
	film := filmM / (filmWmK * math.Pi / 4 * beadM * beadM)
	through := func(share float64, extraKW float64) float64 {
		x := share/(1-share) + nG*extraKW // nG·(R + extra)
		return x / (1 + x)
	}
	// a wire under tape is a fin in a trough at the surface's temperature
	along, err := thermocouple.HoleError(wireM, wireWmK, filmWmK/filmM/trough, alongDiameters*wireM)
	if err != nil {
		return nil, err
	}
	const fin = "disk on a half-space with the legs as fins (Carslaw & Jaeger; Hennecke & Sparrow 1970, from memory)"
	taped := math.Max(tapeFloor, through(bare, film)*along)
	var out []Fixing
	add := func(way, how string, share float64, source string) {
		out = append(out, Fixing{way, how, share, share * riseK, source})
	}
	if metal {
		paste, err := thermocouple.HoleError(wireM, wireWmK, pasteWmK/(wireM/2*math.Log(holeM/wireM)), holeDepthM)
		if err != nil {
			return nil, err
		}
		add("paste in a hole", "hole 0.8 mm, 3 mm deep, filled with thermal paste; only where metal may be drilled", paste, "fin with insulated tip (Incropera & DeWitt, table 3.4)")
	}
	add("wire run, insulated bead", "varnished bead flat on the surface, 5 mm (25 diameters) of wire along it under polyimide tape", taped, fin+"; film of 0.05 mm: common practice, no source")
	add("bead under tape, wire up", "the same bead, but the wire leaves at once", through(bare, film), fin)
	return out, nil
}

// beadM is how wide the bead touches through its film; trough is the wire's girth over what of it faces the surface; tapeFloor is
// what tape changes of the surface's own loss at the very place. All common practice, no source.
const (
	beadM     = 0.0005
	trough    = 3.0
	tapeFloor = 0.02
)

// roomProbeM are distances tried for the probe of the room, m.
var roomProbeM = []float64{0.2, 0.3, 0.5}

// RoomProbe is where the probe of the room hangs.
type RoomProbe struct {
	AwayM   float64 // beside the device, level with its middle
	WarmedK float64 // most that the device's radiation warms it there
}

// roomProbe finds the nearest place beside the device where its radiation warms a bead of 1 mm by less than 0.1 K:
//
//	ΔT = σ(Ts⁴−Ta⁴)·A/(4π d²) / (4 (h_c+h_r))      the device as a black sphere of its own area; bead: Nu = 2
//
// Source: inverse square law of a diffuse sphere; Nu = 2 is conduction from a sphere in still air, the least there can be (any textbook).
func roomProbe(areaM2, surfaceK, roomK float64) RoomProbe {
	const sigma, ballM, kAir = 5.670374419e-8, 0.001, 0.026
	loss := 4 * (2*kAir/ballM + 4*sigma*math.Pow(roomK, 3))
	var p RoomProbe
	for _, d := range roomProbeM {
		p = RoomProbe{d, sigma * (math.Pow(surfaceK, 4) - math.Pow(roomK, 4)) * areaM2 / (4 * math.Pi * d * d) / loss}
		if p.WarmedK < 0.1 {
			break
		}
	}
	return p
}
