package reduce

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"finwright/internal/heat"
)

// Stepper carries a reduced model through time: TR-BDF2 with an embedded error estimate, the same scheme as heat.Stepper (see there
// for the coefficients and their source), on R unknowns x:
//
//	M dx/dt = F(x) = g − A x + Σ correction · (area of the surface, as the modes see it)
//
// A and g hold conduction, sources and every surface under one film for the whole step, so that a step needs one factorisation;
// what the surface's film at its present mean takes more than that is the correction, spread evenly over the surface. Not safe for
// concurrent use. It allocates nothing after it has been made.
type Stepper struct {
	m    *Model
	r    int // modes in use
	tolK float64
	in   Instance

	x, xMid, xOld []float64 // modes' departure from T0: now, at γ of the last step and at its start
	slope         []float64 // dx/dt now
	slopeOld      []float64
	timeS, oldS   float64
	nextS         float64
	lastAt, lastS float64 // error of the last step over the tolerance, and its length; 0 when it tells nothing of the next
	smooth        bool    // the slope is that of the last step's end
	powerW, wantW []float64
	stats         heat.Stats
	Work          Work

	// what the instance and the films make of the equations; triangles
	mass, massL    []float64
	conduct        []float64 // with air where all deviations are 0
	a, step        []float64 // conduction with air and films; M + h d A, factored
	massInv        []float64 // reciprocal diagonals of the factors
	stepInv        []float64
	terms          []float32 // how much of each of the model's terms is in a
	g              []float64
	airFace, bodyK []float64
	airK           []float64 // the means that the air in a belongs to; NaN: none
	still          []float64 // F at the step's start under the films in a

	// per surface
	frozen    []heat.Film // in a and g
	now       []heat.Film // at the present means
	meanK     []float64   // that a film belongs to
	foundK    []float64
	extra     []float64 // correction, W/m² into the cells
	found     []float64 // what it should be
	memories  []memory
	secants   *heat.Secants
	halfWm2K  [][]float64  // per surface and group
	cellK     [][]float64  // mean of the group's cells
	groupK    []float64    // the same, in a row
	takenW    [4][]float64 // heat out at a step's three stages, and at the last step's end
	balance   account
	balanceTo account // before the last step

	startX []float64
	field  []float64
	focus  []int32
	modes  table   // in the focus
	rowOf  []int32 // per cell: its place in focus and one; 0: none
	fresh  bool

	look, bodies, groups table     // modes' share in the cells where errors are judged, in the air's bodies, in the surfaces' groups
	lookK                []float64 // scratch

	between  []float64 // scratch: the modes inside the last step
	betweenK []float64 // the focus at betweenS, inside the last step, as departures from T0
	betweenS float64
	nodesK   [3][]float64 // the focus at the last step's three values, as far as they were asked for
	nodesAt  int          // the step they belong to; below zero: none
	accepted int          // steps

	// scratch, R
	q0, qMid, mid, end, slopeMid, slopeEnd, base, rhs, err []float64
}

// Work counts what a run has cost.
type Work struct {
	Laws     int // times that a surface's law was asked
	Solves   int
	Factored int
}

// account is the heat that has gone in and out, J.
type account struct{ inJ, gainJ, outJ, movedJ float64 }

