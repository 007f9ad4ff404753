package heat

import (
	"context"
	"math"

	"finwright/internal/linsolve"
)

// setCapacity sets Diag to C·rate, 1 in inactive cells. Where it is that already
// but for the films in it, it stays: impose writes the touched cells anew.
func (st *Stepper) setCapacity(rateS float64) {
	if rateS == st.rateS {
		return
	}
	st.rateS, st.b.stale = rateS, true
	st.b.all.run(st.capacityPass)
}

func (st *Stepper) capacityCells(lo, hi int) (_, _ float64) {
	diag, capJK, rateS := st.op.Diag, st.m.CapJK, st.rateS
	for c := lo; c < hi; c++ {
		diag[c] = 1
		if cp := capJK[c]; cp > 0 {
			diag[c] = cp * rateS
		}
	}
	return 0, 0
}

// derive finds films, flows and slopes at the present temperatures.
func (st *Stepper) derive() error {
	b := st.b
	st.setCapacity(0)
	clear(st.rhs)
	st.m.addPower(st.rhs, st.powerW)
	b.saveBase(st.rhs, 0)
	for i := range b.film {
		// a film to begin with: that of a surface as warm as its cells
		b.mean[i] = b.meanOf(i, st.tNow, Film{})
	}
	if err := b.takeAll(st.timeS); err != nil {
		return err
	}
	if err := b.begin(st.tNow, st.timeS); err != nil {
		return err
	}
	for pass := 0; pass < 4*filmPasses; pass++ {
		settled, _, _, err := b.review(st.tNow, st.timeS, 0, b.tolK/100)
		if err != nil {
			return err
		}
		if settled {
			break
		}
	}
	if err := b.agree(st.tNow, nil, nil, 1, st.timeS, 0, b.tolK); err != nil {
		return err
	}
	copy(st.tNew, st.tNow) // impose sets held cells in its guess; what happened before must stay
	if err := b.impose(st.rhs, st.tNew); err != nil {
		return err
	}
	b.flows(st.heatNow, st.gainNow, st.tNow)
	// rhs − A T with the held cells' springs in place; these keep their temperature
	st.op.Residual(st.qNow, st.rhs, st.tNow)
	for c, cp := range st.m.CapJK {
		if cp == 0 {
			st.qNow[c] = 0 // it has no equation
		}
	}
	for _, t := range b.held {
		st.qNow[b.touched[t]] = 0
	}
	copy(st.filmNow, b.film)
	st.restart, st.smooth, st.stateOK = false, false, false
	return nil
}

// dampFrom is the part of the tolerance from which an estimate is worth damping: one
// that lies far below lets the step grow as it is.
const dampFrom = 0.25

// dampRel is how well the damped estimate is solved for.
const dampRel = 0.2

// try computes a step of hS from the present into tNew and estimates its error:
// errK with stiff transients damped, rawK without.
func (st *Stepper) try(ctx context.Context, hS, toS float64, out *Step) (errK, rawK float64, err error) {
	st.argH = hS
	a := 1 / (Diagonal * hS)
	copy(st.b.film, st.filmNow)

	// The guess for stage γ is a parabola through the slopes at both ends of the last
	// step, a straight line where only the later is to be trusted, else the present.
	s := Gamma * hS
	st.argAhead, st.argBend = 0, 0
	if st.smooth {
		st.argAhead = s
		if !st.shock {
			st.argBend = 0.5 * s * s / (st.timeS - st.oldS)
		}
	}
	st.b.all.run(st.middlePass)
	if err := st.solveStage(ctx, st.tMid, a, st.timeS+s, out); err != nil {
		return 0, 0, err
	}
	st.b.flows(st.heatMid, st.gainMid, st.tMid)

	st.b.all.run(st.endPass)
	if err := st.solveStage(ctx, st.tNew, a, toS, out); err != nil {
		return 0, 0, err
	}
	st.b.flows(st.heatNew, st.gainNew, st.tNew)

	rawK = st.b.all.most(st.errorPass)
	if st.opt.FixedStepS > 0 || rawK <= dampFrom*st.opt.TolK {
		return rawK, rawK, nil
	}
	// Stiff components are estimated far too large; (I − h d J)⁻¹ puts that right
	// (Hosea & Shampine 1996, sect. 4). From nothing it takes an iteration or two, from
	// the estimate itself, which is mostly what is to be damped, twice as many.
	clear(st.tMid)
	stats, err := st.lin.Solve(st.tMid, st.rhs, linsolve.Until{RelNorm: dampRel})
	out.LinearIterations += stats.Iterations
	st.stats.LinearIterations += stats.Iterations
	if err != nil {
		return rawK, rawK, err
	}
	return (1 + dampRel) * st.b.all.most(st.largestPass), rawK, nil // conjugate gradients come from below
}

