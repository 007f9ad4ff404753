package curve

import (
	"math/rand/v2"

	"finwright/internal/unit"
)

// CapacityOf says what the known heat capacity belongs to.
type CapacityOf uint8

// The two capacities a person can know.
const (
	// WholeDevice is everything that warms: mass times specific heat, summed. The power is then that of the slow exponential,
	// P = C·rise/τ: once the inside has spread its heat the whole warms alike.
	WholeDevice CapacityOf = iota
	// HeatedPart is the part in which the heat arises, with the probe on it: P = C·dT/dt in the first moments, before heat leaves it.
	HeatedPart
)

// PowerFromWarming is the power, W, from the slope of the curve at switch-on and a heat capacity, J/K. The device must have started at
// room temperature, power unchanged. The slope is known sooner than time constant or rise, so a curve too short for those may still
// give the power. It is refused where even the slope is not seen, and for a HeatedPart whose probe lags behind.
func PowerFromWarming(f *Fit, capacityJK unit.Quantity, of CapacityOf) Estimate {
	if capacityJK.Dim != unit.HeatCapacity || capacityJK.Kind == unit.Absent || !(capacityJK.Lo > 0) {
		return refused("the heat capacity must be stated and positive, such as %s", unit.HeatCapacity.Example())
	}
	prior := capacityJK.Prior()
	rng := rand.New(rand.NewPCG(1, 0xca9))
	v := make([]float64, len(f.Draws))
	lag := 0
	for i, d := range f.Draws {
		slopeKS := d.SlowK / d.TauS
		if of == HeatedPart && d.FastTauS > 0 {
			slopeKS += d.FastK / d.FastTauS
			if d.FastK*d.SlowK < 0 {
				lag++
			}
		}
		v[i] = prior.At(rng.NormFloat64()) * slopeKS
	}
	if 2*lag > len(v) {
		return refused("the reading begins to warm late: the probe is not on the part that is heated, so its slope says nothing of the power")
	}
	e := quantiles(v)
	if !(e.Lo > 0) || e.Hi > usefulRatio*e.Lo {
		return refused("the slope at switch-on is not seen well enough (%.2g to %.2g W): read more often in the first minutes", e.Lo, e.Hi)
	}
	return e
}
