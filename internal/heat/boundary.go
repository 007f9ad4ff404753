package heat

import (
	"math"

	"finwright/internal/linsolve"
)

// An element of area A, conductance U½ to its cell's centre and film (h, Tref, g)
// has its surface temperature eliminated:
//
//	U½ (Tc − Ts) = A [h (Ts − Tref) − g]
//	Ts = [U½ Tc + A (h Tref + g)] / (U½ + A h)
//	Q  = U (Tc − Tref) − A g U½/(U½ + A h),   U = U½ A h/(U½ + A h)
//
// and their limits for h = 0, h = ∞, U½ = ∞. Both infinite holds the cell itself.

// elementFlow gives u and in such that the heat out of the cell is
// u·(Tc − RefK) − in. Not for held cells.
func elementFlow(halfWK, areaM2 float64, f Film) (uWK, inW float64) {
	if f.held() {
		return halfWK, 0
	}
	ah := areaM2 * f.HWm2K
	if math.IsInf(halfWK, 1) {
		return ah, areaM2 * f.GainWm2
	}
	part := halfWK / (halfWK + ah)
	return ah * part, areaM2 * f.GainWm2 * part
}

// elementK is the temperature of the element, K.
func elementK(halfWK, areaM2, cellK float64, f Film) float64 {
	if f.held() {
		return f.RefK
	}
	if math.IsInf(halfWK, 1) {
		return cellK
	}
	// written as cell + drop so that a surface without flux has its cell's temperature exactly
	ah := areaM2 * f.HWm2K
	return cellK + (ah*(f.RefK-cellK)+areaM2*f.GainWm2)/(halfWK+ah)
}

// boundary brings the surfaces into the equations and iterates their films.
type boundary struct {
	m    *Model
	op   *linsolve.Operator
	film []Film    // in the equations now
	mean []float64 // per surface: the means that the films were taken at, K
	area []float64 // per surface, m²
	tolK float64   // how well a film must fit its mean
	capJ []float64 // capacity of the cells it lies on, J/K
	half []float64 // sum over its elements, W/K

	hunts              []hunt    // per surface
	found, at, next    []float64 // per surface: the means of the solution, K; what the secant knows and gives
	open               []bool    // per surface: its film has not settled
	looks              []bool    // per surface: its film was seen to depend on another's mean
	joint              bool      // one of them does
	secants            *Secants  // for the means together
	bestK              float64   // the least that the worst of them was off
	stalled            int       // passes since then
	touched            []int32   // cells with elements, each once
	slot               [][]int32 // per surface and element: index in touched
	baseDiag, baseRhs  []float64 // per touched: the equations without surfaces
	heldBy             []int32   // per touched: surface that holds the cell, or -1
	canHold            bool      // some element sits at a cell's centre
	held               []int32   // touched indices held now
	isHeld             []bool    // per cell; nil unless canHold
	otherW             []float64 // per touched: scratch of flows
	faceNorm           float64   // ‖Σ G‖ over cells, W/K
	diagNorm           float64   // ‖Diag‖ over cells that are not held, W/K
	groupSum, groupDia []float64 // of closeSums: the shifts of the groups, K; scratch
	all                *share
	// what the solver's preconditioner stands on: see prepare
	preDiag []float64 // per touched
	stale   bool      // the equations have changed otherwise

	// passes over all cells, and their arguments
	facePass, diagPass, sumPass, shiftPass pass
	argX, argRhs                           []float64
	argShift                               float64
}

