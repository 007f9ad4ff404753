package heat

import "math"

// closureLimit: heat in, out and stored agree to this part of the heat moved.
const closureLimit = 1e-6

// Balance is the account since Init, J. GainJ belongs to the surfaces (sun); OutJ
// is what their films carried away, gains not deducted (net negative: they warmed
// the body). InJ + GainJ − OutJ − StoredJ is zero but for rounding.
type Balance struct {
	InJ, GainJ, OutJ, StoredJ float64
	SourceInJ                 []float64 // per source
	SurfaceGainJ              []float64 // per surface
	SurfaceOutJ               []float64
	// MovedJ is half of all heat that came in, went out or was stored, step by
	// step without regard to sign; ClosureRel is what is missing as a part of it.
	MovedJ, ClosureRel float64
}

// account keeps the flows. The store is read from the temperatures.
type account struct {
	inJ, gainJ, outJ []float64
	movedJ           float64
	baseK            float64 // temperatures are counted from here, against rounding
	base             float64 // Σ C (T − baseK) at the start, J
	capJK            float64 // of the whole model
}

func newAccount(m *Model) account {
	return account{inJ: make([]float64, len(m.Sources)), gainJ: make([]float64, len(m.Surfaces)), outJ: make([]float64, len(m.Surfaces))}
}

func copyAccount(dst, src *account) {
	copy(dst.inJ, src.inJ)
	copy(dst.gainJ, src.gainJ)
	copy(dst.outJ, src.outJ)
	dst.movedJ, dst.baseK, dst.base, dst.capJK = src.movedJ, src.baseK, src.base, src.capJK
}

func (a *account) begin(capJK, tK []float64) {
	clear(a.inJ)
	clear(a.gainJ)
	clear(a.outJ)
	a.movedJ, a.capJK = 0, 0
	sum := 0.0
	for c, cp := range capJK {
		sum += cp * tK[c]
		a.capJK += cp
	}
	a.baseK, a.base = sum/a.capJK, 0
	a.base = a.storedJ(capJK, tK)
}

func (a *account) storedJ(capJK, tK []float64) float64 {
	sum := 0.0
	for c, cp := range capJK {
		sum += cp * (tK[c] - a.baseK)
	}
	return sum - a.base
}

// add enters a step: powers are constant, flows are those of the three stages.
func (a *account) add(hS float64, powerW []float64, heatW, gainW [3][]float64) {
	moved, net := 0.0, 0.0
	for i, w := range powerW {
		a.inJ[i] += hS * w
		moved += math.Abs(hS * w)
		net += hS * w
	}
	for s := range a.outJ {
		heat := hS * (Weight*(heatW[0][s]+heatW[1][s]) + Diagonal*heatW[2][s])
		gain := hS * (Weight*(gainW[0][s]+gainW[1][s]) + Diagonal*gainW[2][s])
		a.gainJ[s] += gain
		a.outJ[s] += heat + gain
		moved += math.Abs(gain) + math.Abs(heat+gain)
		net -= heat
	}
	a.movedJ += (moved + math.Abs(net)) / 2
}

func (a *account) totals() (in, gain, out float64) {
	for _, v := range a.inJ {
		in += v
	}
	for s := range a.outJ {
		gain += a.gainJ[s]
		out += a.outJ[s]
	}
	return in, gain, out
}

// closure is what is missing, as a part of the heat moved or of what would warm
// the whole by 1 mK if that is more (a body at rest moves none).
func (a *account) closure(storedJ float64) float64 {
	in, gain, out := a.totals()
	return math.Abs(in+gain-out-storedJ) / math.Max(a.movedJ, 1e-3*a.capJK)
}

func (a *account) check(capJK, tK []float64) error {
	stored := a.storedJ(capJK, tK)
	if rel := a.closure(stored); !(rel <= closureLimit) {
		in, gain, out := a.totals()
		return &BalanceError{InJ: in + gain, OutJ: out, StoredJ: stored, ClosureRel: rel}
	}
	return nil
}

// Balance returns the account since Init.
func (st *Stepper) Balance() Balance {
	a := &st.acc
	in, gain, out := a.totals()
	stored := a.storedJ(st.m.CapJK, st.tNow)
	return Balance{InJ: in, GainJ: gain, OutJ: out, StoredJ: stored, MovedJ: a.movedJ, ClosureRel: a.closure(stored),
		SourceInJ: append([]float64(nil), a.inJ...), SurfaceGainJ: append([]float64(nil), a.gainJ...), SurfaceOutJ: append([]float64(nil), a.outJ...)}
}
