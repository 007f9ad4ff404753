package reduce

import (
	"errors"
	"fmt"
	"math"

	"finwright/internal/heat"
)

const (
	stagePasses = 40 // bounds the solves of one stage
	// settleShare is the part of the error allowed per step that surfaces may be off when their films are taken as found
	settleShare = 0.02
	// settleRounds is how often films and means follow each other with the cells as they are; a film moves its mean little, for the
	// half cell is a much better conductor
	settleRounds = 6
	// airMovesK is how far a mean may move before what crosses sealed air is asked for again
	airMovesK = 0.1
)

// try makes a step of h from the present state into st.end and st.slopeEnd; the error estimate is in K.
func (st *Stepper) try(h float64) (errK float64, err error) {
	if err := st.begin(st.timeS + h/2); err != nil {
		return 0, err
	}
	st.rate()
	st.tally(0)
	hd := h * heat.Diagonal
	copy(st.step, st.mass)
	addScaled(st.step, hd, st.a)
	if !factor(st.step, st.stepInv, st.r) {
		return 0, errors.New("the projected equations are not definite")
	}
	st.Work.Factored++

	// M (x_γ − x_0) = h d (q_0 + F(x_γ)), in departures y = x − x_0
	s := heat.Gamma * h
	bend := 0.0
	if st.smooth && st.timeS > st.oldS {
		bend = 0.5 * s * s / (st.timeS - st.oldS)
	}
	for k, v := range st.slope {
		st.mid[k] = st.x[k] + s*v + bend*(v-st.slopeOld[k])
		st.base[k] = hd * st.q0[k]
	}
	if err := st.stage(st.mid, hd, st.timeS+s); err != nil {
		return 0, err
	}
	st.tally(1)
	for k, v := range st.slope {
		st.slopeMid[k] = (st.mid[k]-st.x[k])/hd - v
		st.rhs[k] = h * heat.Weight * (v + st.slopeMid[k])
		done := st.mid[k] - st.x[k]
		most := math.Abs(done)
		st.end[k] = st.mid[k] + min(max((1-heat.Diagonal)*h*st.slopeMid[k]-0.5*done, -most), most)
	}
	multiply(st.base, st.mass, st.rhs)
	if err := st.stage(st.end, hd, st.timeS+h); err != nil {
		return 0, err
	}
	st.tally(2)
	for k, v := range st.slope {
		w := h * heat.Weight * (v + st.slopeMid[k])
		st.slopeEnd[k] = (st.end[k] - st.x[k] - w) / hd
		st.rhs[k] = h * (heat.ErrStart*v + heat.ErrMiddle*st.slopeMid[k] + heat.ErrEnd*st.slopeEnd[k])
	}
	// filter the estimate through the step's own matrix, so that stiff parts do not shout
	multiply(st.err, st.mass, st.rhs)
	solve(st.step, st.stepInv, st.err)
	st.look.times(st.lookK, st.err)
	for _, v := range st.lookK {
		if v = math.Abs(v); !(v <= errK) {
			errK = v
		}
	}
	if !finite(errK) {
		return 0, errors.New("a temperature is not a number")
	}
	return errK, nil
}

// begin brings the equations to the films and air that will be met about atS.
func (st *Stepper) begin(atS float64) error {
	// a look ahead along the slope
	ahead := 0.0
	if st.smooth {
		ahead = atS - st.timeS
	}
	for k, v := range st.x {
		st.rhs[k] = v + ahead*st.slope[k]
	}
	terms := st.terms
	if t := st.m.air; t != nil {
		moved := 0.0
		st.bodies.times(st.bodyK, st.rhs)
		for i := range st.bodyK {
			st.bodyK[i] += st.m.T0K
			moved = max(moved, math.Abs(st.bodyK[i]-st.airK[i]))
		}
		if !(moved <= airMovesK) {
			copy(st.airK, st.bodyK)
			st.in.Air.Conductances(st.airFace, t.faces, st.bodyK)
			for j, g := range st.airFace {
				st.airFace[j] = g/t.refWK[j] - 1
			}
			n := len(st.airFace)
			for q := range t.fields {
				terms[q] = float32(dot(t.fit[q*n:q*n+n], st.airFace))
			}
		}
		terms = terms[len(t.fields):]
	}
	st.cells(st.rhs)
	st.means(st.now)
	copy(st.meanK, st.foundK)
	st.ask(atS)
	st.settle(atS)
	copy(st.frozen, st.now)
	for i := range st.frozen {
		for q := range st.m.surface[i].groups {
			u, _ := through(st.halfWm2K[i][q], st.frozen[i])
			terms[q] = float32(u)
		}
		terms = terms[len(st.m.surface[i].groups):]
	}
	combine(st.a, st.conduct, st.m.terms, st.terms, len(st.a)/chunk)
	// g: sources and the frozen films at rest
	clear(st.g)
	for i, w := range st.powerW {
		if w != 0 {
			for k, x := range st.m.source[i][:st.r] {
				st.g[k] += w * x
			}
		}
	}
	for i := range st.frozen {
		f := st.frozen[i]
		for q := range st.m.surface[i].groups {
			u, in := through(st.halfWm2K[i][q], f)
			w := u*(f.RefK-st.m.T0K) + in
			for k, x := range st.m.surface[i].groups[q].sum[:st.r] {
				st.g[k] += w * x
			}
		}
	}
	return nil
}

