package reduce

import (
	"context"
	"errors"
	"fmt"
	"math"

	"finwright/internal/heat"
)

// Stepper carries a projected model through time: TR-BDF2 with an embedded error estimate and converged films, the same
// scheme as heat.Stepper (see there for the coefficients and their source), on R unknowns instead of N.
type Stepper struct {
	s    *system
	tolK float64

	a, aOld     []float64 // modes now and at the last step's start
	rate        []float64 // da/dt now
	rateOld     []float64
	timeS, oldS float64
	nextS       float64
	powerW      []float64
	wantW       []float64
	restart     bool
	films       []heat.Film
	meanK       []float64
	foundK      []float64 // means of a solution, while films are sought
	secants     *heat.Secants
	stats       heat.Stats

	sample []int32 // cells in which the error is looked at
	field  []float64
	focus  []int32
	fresh  bool

	// scratch, R or R x R
	sys, chol, rhs, g, mid, end, kMid, kEnd, errv, base []float64
}

// filmTolK is how well a surface's film must fit its mean.
const filmTolK = 1e-3

// Stepper projects m on the basis and prepares to step it. tolK is the error allowed per step, K.
func (b *Basis) Stepper(m *heat.Model, gas []Gas, tolK float64) (*Stepper, error) {
	s, err := project(b, m, gas)
	if err != nil {
		return nil, err
	}
	r := b.R
	st := &Stepper{s: s, tolK: tolK, powerW: make([]float64, len(m.Sources)), wantW: make([]float64, len(m.Sources)),
		films: make([]heat.Film, len(m.Surfaces)), meanK: make([]float64, len(m.Surfaces)),
		foundK: make([]float64, len(m.Surfaces)), secants: heat.NewSecants(len(m.Surfaces)), field: make([]float64, b.N)}
	for _, v := range []*[]float64{&st.a, &st.aOld, &st.rate, &st.rateOld, &st.rhs, &st.g, &st.mid, &st.end, &st.kMid, &st.kEnd, &st.errv, &st.base} {
		*v = make([]float64, r)
	}
	st.sys, st.chol = make([]float64, r*r), make([]float64, r*r)
	active := 0
	for _, c := range m.CapJK {
		if c > 0 {
			active++
		}
	}
	every := max(1, active/300)
	seen := 0
	for c, cp := range m.CapJK {
		if cp > 0 {
			if seen%every == 0 {
				st.sample = append(st.sample, int32(c))
			}
			seen++
		}
	}
	for i := range m.Sources {
		if cells := m.Sources[i].Cells; len(cells) > 0 {
			st.sample = append(st.sample, cells[len(cells)/2])
		}
	}
	return st, nil
}

// Focus restricts TK to these cells: the others are then NaN. nil brings all cells back.
func (st *Stepper) Focus(cells []int32) {
	st.focus, st.fresh = cells, false
	for c := range st.field {
		st.field[c] = math.NaN() // what is not asked for must not pass for a temperature
	}
}

// Init sets a uniform start: all cells at tK[0] of the first active cell.
func (st *Stepper) Init(tK []float64, tS float64) error {
	start := math.NaN()
	for c, cp := range st.s.m.CapJK {
		if cp <= 0 {
			continue
		}
		if math.IsNaN(start) {
			start = tK[c]
		}
		if !(math.Abs(tK[c]-start) <= 1e-9) {
			return errors.New("reduce: a run starts at one temperature everywhere")
		}
	}
	clear(st.a)
	for c, cp := range st.s.m.CapJK {
		if cp > 0 { // the uniform mode has the same value in every active cell
			st.a[0] = (start - st.s.b.T0K) / st.s.b.V[c*st.s.b.R]
			break
		}
	}
	copy(st.aOld, st.a)
	st.timeS, st.oldS, st.nextS = tS, tS, 0
	st.restart, st.fresh = true, false
	st.stats = heat.Stats{}
	return nil
}

// SetPower sets every source's power, W, from the present time on.
func (st *Stepper) SetPower(w []float64) error {
	if len(w) != len(st.wantW) {
		return fmt.Errorf("reduce: %d powers for %d sources", len(w), len(st.wantW))
	}
	for i := range w {
		if w[i] != st.wantW[i] {
			st.restart = true
		}
	}
	copy(st.wantW, w)
	return nil
}

