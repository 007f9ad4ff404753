package main

import "math"

// A network is a device as a few lumps: the invented truth behind a log. It is deliberately not finwright's model: each lump
// has one temperature, outer faces lose heat by textbook formulas, and nothing is known of shapes.
//
//	C_i dT_i/dt = P_i + Σ_k G_ik (T_k - T_i) - A_i (h_i + r_i) (T_i - T_air)
type network struct {
	lumps []lump
	links []link
	// sensor is the lump whose temperature the device acts on.
	sensor int
	stopC  float64 // it switches itself off above this; 0: never
	steps  []step  // power steps, coolest first
}

type lump struct {
	name       string
	capacityJK float64
	powerW     float64 // heat made here at full power
	fixedW     float64 // heat that no step or stop cuts: absorbed sun
	areaM2     float64 // outer face; 0 for a lump inside
	heightM    float64 // height of that face
	emissivity float64
}

type link struct {
	a, b int
	gWK  float64
}

// step leaves share of full power above one temperature, and is left again below the other.
type step struct{ aboveC, belowC, share float64 }

// air is what is around: its temperature at the start, and how much it drifts per hour.
type air struct{ startC, driftKPerHour float64 }

func (a air) at(tS float64) float64 { return a.startC + a.driftKPerHour*tS/3600 }

// filmWm2K is still air plus radiation on a face at faceC. Convection: 1.42 (ΔT/L)^(1/4) W/(m² K), the simplified laminar
// formula for an upright plate in air at one atmosphere (Holman, Heat Transfer; from memory). Radiation: linearised at the
// two temperatures.
func (l *lump) filmWm2K(faceC, airC float64) float64 {
	const sigma = 5.670374e-8 // W/(m² K⁴)
	f, a := faceC+273.15, airC+273.15
	return 1.42*math.Pow(math.Abs(faceC-airC)/l.heightM, 0.25) + l.emissivity*sigma*(f*f+a*a)*(f+a)
}

// slopes writes dT/dt of all lumps to dst, K/s.
func (n *network) slopes(tC, dst []float64, airC, share float64) {
	for i := range n.lumps {
		l := &n.lumps[i]
		dst[i] = l.powerW*share + l.fixedW
		if l.areaM2 > 0 {
			dst[i] -= l.areaM2 * l.filmWm2K(tC[i], airC) * (tC[i] - airC)
		}
	}
	for _, k := range n.links {
		q := k.gWK * (tC[k.a] - tC[k.b])
		dst[k.a] -= q
		dst[k.b] += q
	}
	for i := range n.lumps {
		dst[i] /= n.lumps[i].capacityJK
	}
}

// history is a run: all lumps every rowS seconds, and what the device did.
type history struct {
	rowS   float64
	tC     [][]float64 // [row][lump]
	stopS  float64     // NaN: it did not stop
	stepsS []float64   // when each step up was taken
}

// run follows the device from startC for untilS, or to coolS after its stop. Classical Runge-Kutta; the device looks at its
// sensor once per stepS.
func (n *network) run(around air, startC, rowS, untilS, coolS float64) history {
	const stepS = 0.25
	size := len(n.lumps)
	t := make([]float64, size)
	for i := range t {
		t[i] = startC
	}
	k := [4][]float64{}
	for i := range k {
		k[i] = make([]float64, size)
	}
	try := make([]float64, size)
	h := history{rowS: rowS, stopS: math.NaN()}
	level, share := 0, 1.0
	perRow := int(math.Round(rowS / stepS))
	for s := 0; ; s++ {
		now := float64(s) * stepS
		if s%perRow == 0 {
			h.tC = append(h.tC, append([]float64(nil), t...))
		}
		if now >= untilS || now >= h.stopS+coolS { // a NaN stop never ends it
			return h
		}
		if math.IsNaN(h.stopS) {
			switch at := t[n.sensor]; {
			case n.stopC > 0 && at >= n.stopC:
				h.stopS, share = now, 0
			case level < len(n.steps) && at >= n.steps[level].aboveC:
				share = n.steps[level].share
				level++
				h.stepsS = append(h.stepsS, now)
			case level > 0 && at < n.steps[level-1].belowC:
				level--
				share = 1
				if level > 0 {
					share = n.steps[level-1].share
				}
			}
		}
		n.slopes(t, k[0], around.at(now), share)
		for j, w := range []float64{0.5, 0.5, 1} {
			for i := range try {
				try[i] = t[i] + w*stepS*k[j][i]
			}
			n.slopes(try, k[j+1], around.at(now+w*stepS), share)
		}
		for i := range t {
			t[i] += stepS / 6 * (k[0][i] + 2*k[1][i] + 2*k[2][i] + k[3][i])
		}
	}
}