func newBoundary(m *Model, op *linsolve.Operator, tolK float64, workers int) *boundary {
	ns := len(m.Surfaces)
	b := &boundary{m: m, op: op, tolK: tolK, film: make([]Film, ns), mean: make([]float64, ns), area: make([]float64, ns),
		capJ: make([]float64, ns), half: make([]float64, ns), hunts: make([]hunt, ns), found: make([]float64, ns), at: make([]float64, ns), next: make([]float64, ns),
		open: make([]bool, ns), looks: make([]bool, ns), secants: NewSecants(ns), slot: make([][]int32, ns),
		groupSum: make([]float64, 1), groupDia: make([]float64, 1), all: newShare(m.Cells(), workers), stale: true}
	at := map[int32]int32{}
	atCentre := 0
	for i := range m.Surfaces {
		s := &m.Surfaces[i]
		b.slot[i] = make([]int32, len(s.Cells))
		for e, c := range s.Cells {
			t, ok := at[c]
			if !ok {
				t = int32(len(b.touched))
				at[c] = t
				b.touched = append(b.touched, c)
			}
			b.slot[i][e] = t
			b.area[i] += s.AreaM2[e]
			b.capJ[i] += m.CapJK[c]
			b.half[i] += s.HalfWK[e]
			if math.IsInf(s.HalfWK[e], 1) {
				atCentre++
			}
		}
	}
	nt := len(b.touched)
	b.baseDiag, b.baseRhs, b.heldBy = make([]float64, nt), make([]float64, nt), make([]int32, nt)
	b.otherW, b.preDiag = make([]float64, nt), make([]float64, nt)
	for t := range b.heldBy {
		b.heldBy[t] = -1
	}
	if atCentre > 0 {
		b.canHold = true
		b.held = make([]int32, 0, atCentre)
		b.isHeld = make([]bool, m.Cells())
	}
	b.facePass, b.diagPass, b.sumPass, b.shiftPass = b.squareFaces, b.squareDiag, b.sumRows, b.shiftCells
	b.conductancesChanged()
	return b
}

// conductancesChanged renews what depends on GX, GY, GZ.
func (b *boundary) conductancesChanged() {
	sum, _ := b.all.sum(b.facePass)
	b.faceNorm = math.Sqrt(sum)
	b.stale = true
}

func (b *boundary) squareFaces(lo, hi int) (sum, _ float64) {
	gx, gy, gz := b.m.GX, b.m.GY, b.m.GZ
	nx, nxy := b.m.NX, b.m.NX*b.m.NY
	for c := lo; c < hi; c++ {
		g := gx[c] + gy[c] + gz[c]
		if c >= 1 {
			g += gx[c-1]
		}
		if c >= nx {
			g += gy[c-nx]
		}
		if c >= nxy {
			g += gz[c-nxy]
		}
		sum += g * g
	}
	return sum, 0
}

// meanOf is the area-weighted mean temperature of surface i under film f, K.
func (b *boundary) meanOf(i int, tK []float64, f Film) float64 {
	s, sum := &b.m.Surfaces[i], 0.0
	if f.held() {
		return f.RefK
	}
	for e, c := range s.Cells {
		sum += s.AreaM2[e] * elementK(s.HalfWK[e], s.AreaM2[e], tK[c], f)
	}
	return sum / b.area[i]
}

// take asks the law of surface i for the film at the means of all.
func (b *boundary) take(i int, meansK []float64, tS float64) (Film, error) {
	f := b.m.Surfaces[i].Law.Film(meansK, i, tS)
	if !f.valid() || !finite(meansK[i]) {
		return f, &LawError{Surface: b.m.Surfaces[i].Name, MeanK: meansK[i], TimeS: tS, Film: f}
	}
	return f, nil
}

// takeAt is take with the mean of surface i itself replaced.
func (b *boundary) takeAt(i int, meansK []float64, ownK, tS float64) (Film, error) {
	keep := meansK[i]
	meansK[i] = ownK
	f, err := b.take(i, meansK, tS)
	meansK[i] = keep
	return f, err
}

// saveBase remembers the equations of the touched cells before any surface is in
// them: rhs, and C·rateS on the diagonal.
func (b *boundary) saveBase(rhs []float64, rateS float64) {
	for t, c := range b.touched {
		b.baseDiag[t], b.baseRhs[t] = b.m.CapJK[c]*rateS, rhs[c]
	}
}