func (m *Model) stepper(in Instance, tolK float64, r int) (*Stepper, error) {
	if !(tolK > 0) {
		return nil, errors.New("reduce: the error allowed per step must be above zero")
	}
	ns := len(m.surface)
	st := &Stepper{m: m, r: r, tolK: tolK, secants: heat.NewSecants(ns), field: make([]float64, m.N), rowOf: make([]int32, m.N)}
	for _, v := range []*[]float64{&st.x, &st.xMid, &st.xOld, &st.slope, &st.slopeOld, &st.g, &st.q0, &st.qMid, &st.mid, &st.end, &st.slopeMid, &st.slopeEnd,
		&st.base, &st.rhs, &st.err, &st.startX, &st.massInv, &st.stepInv, &st.between, &st.still} {
		*v = vectorOf(r)
	}
	for _, v := range []*[]float64{&st.mass, &st.massL, &st.conduct, &st.a, &st.step} {
		*v = make([]float64, triangle(r))
	}
	for _, v := range []*[]float64{&st.meanK, &st.foundK, &st.extra, &st.found, &st.takenW[0], &st.takenW[1], &st.takenW[2], &st.takenW[3]} {
		*v = make([]float64, ns)
	}
	st.frozen, st.now, st.memories = make([]heat.Film, ns), make([]heat.Film, ns), make([]memory, ns)
	for i := range m.surface {
		st.halfWm2K = append(st.halfWm2K, make([]float64, len(m.surface[i].groups)))
	}
	var groups []*elementGroup
	for i := range m.surface {
		for q := range m.surface[i].groups {
			groups = append(groups, &m.surface[i].groups[q])
		}
	}
	st.groupK = vectorOf(len(groups))
	st.groups = tableOf(r, len(groups), func(i int) []float64 {
		mean := append([]float64(nil), groups[i].sum...)
		for k := range mean {
			mean[k] /= groups[i].areaM2
		}
		return mean
	})
	for i, rest := 0, st.groupK; i < ns; i++ {
		n := len(m.surface[i].groups)
		st.cellK = append(st.cellK, rest[:n])
		rest = rest[n:]
	}
	st.lookK = vectorOf(len(m.look))
	st.look = tableOf(r, len(m.look), func(i int) []float64 { return m.at(int(m.look[i])) })
	st.powerW, st.wantW = make([]float64, m.sources), make([]float64, m.sources)
	st.terms = make([]float32, len(m.terms)/triangle(m.R))
	if t := m.air; t != nil {
		st.airFace, st.bodyK, st.airK = make([]float64, len(t.faces)), vectorOf(len(t.bodies)), make([]float64, len(t.bodies))
		st.bodies = tableOf(r, len(t.bodies), func(i int) []float64 { return t.bodies[i] })
	}
	for c := range st.field {
		st.field[c] = math.NaN() // cells that take no part
	}
	return st, st.Take(in)
}

// Take brings the stepper to other values of the unknowns: the same device, cut into the same cells. Call Init before the next step.
func (st *Stepper) Take(in Instance) error {
	m := st.m
	if err := m.check(in); err != nil {
		return err
	}
	st.in = in
	clear(st.mass)
	for i := range m.caps {
		c := &m.caps[i]
		addScaled(st.mass, in.Heat.CapJK[c.cell], c.sum)
	}
	copy(st.massL, st.mass)
	if !factor(st.massL, st.massInv, st.r) {
		return errors.New("reduce: the modes hold no heat under these values")
	}
	clear(st.conduct)
	for i := range m.faces {
		f := &m.faces[i]
		g := f.of.of(in.Heat)
		if !(g >= 0 && finite(g)) {
			return fmt.Errorf("reduce: the conductance beside cell %d is %g W/K", f.of.Cell, g)
		}
		addScaled(st.conduct, g, f.sum)
	}
	if m.air != nil {
		addScaled(st.conduct, 1, m.air.still)
	}
	for i := range m.surface {
		sf := &in.Heat.Surfaces[i]
		for q := range m.surface[i].groups {
			e := m.surface[i].groups[q].element
			st.halfWm2K[i][q] = sf.HalfWK[e] / sf.AreaM2[e]
		}
	}
	clear(st.wantW)
	st.start(m.T0K, 0)
	return nil
}

// Focus restricts TK to these cells: the others are then NaN. nil brings all cells back.
func (st *Stepper) Focus(cells []int32) {
	if st.focus != nil && slices.Equal(cells, st.focus) {
		return
	}
	st.fresh = false
	for c := range st.field {
		st.field[c], st.rowOf[c] = math.NaN(), 0 // what is not asked for must not pass for a temperature
	}
	st.focus, st.betweenS, st.nodesAt = nil, math.NaN(), -1
	if cells == nil {
		return
	}
	st.focus = append(make([]int32, 0, len(cells)), cells...)
	for i, c := range cells {
		st.rowOf[c] = int32(i + 1)
	}
	st.modes = tableOf(st.r, len(cells), func(i int) []float64 { return st.m.at(int(cells[i])) })
	st.betweenK = vectorOf(len(cells))
	for i := range st.nodesK {
		st.nodesK[i] = vectorOf(len(cells))
	}
}