// Time is the present time, s.
func (st *Stepper) Time() float64 { return st.timeS }

// Stats counts steps.
func (st *Stepper) Stats() heat.Stats { return st.stats }

// Balance is not kept: what a Galerkin projection stores is its own.
func (st *Stepper) Balance() heat.Balance { return heat.Balance{ClosureRel: math.NaN()} }

// SurfaceState gives a surface's mean temperature, film and heat; its extremes are not known (NaN).
func (st *Stepper) SurfaceState(i int) heat.SurfaceState {
	f, fc := st.films[i], &st.s.surface[i]
	out := heat.SurfaceState{MeanK: st.meanK[i], MaxK: math.NaN(), MinK: math.NaN(), Film: f}
	if !math.IsInf(f.HWm2K, 1) {
		out.GainW = fc.areaM2 * f.GainWm2
		out.HeatW = fc.areaM2*f.HWm2K*(st.meanK[i]-f.RefK) - out.GainW
		return out
	}
	for q := range fc.groups { // held: what comes through the half cells
		g := &fc.groups[q]
		out.HeatW += g.halfWm2K * (st.s.cellsK(g, st.a) - f.RefK*g.areaM2)
	}
	return out
}

// cellsK is Σ A T over a group's cells, m² K.
func (s *system) cellsK(g *group, a []float64) float64 {
	sum := s.b.T0K * g.areaM2
	for k, x := range g.sum {
		sum += x * a[k]
	}
	return sum
}

// TK is the present field, K (in the focus, when there is one).
func (st *Stepper) TK() []float64 {
	if !st.fresh {
		st.fill(st.field, st.a, st.focus)
		st.fresh = true
	}
	return st.field
}

// At sets dst at the cells (nil: all) to the temperatures at tS within the last step.
func (st *Stepper) At(dst []float64, tS float64, cells []int32) {
	h := st.timeS - st.oldS
	if h <= 0 {
		st.fill(dst, st.a, cells)
		return
	}
	u := math.Max(0, math.Min(1, (tS-st.oldS)/h))
	v := 1 - u
	a0, a1, b0, b1 := v*v*(1+2*u), u*u*(3-2*u), h*u*v*v, -h*u*u*v
	for k := range st.base {
		st.base[k] = a0*st.aOld[k] + a1*st.a[k] + b0*st.rateOld[k] + b1*st.rate[k]
	}
	st.fill(dst, st.base, cells)
}

func (st *Stepper) fill(dst, a []float64, cells []int32) {
	b := st.s.b
	r := b.R
	one := func(c int) {
		t := b.T0K
		v := b.V[c*r : c*r+r]
		for k, x := range v {
			t += x * a[k]
		}
		dst[c] = t
	}
	if cells == nil {
		for c := range dst {
			one(c)
		}
		return
	}
	for _, c := range cells {
		one(int(c))
	}
}

// RewindTo shortens the last step to end at tS.
func (st *Stepper) RewindTo(tS float64) error {
	if !(tS > st.oldS && tS <= st.timeS) {
		return fmt.Errorf("reduce: %g s is not in the last step", tS)
	}
	next := st.nextS
	copy(st.a, st.aOld)
	copy(st.rate, st.rateOld)
	h := tS - st.oldS
	st.timeS = st.oldS
	if _, err := st.try(h); err != nil {
		return err
	}
	st.accept(h)
	st.nextS = next
	return nil
}

// Advance makes one accepted step, not past untilS.
func (st *Stepper) Advance(ctx context.Context, untilS float64) (heat.Step, error) {
	if err := ctx.Err(); err != nil {
		return heat.Step{}, err
	}
	if st.restart {
		copy(st.powerW, st.wantW)
		if err := st.derive(); err != nil {
			return heat.Step{}, err
		}
		st.restart = false
		st.nextS = 0.5
	}
	out := heat.Step{FromS: st.timeS}
	for tries := 0; ; tries++ {
		h := st.nextS
		if left := untilS - st.timeS; left <= h*(1+1e-9) {
			h = left
		} else if left < 2*h {
			h = left / 2
		}
		errK, err := st.try(h)
		if err == nil && (errK <= st.tolK || h < 1e-6) {
			st.accept(h)
			if h >= 0.5*st.nextS {
				st.nextS = h * math.Max(0.3, math.Min(4, 0.9*math.Cbrt(st.tolK/math.Max(errK, 1e-12))))
			}
			out.ToS, out.ErrK = st.timeS, errK
			if h == untilS-out.FromS {
				out.ToS, st.timeS = untilS, untilS
			}
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
			st.nextS = h * math.Max(0.2, 0.8*math.Cbrt(st.tolK/errK))
		}
	}
}