// impose writes the films into op.Diag and rhs. x is the initial guess of the
// coming solve; held cells are set in it.
func (b *boundary) impose(rhs, x []float64) error {
	diag := b.op.Diag
	for t, c := range b.touched {
		diag[c], rhs[c] = b.baseDiag[t], b.baseRhs[t]
	}
	for _, t := range b.held {
		b.isHeld[b.touched[t]] = false
		b.heldBy[t] = -1
	}
	b.held = b.held[:0]
	for i := range b.film {
		s, f := &b.m.Surfaces[i], b.film[i]
		for e, c := range s.Cells {
			if f.held() && math.IsInf(s.HalfWK[e], 1) {
				if err := b.hold(i, b.slot[i][e]); err != nil {
					return err
				}
				continue
			}
			u, in := elementFlow(s.HalfWK[e], s.AreaM2[e], f)
			diag[c] += u
			rhs[c] += u*f.RefK + in
		}
	}
	for _, t := range b.held {
		x[b.touched[t]] = b.film[b.heldBy[t]].RefK
	}
	for _, t := range b.held {
		// A stiff spring to RefK. Its right-hand side already balances the cell's
		// neighbours as guessed, so it leaves 1e-6 of their change in the solve.
		c := b.touched[t]
		ref, sum, flow := x[c], 0.0, 0.0
		b.m.faces(c, func(nb int32, g float64) {
			sum += g
			flow += g * (ref - x[nb])
		})
		stiff := 1e6 * (sum + b.baseDiag[t])
		if stiff == 0 {
			stiff = 1
		}
		diag[c], rhs[c] = stiff, stiff*ref+flow
	}
	return nil
}

func (b *boundary) hold(surface int, t int32) error {
	if j := b.heldBy[t]; j >= 0 {
		if f := b.film[surface]; f.RefK != b.film[j].RefK {
			return &LawError{Surface: b.m.Surfaces[surface].Name, Film: f, Conflict: true}
		}
		return nil
	}
	b.heldBy[t] = int32(surface)
	b.isHeld[b.touched[t]] = true
	b.held = append(b.held, t)
	return nil
}

// staleRel is by how much films may change a cell's diagonal before the
// preconditioner takes the change over. It only preconditions: the equations
// solved are always those of the films.
const staleRel = 0.1

// prepare readies the linear solver for the equations in op: its preconditioner,
// and diagNorm, the residual that a temperature error of 1 K in every cell would
// make, W. Faces to held cells count as part of their other cell.
func (b *boundary) prepare(lin *linsolve.Solver) error {
	diag := b.op.Diag
	stale := b.stale || b.canHold
	for t, c := range b.touched {
		stale = stale || !(math.Abs(diag[c]-b.preDiag[t]) <= staleRel*b.preDiag[t])
	}
	if !stale {
		return nil
	}
	if err := lin.SetDiag(); err != nil {
		return err
	}
	for t, c := range b.touched {
		b.preDiag[t] = diag[c]
	}
	b.stale = false
	sum, _ := b.all.sum(b.diagPass)
	for _, t := range b.held {
		b.m.faces(b.touched[t], func(nb int32, g float64) {
			if !b.isHeld[nb] {
				sum += g * g
			}
		})
	}
	b.diagNorm = math.Sqrt(sum)
	return nil
}

func (b *boundary) squareDiag(lo, hi int) (sum, _ float64) {
	diag, capJK := b.op.Diag, b.m.CapJK
	for c := lo; c < hi; c++ {
		if d := diag[c]; capJK[c] > 0 && (b.isHeld == nil || !b.isHeld[c]) {
			sum += d * d
		}
	}
	return sum, 0
}

// solve improves x until its error is about offK: the norm of the residual is what
// offK in every cell would make (the measure of smooth errors), and the residual of
// no single cell is more than offK against its own diagonal (else a thin layer beside
// a heavy block could be far off within the norm). Rounding in temperatures of size
// sizeK ends it earlier. It returns the iterations.
func (b *boundary) solve(lin *linsolve.Solver, x, rhs []float64, offK, sizeK float64) (int, error) {
	const rounding = 64 * 2.2e-16
	floorW := rounding * math.Abs(sizeK) * (b.faceNorm + b.diagNorm)
	stats, err := lin.Solve(x, rhs, linsolve.Until{AbsNorm: offK*b.diagNorm + floorW, Off: offK, Floor: floorW})
	return stats.Iterations, err
}