// Init sets a uniform start: all cells at tK[0] of the first active cell.
func (st *Stepper) Init(tK []float64, tS float64) error {
	start := tK[st.m.first]
	for c, cp := range st.in.Heat.CapJK {
		if cp > 0 && !(math.Abs(tK[c]-start) <= 1e-9) {
			return errors.New("reduce: a run starts at one temperature everywhere")
		}
	}
	st.start(start, tS)
	return nil
}

// start puts everything at one temperature.
func (st *Stepper) start(tK, tS float64) {
	clear(st.x)
	st.x[0] = (tK - st.m.T0K) / st.m.at(int(st.m.first))[0] // the uniform mode has the same value in every active cell
	copy(st.xOld, st.x)
	copy(st.xMid, st.x)
	copy(st.startX, st.x)
	st.timeS, st.oldS, st.nextS, st.lastS, st.betweenS = tS, tS, 0, 0, math.NaN()
	st.nodesAt = -1
	st.smooth, st.fresh = false, false

	st.stats, st.Work = heat.Stats{}, Work{}
	st.balance, st.balanceTo = account{}, account{}
	for i := range st.airK {
		st.airK[i] = math.NaN()
	}
	for i := range st.memories {
		st.memories[i].forget()
		st.meanK[i], st.extra[i] = tK, 0
		st.now[i], st.frozen[i] = heat.Film{}, heat.Film{}
	}
}

// SetPower sets every source's power, W, from the present time on.
func (st *Stepper) SetPower(w []float64) error {
	if len(w) != len(st.wantW) {
		return fmt.Errorf("reduce: %d powers for %d sources", len(w), len(st.wantW))
	}
	copy(st.wantW, w)
	return nil
}

// Time is the present time, s.
func (st *Stepper) Time() float64 { return st.timeS }

// Stats counts steps.
func (st *Stepper) Stats() heat.Stats { return st.stats }

// Balance is the heat that went in and out, and what the modes hold.
func (st *Stepper) Balance() heat.Balance {
	b := heat.Balance{InJ: st.balance.inJ, GainJ: st.balance.gainJ, OutJ: st.balance.outJ, MovedJ: st.balance.movedJ}
	// Σ C ΔT is the uniform mode's row of the mass, over its value
	for i, x := range st.x {
		b.StoredJ += st.mass[at(i)] * (x - st.startX[i])
	}
	b.StoredJ /= st.m.at(int(st.m.first))[0]
	if b.MovedJ > 0 {
		b.ClosureRel = (b.InJ + b.GainJ - b.OutJ - b.StoredJ) / b.MovedJ
	}
	return b
}

// SurfaceState gives a surface's mean temperature, film and heat; its extremes are not known (NaN).
func (st *Stepper) SurfaceState(i int) heat.SurfaceState {
	out := heat.SurfaceState{MeanK: st.meanK[i], MaxK: math.NaN(), MinK: math.NaN(), Film: st.now[i], HeatW: st.takenW[3][i]}
	if !math.IsInf(out.Film.HWm2K, 1) {
		out.GainW = st.m.surface[i].areaM2 * out.Film.GainWm2
	}
	return out
}

// TK is the present field, K (in the focus, when there is one).
func (st *Stepper) TK() []float64 {
	if st.fresh {
		return st.field
	}
	st.fresh = true
	if st.focus == nil {
		st.fill(st.field, st.x, nil)
		return st.field
	}
	st.betweenS = math.NaN()
	st.modes.times(st.betweenK, st.x)
	for i, c := range st.focus {
		st.field[c] = st.m.T0K + st.betweenK[i]
	}
	return st.field
}