// ask asks the laws that are due at the means in st.meanK, and tells whether there was any.
func (st *Stepper) ask(tS float64) (any bool) {
	for i := range st.memories {
		if f := &st.memories[i]; f.due(st.meanK[i], tS) {
			film := st.in.Heat.Surfaces[i].Law.Film(st.meanK, i, tS)
			f.learn(st.meanK[i], tS, film, filmShare*st.tolK)
			st.Work.Laws++
			any = true
		}
	}
	return any
}

// cells works out the mean temperature of every group of surface cells.
func (st *Stepper) cells(x []float64) {
	st.groups.times(st.groupK, x)
	for i := range st.groupK {
		st.groupK[i] += st.m.T0K
	}
}

// means works out every surface's mean temperature under films, with the cells as they are.
func (st *Stepper) means(films []heat.Film) {
	for i := range films {
		f, t := films[i], &st.m.surface[i]
		if math.IsInf(f.HWm2K, 1) {
			st.foundK[i] = f.RefK
			continue
		}
		sum := 0.0
		for q := range t.groups {
			half, tc := st.halfWm2K[i][q], st.cellK[i][q]
			if !math.IsInf(half, 1) {
				// as cell + drop, so that a surface without flux has its cell's temperature exactly
				tc += (f.HWm2K*(f.RefK-tc) + f.GainWm2) / (half + f.HWm2K)
			}
			sum += t.groups[q].areaM2 * tc
		}
		st.foundK[i] = sum / t.areaM2
	}
}

// out is the heat out of surface i under a film, per area, with the cells as they are.
func (st *Stepper) out(i int, f heat.Film) float64 {
	t, sum := &st.m.surface[i], 0.0
	for q := range t.groups {
		u, in := through(st.halfWm2K[i][q], f)
		sum += t.groups[q].areaM2 * (u*(st.cellK[i][q]-f.RefK) - in)
	}
	return sum / t.areaM2
}

// correct sets st.found to what the films at the present means take less than the frozen ones.
func (st *Stepper) correct(dst []float64) {
	for i := range dst {
		dst[i] = 0
		if st.now[i] != st.frozen[i] {
			dst[i] = st.out(i, st.frozen[i]) - st.out(i, st.now[i])
		}
	}
}

// rate sets q0 to F and the slope to dx/dt, at the present modes.
func (st *Stepper) rate() {
	st.cells(st.x)
	st.settle(st.timeS)
	st.correct(st.extra)
	multiply(st.still, st.a, st.x)
	for k := range st.still {
		st.still[k] = st.g[k] - st.still[k]
	}
	copy(st.q0, st.still)
	st.addExtra(st.q0, 1)
	copy(st.slope, st.q0)
	solve(st.massL, st.massInv, st.slope)
}

func (st *Stepper) addExtra(dst []float64, f float64) {
	for i, w := range st.extra {
		if w == 0 {
			continue
		}
		w *= f
		for q := range st.m.surface[i].groups {
			for k, x := range st.m.surface[i].groups[q].sum[:st.r] {
				dst[k] += w * x
			}
		}
	}
}

// stage solves M (x − x_0) = base + h d F(x) with the films at x's own surface means. x comes in as a guess. Where films look at
// each other's means what is still off after the second solve is left to a secant for all of them.
func (st *Stepper) stage(x []float64, hd, atS float64) error {
	// F(x) = F0 − A (x − x_0) with F0 = g − A x_0 + corrections
	for k := range st.qMid {
		st.qMid[k] = st.base[k] + hd*st.still[k]
	}
	st.cells(x)
	st.settle(atS)
	st.correct(st.extra)
	for pass := 0; ; pass++ {
		copy(x, st.qMid)
		st.addExtra(x, hd)
		solve(st.step, st.stepInv, x)
		st.Work.Solves++
		for k := range x {
			x[k] += st.x[k]
		}
		st.cells(x)
		st.settle(atS)
		st.correct(st.found)
		worst, at := 0.0, -1
		for i := range st.found {
			t, f := &st.m.surface[i], st.frozen[i]
			u := t.capJK / (hd * t.areaM2)
			if !math.IsInf(f.HWm2K, 1) {
				u += f.HWm2K
			}
			off := math.Abs(st.found[i]-st.extra[i]) / u
			if !(off <= worst) {
				worst, at = off, i
			}
		}
		if worst <= settleShare*st.tolK {
			return nil
		}
		if !finite(worst) || pass == stagePasses {
			return fmt.Errorf("surface %d still moves by %.2g K while its film is sought", at+1, worst)
		}
		if pass == 0 {
			st.secants.Reset()
		}
		st.secants.Next(st.extra, st.extra, st.found)
	}
}

// settle brings films and means to each other with the cells as they are, and asks the laws that are due.
func (st *Stepper) settle(atS float64) {
	for range settleRounds {
		for i := range st.now {
			st.now[i] = st.memories[i].at(st.meanK[i])
		}
		st.means(st.now)
		moved := 0.0
		for i, t := range st.foundK {
			moved = max(moved, math.Abs(t-st.meanK[i]))
			st.meanK[i] = t
		}
		if !st.ask(atS) && moved <= settleShare*st.tolK {
			return
		}
	}
}

// tally notes the heat out of every surface at a stage, with the corrections that were in its equations.
func (st *Stepper) tally(stage int) {
	for i := range st.extra {
		st.takenW[stage][i] = st.m.surface[i].areaM2 * (st.out(i, st.frozen[i]) - st.extra[i])
	}
}
