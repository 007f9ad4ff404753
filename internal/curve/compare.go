package curve

import (
	"fmt"
	"math"
	"math/rand/v2"

	"finwright/internal/unit"
)

// Run is a fitted run and the power it had. An absent power is unknown.
type Run struct {
	Fit    *Fit
	PowerW unit.Quantity
}

// Same is what two runs are brought to before they are compared.
type Same struct {
	RoomK float64
	// PowerW is the power both are scaled to, the rise being proportional to it; zero takes both runs' powers as equal and unchanged.
	PowerW float64
	// LimitK is the temperature at the probe at which the device stops; zero without one.
	LimitK float64
	// SameProbe says that probes and places were the same in both: their constant errors then cancel.
	SameProbe bool
}

// Pair is a comparison of two runs at equal room and power, started from room temperature.
type Pair struct {
	BeforeRiseK, AfterRiseK, LessK Estimate // steady rises; LessK is before minus after
	// Times to the limit, s; +Inf where it is not reached. MoreS is after minus before, refused where neither reaches it.
	BeforeS, AfterS, MoreS      Estimate
	BeforeReaches, AfterReaches float64 // probability that the limit is reached at all
}

// Compare brings two runs to the same room and power. Films that grow with temperature are not in it: keep the runs' rooms and powers
// near each other and near those asked for. A run that started warm is taken to share its change between quick and slow as from cold.
// It fails on a missing room, a missing power when one is asked for, or a limit below the room.
func Compare(before, after Run, at Same) (Pair, error) {
	runs, names := []Run{before, after}, []string{"before", "after"}
	for i, r := range runs {
		if math.IsNaN(r.Fit.RoomK) {
			return Pair{}, fmt.Errorf("the room temperature of the run %s is not known: only rises over the room can be compared", names[i])
		}
		if at.PowerW != 0 && (r.PowerW.Kind == unit.Absent || r.PowerW.Dim != unit.Power || !(r.PowerW.Lo > 0)) {
			return Pair{}, fmt.Errorf("the power of the run %s is not known, so it cannot be brought to %.2f W", names[i], at.PowerW)
		}
	}
	if !(at.PowerW >= 0) || math.IsInf(at.PowerW, 1) || !(at.RoomK > 0) || math.IsInf(at.RoomK, 1) {
		return Pair{}, fmt.Errorf("power %g W and room %g K to compare at must be positive", at.PowerW, at.RoomK)
	}
	if at.LimitK != 0 && !(at.LimitK > at.RoomK) {
		return Pair{}, fmt.Errorf("the limit, %.1f °C, is not above the room, %.1f °C", at.LimitK-273.15, at.RoomK-273.15)
	}
	rng := rand.New(rand.NewPCG(1, 0xc03))
	n := min(len(before.Fit.Draws), len(after.Fit.Draws))
	other := rng.Perm(n) // fits of the same seed have draws that are alike in order
	var rises, times [2][]float64
	for i := range runs {
		rises[i], times[i] = make([]float64, n), make([]float64, n)
	}
	less, more := make([]float64, n), make([]float64, 0, n)
	var reach [2]float64
	for k := range n {
		for i, r := range runs {
			d := r.Fit.Draws[k]
			if i == 1 {
				d = r.Fit.Draws[other[k]]
			}
			probeK, roomK := d.ProbeErrorK, d.RoomErrorK
			if at.SameProbe {
				probeK, roomK = before.Fit.Draws[k].ProbeErrorK, before.Fit.Draws[k].RoomErrorK
			}
			scale := 1.0
			if at.PowerW > 0 {
				scale = at.PowerW / r.PowerW.Prior().At(rng.NormFloat64())
			}
			rises[i][k] = scale * (d.SteadyK - probeK - r.Fit.RoomK + roomK)
			if at.LimitK > 0 {
				times[i][k] = d.timeTo((at.LimitK - at.RoomK) / rises[i][k])
				if !math.IsInf(times[i][k], 1) {
					reach[i] += 1 / float64(n)
				}
			}
		}
		less[k] = rises[0][k] - rises[1][k]
		if d := times[1][k] - times[0][k]; !math.IsNaN(d) { // both endless
			more = append(more, d)
		}
	}
	p := Pair{BeforeReaches: reach[0], AfterReaches: reach[1]}
	p.BeforeRiseK, p.AfterRiseK, p.LessK = quantiles(rises[0]), quantiles(rises[1]), quantiles(less)
	if at.LimitK == 0 {
		p.BeforeS = refused("no limit was given")
		p.AfterS, p.MoreS = p.BeforeS, p.BeforeS
	} else {
		p.BeforeS, p.AfterS, p.MoreS = quantiles(times[0]), quantiles(times[1]), refused("neither run reaches the limit")
		if len(more) > n/2 {
			p.MoreS = quantiles(more)
		}
	}
	// The time to a limit inside what was seen is known even where the steady rise is not.
	for i, r := range runs {
		if r.Fit.SteadyK.Given() {
			continue
		}
		why := refused("run %s: %s", names[i], r.Fit.SteadyK.Refused)
		rise, time := []*Estimate{&p.BeforeRiseK, &p.AfterRiseK}[i], []*Estimate{&p.BeforeS, &p.AfterS}[i]
		*rise, p.LessK = why, why
		if at.LimitK != 0 && !(time.Hi <= r.Fit.EndS-r.Fit.StartS) {
			*time, p.MoreS = why, why
		}
	}
	return p, nil
}

// timeTo is when the share of the whole change has happened, s after the start; +Inf when it never does (share >= 1 or not positive).
func (d Draw) timeTo(share float64) float64 {
	if !(share > 0 && share < 1) {
		return math.Inf(1)
	}
	lo, hi := 0.0, d.TauS
	for d.risenShare(hi) < share {
		lo, hi = hi, 2*hi
	}
	for range 60 {
		mid := (lo + hi) / 2
		if d.risenShare(mid) < share {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}