// closeSums shifts x by one constant per group of cells (group nil: one for all)
// such that the group's equations hold in sum: conduction between its cells
// cancels in the sum, so that heat in, out and stored agree to rounding. It
// returns false when x holds something that is not a finite number.
func (b *boundary) closeSums(x, rhs []float64, group []int32, groups int) bool {
	if len(b.groupSum) < groups {
		b.groupSum, b.groupDia = make([]float64, groups), make([]float64, groups)
	}
	capJK, diag := b.m.CapJK, b.op.Diag
	if group == nil && !b.canHold {
		b.argX, b.argRhs = x, rhs
		sum, dia := b.all.sum(b.sumPass)
		b.groupSum[0] = sum / dia
		b.shift(x, sum/dia)
		return finite(sum / dia) // any NaN in x is in the sum
	}
	sum, dia := b.groupSum[:groups], b.groupDia[:groups]
	clear(sum)
	clear(dia)
	of := func(c int) int {
		if group == nil {
			return 0
		}
		return int(group[c])
	}
	for c, cp := range capJK {
		if cp > 0 && (b.isHeld == nil || !b.isHeld[c]) {
			sum[of(c)] += rhs[c] - diag[c]*x[c]
			dia[of(c)] += diag[c]
		}
	}
	for _, t := range b.held {
		h := b.touched[t]
		x[h] = b.film[b.heldBy[t]].RefK
		b.m.faces(h, func(nb int32, g float64) {
			if !b.isHeld[nb] {
				sum[of(int(nb))] -= g * (x[nb] - x[h])
				dia[of(int(nb))] += g
			}
		})
	}
	good := true
	for k := range sum {
		if dia[k] > 0 {
			sum[k] /= dia[k]
		}
		good = good && finite(sum[k])
	}
	for c, cp := range capJK {
		if cp > 0 && (b.isHeld == nil || !b.isHeld[c]) {
			x[c] += sum[of(c)]
		}
	}
	return good
}

// sumRows gives the sums of residuals without conduction and of diagonal entries.
func (b *boundary) sumRows(lo, hi int) (sum, dia float64) {
	x, rhs, diag, capJK := b.argX, b.argRhs, b.op.Diag, b.m.CapJK
	for c := lo; c < hi; c++ {
		if capJK[c] > 0 {
			sum += rhs[c] - diag[c]*x[c]
			dia += diag[c]
		}
	}
	return sum, dia
}

// shift adds d to all cells that are not held.
func (b *boundary) shift(x []float64, d float64) {
	b.argX, b.argShift = x, d
	b.all.run(b.shiftPass)
}

func (b *boundary) shiftCells(lo, hi int) (_, _ float64) {
	x, d, capJK := b.argX, b.argShift, b.m.CapJK
	for c := lo; c < hi; c++ {
		if capJK[c] > 0 && (b.isHeld == nil || !b.isHeld[c]) {
			x[c] += d
		}
	}
	return 0, 0
}

// flows sets, per surface, the net heat out (heatW) and the gains in it (gainW)
// of the solution x. What a held cell's equation leaves over is the heat of the
// surface that holds it.
func (b *boundary) flows(heatW, gainW, x []float64) {
	for _, t := range b.held {
		b.otherW[t] = 0
	}
	for i, f := range b.film {
		s := &b.m.Surfaces[i]
		heat, gain := 0.0, 0.0
		for e, c := range s.Cells {
			if f.held() && math.IsInf(s.HalfWK[e], 1) {
				continue
			}
			u, in := elementFlow(s.HalfWK[e], s.AreaM2[e], f)
			q := u*(x[c]-f.RefK) - in
			heat += q
			if t := b.slot[i][e]; b.heldBy[t] >= 0 {
				b.otherW[t] += q
			}
		}
		if !f.held() {
			gain = f.GainWm2 * b.area[i]
		}
		heatW[i], gainW[i] = heat, gain
	}
	for _, t := range b.held {
		c := b.touched[t]
		q := b.baseRhs[t] - b.baseDiag[t]*x[c] - b.otherW[t]
		b.m.faces(c, func(nb int32, g float64) { q += g * (x[nb] - x[c]) })
		heatW[b.heldBy[t]] += q
	}
}
