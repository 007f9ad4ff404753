package heat

import (
	"context"
	"math"
)

// setCapacity sets Diag to C·rate, 1 in inactive cells.
func (st *Stepper) setCapacity(rateS float64) {
	diag := st.op.Diag
	for c, cp := range st.m.CapJK {
		if cp > 0 {
			diag[c] = cp * rateS
		} else {
			diag[c] = 1
		}
	}
}

// derive finds films, flows and slopes at the present temperatures.
func (st *Stepper) derive() error {
	b := st.b
	clear(st.op.Diag)
	clear(st.rhs)
	st.m.addPower(st.rhs, st.powerW)
	b.saveBase(st.rhs)
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
		settled, _, _, err := b.review(st.tNow, st.timeS, 0, meanTolK/100)
		if err != nil {
			return err
		}
		if settled {
			break
		}
	}
	if err := b.agree(st.tNow, nil, nil, 1, st.timeS, 0, meanTolK); err != nil {
		return err
	}
	copy(st.tNew, st.tNow) // impose sets held cells in its guess; what happened before must stay
	if err := b.impose(st.rhs, st.tNew); err != nil {
		return err
	}
	b.flows(st.heatNow, st.gainNow, st.tNow)
	// rhs − A T with the held cells' springs in place; these keep their temperature
	st.op.Residual(st.qNow, st.rhs, st.tNow)
	for _, t := range b.held {
		st.qNow[b.touched[t]] = 0
	}
	copy(st.filmNow, b.film)
	st.restart, st.smooth, st.stateOK = false, false, false
	return nil
}

// try computes a step of hS from the present into tNew and estimates its error:
// errK with stiff transients damped, rawK without.
func (st *Stepper) try(ctx context.Context, hS, toS float64, out *Step) (errK, rawK float64, err error) {
	capJK, invC := st.m.CapJK, st.invC
	t0, tg, t1 := st.tNow, st.tMid, st.tNew
	q0, qg, rhs := st.qNow, st.qMid, st.rhs
	a := 1 / (Diagonal * hS)
	copy(st.b.film, st.filmNow)

	// stage γ: C a (T_γ − T_0) = q_0 + F(T_γ)
	// The guess is a parabola through the slopes at both ends of the last step, a
	// straight line where only the later is to be trusted, else the present.
	s := Gamma * hS
	ahead, bend := 0.0, 0.0
	if st.smooth {
		ahead = s
		if !st.shock {
			bend = 0.5 * s * s / (st.timeS - st.oldS)
		}
	}
	qp := st.qOld
	for c, cp := range capJK {
		if cp == 0 {
			rhs[c], tg[c] = t0[c], t0[c]
			continue
		}
		rhs[c] = a*cp*t0[c] + q0[c]
		tg[c] = t0[c] + invC[c]*(ahead*q0[c]+bend*(q0[c]-qp[c]))
	}
	if err := st.solveStage(ctx, tg, a, st.timeS+s, out); err != nil {
		return 0, 0, err
	}
	st.b.flows(st.heatMid, st.gainMid, tg)

	// stage 1: C a (T_1 − T_0) = w/d (q_0 + q_γ) + F(T_1)
	r := Weight / Diagonal
	for c, cp := range capJK {
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
		t1[c] = tg[c] + math.Min(math.Max((1-Diagonal)*hS*g*invC[c]-0.5*done, -most), most)
	}
	if err := st.solveStage(ctx, t1, a, toS, out); err != nil {
		return 0, 0, err
	}
	st.b.flows(st.heatNew, st.gainNew, t1)

	// error: h/C (e_0 q_0 + e_γ q_γ + e_1 q_1)
	tMid := tg // free now
	for c, cp := range capJK {
		q1 := a*cp*(t1[c]-t0[c]) - r*(q0[c]+qg[c])
		e := ErrStart*q0[c] + ErrMiddle*qg[c] + ErrEnd*q1
		rhs[c] = e / Diagonal
		tMid[c] = hS * e * invC[c]
		rawK = math.Max(rawK, math.Abs(tMid[c]))
	}
	if st.opt.FixedStepS > 0 || rawK <= st.opt.TolK {
		return rawK, rawK, nil
	}
	// Stiff components are estimated far too large; (I − h d J)⁻¹ puts that right
	// (Hosea & Shampine 1996, sect. 4). Two digits are plenty.
	norm := 0.0
	for _, v := range rhs {
		norm += v * v
	}
	stats, err := st.lin.Solve(tMid, rhs, 0, 0.02*math.Sqrt(norm))
	out.LinearIterations += stats.Iterations
	st.stats.LinearIterations += stats.Iterations
	if err != nil {
		return rawK, rawK, err
	}
	for _, v := range tMid {
		errK = math.Max(errK, math.Abs(v))
	}
	return errK, rawK, nil
}

// solveStage solves one implicit stage for x (guess in, solution out) with the
// films at atS. st.rhs holds the stage's equations without power and surfaces.
func (st *Stepper) solveStage(ctx context.Context, x []float64, rateS, atS float64, out *Step) error {
	b, rhs := st.b, st.rhs
	st.setCapacity(rateS)
	st.m.addPower(rhs, st.powerW)
	b.saveBase(rhs)
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
		if err := st.lin.SetDiag(); err != nil {
			return err
		}
		if pass == 1 {
			b.measure()
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
		settled, worst, offK, err := b.review(x, atS, rateS, meanTolK)
		if err != nil {
			return err
		}
		if settled {
			return b.agree(x, rhs, nil, 1, atS, rateS, meanTolK)
		}
		if pass == filmPasses {
			return &UnsettledError{st.m.Surfaces[worst].Name, b.mean[worst], offK, pass}
		}
	}
}