// At sets dst at the cells (nil: all) to the temperatures at tS within the last step. In the focus all are worked out at once.
func (st *Stepper) At(dst []float64, tS float64, cells []int32) {
	if cells == nil || st.focus == nil {
		st.fill(dst, st.inside(tS), cells)
		return
	}
	if tS != st.betweenS {
		st.focusInside(tS)
		st.betweenS = tS
	}
	for _, c := range cells {
		if i := st.rowOf[c]; i > 0 {
			dst[c] = st.m.T0K + st.betweenK[i-1]
		} else {
			dst[c] = st.m.T0K + dot(st.m.at(int(c)), st.inside(tS))
		}
	}
}

// inside is the modes at a time within the last step, by the parabola through the method's own three values. They are of second
// order in every mode, where slopes at the ends are not: what a stiff mode is off by comes back in its slope many times over, and the
// cubic through both ends and slopes was off by more than the tolerance halfway.
func (st *Stepper) inside(tS float64) []float64 {
	if st.timeS <= st.oldS {
		return st.x
	}
	a := st.parabola(tS)
	for k := range st.between {
		st.between[k] = a[0]*st.xOld[k] + a[1]*st.xMid[k] + a[2]*st.x[k]
	}
	return st.between
}

// parabola is the three values' parts at a time within the last step.
func (st *Stepper) parabola(tS float64) [3]float64 {
	u := max(0, min(1, (tS-st.oldS)/(st.timeS-st.oldS)))
	const g = heat.Gamma
	return [3]float64{(g - u) * (1 - u) / g, u * (1 - u) / (g * (1 - g)), u * (u - g) / (1 - g)}
}

// focusInside sets betweenK to the focus at a time within the last step: many times are asked for within one step, so the parabola is
// taken through the cells' three values, not the modes'.
func (st *Stepper) focusInside(tS float64) {
	if st.timeS <= st.oldS {
		st.modes.times(st.betweenK, st.x)
		return
	}
	if st.nodesAt != st.accepted {
		if st.nodesAt >= 0 && st.nodesAt == st.accepted-1 {
			st.nodesK[0], st.nodesK[2] = st.nodesK[2], st.nodesK[0]
		} else {
			st.modes.times(st.nodesK[0], st.xOld)
		}
		st.modes.times(st.nodesK[1], st.xMid)
		st.modes.times(st.nodesK[2], st.x)
		st.nodesAt = st.accepted
	}
	a := st.parabola(tS)
	k0, k1, k2 := st.nodesK[0], st.nodesK[1], st.nodesK[2]
	for i := range st.betweenK {
		st.betweenK[i] = a[0]*k0[i] + a[1]*k1[i] + a[2]*k2[i]
	}
}

// fill sets dst at the cells (nil: all) to the temperatures that the modes x make.
func (st *Stepper) fill(dst, x []float64, cells []int32) {
	m := st.m
	if cells == nil {
		for c := range dst {
			dst[c] = m.T0K + dot(m.at(c), x)
		}
		return
	}
	for _, c := range cells {
		dst[c] = m.T0K + dot(m.at(int(c)), x)
	}
}

// RewindTo shortens the last step to end at tS.
func (st *Stepper) RewindTo(tS float64) error {
	if tS == st.timeS {
		return nil
	}
	if !(tS > st.oldS && tS < st.timeS) {
		return fmt.Errorf("reduce: %g s is not in the last step", tS)
	}
	next := st.nextS
	st.nodesAt = -1
	copy(st.x, st.xOld)
	copy(st.slope, st.slopeOld)
	st.balance = st.balanceTo
	h := tS - st.oldS
	st.timeS = st.oldS
	st.smooth = false
	if _, err := st.try(h); err != nil {
		return err
	}
	st.accept(h)
	st.timeS, st.nextS = tS, next
	return nil
}

// firstMoves: a first step moves no cell by more than this many tolerances; from there the error control takes over.
const firstMoves = 25