// middleCells sets stage γ up, C a (T_γ − T_0) = q_0 + F(T_γ), and guesses T_γ.
func (st *Stepper) middleCells(lo, hi int) (_, _ float64) {
	capJK, invC, rhs := st.m.CapJK, st.invC, st.rhs
	t0, tg, q0, qp := st.tNow, st.tMid, st.qNow, st.qOld
	a, ahead, bend := 1/(Diagonal*st.argH), st.argAhead, st.argBend
	for c := lo; c < hi; c++ {
		cp := capJK[c]
		if cp == 0 {
			rhs[c], tg[c] = t0[c], t0[c]
			continue
		}
		rhs[c] = a*cp*t0[c] + q0[c]
		tg[c] = t0[c] + invC[c]*(ahead*q0[c]+bend*(q0[c]-qp[c]))
	}
	return 0, 0
}

// endCells sets stage 1 up, C a (T_1 − T_0) = w/d (q_0 + q_γ) + F(T_1), and guesses T_1.
func (st *Stepper) endCells(lo, hi int) (_, _ float64) {
	capJK, invC, rhs := st.m.CapJK, st.invC, st.rhs
	t0, tg, t1, q0, qg := st.tNow, st.tMid, st.tNew, st.qNow, st.qMid
	hS := st.argH
	a, r := 1/(Diagonal*hS), Weight/Diagonal
	for c := lo; c < hi; c++ {
		cp := capJK[c]
		if cp == 0 {
			rhs[c], t1[c], qg[c] = t0[c], t0[c], 0
			continue
		}
		g := a*cp*(tg[c]-t0[c]) - q0[c]
		qg[c] = g
		rhs[c] = a*cp*t0[c] + r*(q0[c]+g)
		// guess: parabola through T_0, T_γ and the slope at γ, in bounds where that is wild
		done := tg[c] - t0[c]
		most := math.Abs(done)
		t1[c] = tg[c] + min(max((1-Diagonal)*hS*g*invC[c]-0.5*done, -most), most)
	}
	return 0, 0
}

// errorCells sets the error, h/C (e_0 q_0 + e_γ q_γ + e_1 q_1), into tMid, which is
// free by now, and what the damped one is to be solved from into rhs. It gives the largest.
func (st *Stepper) errorCells(lo, hi int) (most, _ float64) {
	capJK, invC, rhs, out := st.m.CapJK, st.invC, st.rhs, st.tMid
	t0, t1, q0, qg := st.tNow, st.tNew, st.qNow, st.qMid
	hS := st.argH
	a, r := 1/(Diagonal*hS), Weight/Diagonal
	for c := lo; c < hi; c++ {
		q1 := a*capJK[c]*(t1[c]-t0[c]) - r*(q0[c]+qg[c])
		e := ErrStart*q0[c] + ErrMiddle*qg[c] + ErrEnd*q1
		rhs[c] = e / Diagonal
		out[c] = hS * e * invC[c]
		most = max(most, math.Abs(out[c]))
	}
	return most, 0
}

func (st *Stepper) largestCells(lo, hi int) (most, _ float64) {
	for _, v := range st.tMid[lo:hi] {
		most = max(most, math.Abs(v))
	}
	return most, 0
}

// keepCells sets the slope at the end of the trial from its stage equation.
func (st *Stepper) keepCells(lo, hi int) (most, _ float64) {
	capJK, t0, t1, q0, qg, q1 := st.m.CapJK, st.tNow, st.tNew, st.qNow, st.qMid, st.qOld
	a, r := 1/(Diagonal*st.argH), Weight/Diagonal
	for c := lo; c < hi; c++ {
		q1[c] = a*capJK[c]*(t1[c]-t0[c]) - r*(q0[c]+qg[c])
		most = max(most, math.Abs(t1[c]))
	}
	return most, 0
}

// solveStage solves one implicit stage for x (guess in, solution out) with the
// films at atS. st.rhs holds the stage's equations without power and surfaces.
func (st *Stepper) solveStage(ctx context.Context, x []float64, rateS, atS float64, out *Step) error {
	b, rhs := st.b, st.rhs
	st.setCapacity(rateS)
	st.m.addPower(rhs, st.powerW)
	b.saveBase(rhs, rateS)
	if err := b.begin(x, atS); err != nil {
		return err
	}
	for pass := 1; ; pass++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := b.impose(rhs, x); err != nil {
			return err
		}
		if err := b.prepare(st.lin); err != nil {
			return err
		}
		iterations, err := b.solve(st.lin, x, rhs, st.opt.LinTolK, st.sizeK)
		out.LinearIterations += iterations
		st.stats.LinearIterations += iterations
		out.FilmPasses++
		if err != nil {
			return err
		}
		if !b.closeSums(x, rhs, nil, 1) {
			return errNotFinite
		}
		// the films the equations were solved with, should they be the final ones
		settled, worst, offK, err := b.review(x, atS, rateS, b.tolK)
		if err != nil {
			return err
		}
		if settled {
			return b.agree(x, rhs, nil, 1, atS, rateS, b.tolK)
		}
		if pass == filmPasses {
			return &UnsettledError{st.m.Surfaces[worst].Name, b.mean[worst], offK, pass}
		}
	}
}