func (st *Stepper) accept(h float64) {
	copy(st.aOld, st.a)
	copy(st.rateOld, st.rate)
	copy(st.a, st.end)
	copy(st.rate, st.kEnd)
	st.oldS = st.timeS
	st.timeS += h
	st.fresh = false
}

// derive finds the films and slopes at the present modes.
func (st *Stepper) derive() error {
	st.means(st.a)
	for pass := 0; pass < 50; pass++ {
		st.setFilms(st.timeS)
		if st.means(st.a) < 1e-4 {
			break
		}
	}
	st.assemble(st.a)
	r := len(st.a)
	for k := range st.rate {
		x := st.g[k]
		for l, y := range st.a {
			x -= st.sys[k*r+l] * y
		}
		st.rate[k] = x
	}
	copy(st.chol, st.s.mass)
	if !factor(st.chol, r) {
		return errors.New("reduce: the modes hold no heat")
	}
	solve(st.chol, st.rate)
	return nil
}

// try makes a step of h from the present state into st.end, st.kEnd; the error estimate is in K.
func (st *Stepper) try(h float64) (errK float64, err error) {
	r := len(st.a)
	// stage at γ
	for k := range st.base {
		st.base[k] = st.a[k] + h*heat.Diagonal*st.rate[k]
		st.mid[k] = st.a[k] + heat.Gamma*h*st.rate[k]
	}
	if err := st.stage(st.mid, h, st.timeS+heat.Gamma*h); err != nil {
		return 0, err
	}
	for k := range st.kMid {
		st.kMid[k] = (st.mid[k]-st.a[k])/(h*heat.Diagonal) - st.rate[k]
	}
	for k := range st.base {
		st.base[k] = st.a[k] + h*heat.Weight*(st.rate[k]+st.kMid[k])
		st.end[k] = st.mid[k] + (1-heat.Gamma)*h*st.kMid[k]
	}
	if err := st.stage(st.end, h, st.timeS+h); err != nil {
		return 0, err
	}
	for k := range st.kEnd {
		st.kEnd[k] = (st.end[k] - st.base[k]) / (h * heat.Diagonal)
		st.rhs[k] = h * (heat.ErrStart*st.rate[k] + heat.ErrMiddle*st.kMid[k] + heat.ErrEnd*st.kEnd[k])
	}
	// filter the estimate through the step's own matrix, so that stiff parts do not shout
	mul(st.errv, st.s.mass, st.rhs)
	solve(st.chol, st.errv)
	b := st.s.b
	for _, c := range st.sample {
		e := 0.0
		for k, x := range b.V[int(c)*r : int(c)*r+r] {
			e += x * st.errv[k]
		}
		errK = math.Max(errK, math.Abs(e))
	}
	if math.IsNaN(errK) {
		return 0, errors.New("a temperature is not a number")
	}
	return errK, nil
}

// stage solves (M + h·d·A) x = M·base + h·d·g with the films of x's own surface means. x comes in as a guess. Films may look at each
// other's means: what is still off after the second solve is left to a secant for all of them.
func (st *Stepper) stage(x []float64, h, atS float64) error {
	r := len(x)
	st.means(x)
	for pass := 0; ; pass++ {
		st.setFilms(atS)
		st.assemble(x)
		mul(st.rhs, st.s.mass, st.base)
		for k := range st.rhs {
			st.rhs[k] += h * heat.Diagonal * st.g[k]
		}
		for q := range st.chol {
			st.chol[q] = st.s.mass[q] + h*heat.Diagonal*st.sys[q]
		}
		if !factor(st.chol, r) {
			return errors.New("the projected equations are not definite")
		}
		copy(x, st.rhs)
		solve(st.chol, x)
		copy(st.foundK, st.meanK)
		moved := st.means(x)
		st.foundK, st.meanK = st.meanK, st.foundK // found, and those the films were taken at
		if moved < filmTolK {
			copy(st.meanK, st.foundK)
			return nil
		}
		if pass == 0 {
			st.secants.Reset()
		}
		st.secants.Next(st.meanK, st.meanK, st.foundK)
		if pass == 40 {
			return fmt.Errorf("a surface still moves by %.2g K while its film is sought", moved)
		}
	}
}