// Advance makes one accepted step, not past untilS.
func (st *Stepper) Advance(ctx context.Context, untilS float64) (heat.Step, error) {
	if err := ctx.Err(); err != nil {
		return heat.Step{}, err
	}
	if !(untilS > st.timeS) {
		return heat.Step{}, fmt.Errorf("reduce: %g s is not ahead of %g s", untilS, st.timeS)
	}
	changed := st.nextS == 0
	for i, w := range st.wantW {
		changed = changed || w != st.powerW[i]
	}
	copy(st.powerW, st.wantW)
	if changed {
		if err := st.restart(); err != nil {
			return heat.Step{}, err
		}
	}
	out := heat.Step{FromS: st.timeS}
	for tries := 0; ; tries++ {
		h, to := st.nextS, st.timeS+st.nextS
		if left := untilS - st.timeS; left <= h*(1+1e-9) {
			h, to = left, untilS
		} else if left < 2*h {
			h = left / 2
			to = st.timeS + h
		}
		errK, err := st.try(h)
		if err == nil && (errK <= st.tolK || h < 1e-6) {
			ratio := max(errK/st.tolK, 1e-6)
			if planned := st.nextS; h >= 0.5*planned {
				st.nextS = h * st.growth(h, ratio, out.Rejected > 0)
				if h < planned { // clipped: what was planned is not worse
					st.nextS = max(st.nextS, planned)
				}
			}
			st.lastAt, st.lastS = ratio, h
			st.accept(h)
			st.timeS = to
			out.ToS, out.ErrK = to, errK
			st.stats.Steps++
			return out, nil
		}
		if tries > 60 {
			return out, fmt.Errorf("reduce: no step of %g s can be made at %g s: %v", h, st.timeS, err)
		}
		st.stats.Rejected++
		out.Rejected++
		if err != nil {
			st.nextS = h / 4
		} else {
			st.nextS = h * max(0.2, 0.85*math.Cbrt(st.tolK/errK))
		}
	}
}

// aim is the step aimed at, over the longest allowed: the errors of steps add up, and a step thrown away costs as much as one kept.
const aim = 0.7

// growth is the factor for the next step: what the error of this one allows, carried on by the trend from the last one to this
// (Gustafsson's predictive control; Hairer & Wanner, Solving Ordinary Differential Equations II, sect. IV.8). On the long way to rest
// the error of a step of the same length falls all the time.
func (st *Stepper) growth(h, ratio float64, rejected bool) float64 {
	f := aim / math.Cbrt(ratio)
	if st.lastS > 0 && !rejected {
		f *= min(max(h/st.lastS*math.Cbrt(st.lastAt/ratio), 0.7), 2)
	}
	if rejected {
		return min(max(f, 0.3), 1)
	}
	return min(max(f, 0.3), 5)
}

// restart finds the slope under the powers now in force, and a step to begin with.
func (st *Stepper) restart() error {
	st.smooth = false

	if err := st.begin(st.timeS); err != nil {
		return err
	}
	st.rate()
	most := 0.0
	st.look.times(st.lookK, st.slope)
	for _, v := range st.lookK {
		most = max(most, math.Abs(v))
	}
	first := 60.0
	if most > 0 {
		first = min(first, firstMoves*st.tolK/most)
	}
	if st.nextS == 0 || first < st.nextS {
		st.nextS = first
	}
	st.lastS = 0
	return nil
}

func (st *Stepper) accept(h float64) {
	st.accepted++
	st.betweenS = math.NaN()
	st.x, st.xOld, st.end = st.end, st.x, st.xOld
	st.xMid, st.mid = st.mid, st.xMid
	st.slope, st.slopeOld, st.slopeEnd = st.slopeEnd, st.slope, st.slopeOld
	st.oldS = st.timeS
	st.timeS += h
	st.fresh, st.smooth = false, true
	copy(st.meanK, st.foundK)
	st.balanceTo = st.balance
	in, out, gain := 0.0, 0.0, 0.0
	for _, w := range st.powerW {
		in += h * w
	}
	for i := range st.now {
		out += h * (heat.Weight*(st.takenW[0][i]+st.takenW[1][i]) + heat.Diagonal*st.takenW[2][i])
		if !math.IsInf(st.now[i].HWm2K, 1) {
			gain += h * st.m.surface[i].areaM2 * st.now[i].GainWm2
		}
	}
	st.balance.inJ += in
	st.balance.gainJ += gain
	st.balance.outJ += out + gain
	st.balance.movedJ += math.Abs(in) + math.Abs(gain) + math.Abs(out)
	copy(st.takenW[3], st.takenW[2])
}