// setFilms asks every law at the present means.
func (st *Stepper) setFilms(atS float64) {
	for i := range st.films {
		st.films[i] = st.s.surface[i].law.Film(st.meanK, i, atS)
	}
}

// means works out every surface's mean temperature under the present films, and how far the worst one moved.
func (st *Stepper) means(a []float64) (moved float64) {
	for i := range st.s.surface {
		fc, f := &st.s.surface[i], st.films[i]
		sum := 0.0
		for q := range fc.groups {
			g := &fc.groups[q]
			tc := st.s.cellsK(g, a)
			switch {
			case math.IsInf(f.HWm2K, 1):
				sum += f.RefK * g.areaM2
			case math.IsInf(g.halfWm2K, 1):
				sum += tc
			default:
				sum += (g.halfWm2K*tc + (f.HWm2K*f.RefK+f.GainWm2)*g.areaM2) / (g.halfWm2K + f.HWm2K)
			}
		}
		m := sum / fc.areaM2
		moved = math.Max(moved, math.Abs(m-st.meanK[i]))
		st.meanK[i] = m
	}
	return moved
}

// assemble builds A (sys) and g of F(a) = g − A a at the present films and, for sealed air, at modes a.
func (st *Stepper) assemble(a []float64) {
	s := st.s
	copy(st.sys, s.k)
	for i := range s.parts {
		s.parts[i].addTo(st.sys, a, s.b.T0K)
	}
	clear(st.g)
	for i, w := range st.powerW {
		for k, x := range s.source[i] {
			st.g[k] += w * x
		}
	}
	t0 := s.b.T0K
	for i := range s.surface {
		f := st.films[i]
		for q := range s.surface[i].groups {
			g := &s.surface[i].groups[q]
			u, in := 0.0, 0.0 // per area: to RefK, and the share of the gain that reaches the cell
			switch {
			case math.IsInf(f.HWm2K, 1):
				u = g.halfWm2K
			case math.IsInf(g.halfWm2K, 1):
				u, in = f.HWm2K, f.GainWm2
			case f.HWm2K == 0:
				in = f.GainWm2
			default:
				u = 1 / (1/g.halfWm2K + 1/f.HWm2K)
				in = f.GainWm2 * g.halfWm2K / (g.halfWm2K + f.HWm2K)
			}
			for l, x := range g.square {
				st.sys[l] += u * x
			}
			flux := u*(f.RefK-t0) + in
			for k, x := range g.sum {
				st.g[k] += flux * x
			}
		}
	}
}

// mul sets dst = A x, A R x R row-major. dst may not alias x.
func mul(dst, a, x []float64) {
	r := len(x)
	for k := range dst {
		s := 0.0
		for l, y := range a[k*r : k*r+r] {
			s += y * x[l]
		}
		dst[k] = s
	}
}

// factor makes the lower Cholesky factor of a symmetric positive definite matrix in place; false when it is not.
func factor(a []float64, r int) bool {
	for j := 0; j < r; j++ {
		for i := j; i < r; i++ {
			s := a[i*r+j]
			for k := 0; k < j; k++ {
				s -= a[i*r+k] * a[j*r+k]
			}
			if i == j {
				if !(s > 0) {
					return false
				}
				a[j*r+j] = math.Sqrt(s)
			} else {
				a[i*r+j] = s / a[j*r+j]
			}
		}
	}
	return true
}

// solve replaces x by the solution of L Lᵀ y = x.
func solve(l, x []float64) {
	r := len(x)
	for i := 0; i < r; i++ {
		s := x[i]
		for k := 0; k < i; k++ {
			s -= l[i*r+k] * x[k]
		}
		x[i] = s / l[i*r+i]
	}
	for i := r - 1; i >= 0; i-- {
		s := x[i]
		for k := i + 1; k < r; k++ {
			s -= l[k*r+i] * x[k]
		}
		x[i] = s / l[i*r+i]
	}
}
