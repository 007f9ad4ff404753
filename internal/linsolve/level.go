package linsolve

// real is the number type of the coarse levels, which only precondition.
// Couplings are scaled by Solver.unit and residuals by their norm before they
// get here, so single precision neither overflows nor runs empty.
type real = float32

const (
	// rowsPerChunk coarse rows are one piece of work for a worker.
	rowsPerChunk = 4096
	// bottomNodes: a level of at most this many nodes is solved directly.
	bottomNodes = 64
	// repeatRatio: a level is visited twice per visit of the finer one when it
	// has less than this part of its nodes, else once; keeps the work bounded.
	repeatRatio = 0.4
	// goodEnough ends a visit after one step when that has brought the residual
	// down by this factor (Notay & Vassilevski, Numer. Linear Algebra Appl. 15 (2008): 0.25).
	goodEnough = 0.25
)

// level is a coarse level: a symmetric matrix in compressed rows. Node i has
// the couplings w[start[i]:start[i+1]] with the nodes col[…];
//
//	(A x)_i = excess_i·x_i + Σ w·(x_i − x_col)
//
// which is the Galerkin product of the finer operator with the prolongation
// that is constant on each aggregate: excesses and couplings simply add up.
type level struct {
	n, fineN int
	// members[memberStart[i]:memberStart[i+1]] are the finer nodes of node i.
	memberStart, members []int32
	start, col           []int32
	w                    []real
	excess, invDiag      []real
	// Nodes of one colour are not coupled: order[colourStart[q]:colourStart[q+1]]
	// may be relaxed together.
	order, colourStart []int32
	repeat             bool

	// b is the right-hand side of a visit, x its result; c and d are the two
	// search directions, v holds A c and serves as scratch.
	b, x, c, d, v []real
	// finer holds the residual of the finer level that b is gathered from.
	finer []real
	// next is the coarser level; nil when bottom solves this one, or when no
	// node has a neighbour left and relaxation alone is exact.
	next   *level
	bottom *bottom

	// arguments of the running kernel
	argX, argB []real
	argFiner   []real
	argC, argD real
	argColour  int
	chunks     int
	part       [][3]float64
}

func (lv *level) nodes() int { return lv.n }
func (lv *level) maxRow() int {
	m := int32(0)
	for i := range lv.n {
		m = max(m, lv.start[i+1]-lv.start[i])
	}
	return int(m)
}
func (lv *level) row(i int32, cols []int32, w []float64) int {
	lo, hi := lv.start[i], lv.start[i+1]
	copy(cols, lv.col[lo:hi])
	for e, v := range lv.w[lo:hi] {
		w[e] = float64(v)
	}
	return int(hi - lo)
}

// newLevel builds the level whose nodes are the count aggregates of g, with its
// couplings multiplied by scale.
func newLevel(g graph, of []int32, count int, scale float64) *level {
	lv := &level{n: count, fineN: g.nodes()}
	lv.memberStart = make([]int32, count+1)
	inside := int32(0)
	for _, a := range of {
		if a >= 0 {
			lv.memberStart[a+1]++
			inside++
		}
	}
	for a := range count {
		lv.memberStart[a+1] += lv.memberStart[a]
	}
	lv.members = make([]int32, inside)
	fill := make([]int32, count)
	for c, a := range of {
		if a >= 0 {
			lv.members[lv.memberStart[a]+fill[a]] = int32(c)
			fill[a]++
		}
	}

	lv.start = make([]int32, 1, count+1)
	place := fill // aggregate -> 1 + its place in the current row
	clear(place)
	cols, ws := make([]int32, g.maxRow()), make([]float64, g.maxRow())
	var rowW []float64
	lv.col = make([]int32, 0, 8*count)
	lv.w = make([]real, 0, 8*count)
	for a := range int32(count) {
		rowW = rowW[:0]
		lo := len(lv.col)
		for _, c := range lv.members[lv.memberStart[a]:lv.memberStart[a+1]] {
			m := g.row(c, cols, ws)
			for e, d := range cols[:m] {
				b := of[d]
				if b == a {
					continue
				}
				if place[b] == 0 {
					lv.col, rowW = append(lv.col, b), append(rowW, 0)
					place[b] = int32(len(rowW))
				}
				rowW[place[b]-1] += ws[e]
			}
		}
		for e, b := range lv.col[lo:] {
			place[b] = 0
			// A coupling too weak for single precision must not vanish: the two
			// nodes would count as unconnected.
			lv.w = append(lv.w, max(real(rowW[e]*scale), tiny))
		}
		lv.start = append(lv.start, int32(len(lv.col)))
	}
	lv.colour()

	lv.excess, lv.invDiag = make([]real, count), make([]real, count)
	lv.b, lv.x = make([]real, count), make([]real, count)
	lv.c, lv.d, lv.v = make([]real, count), make([]real, count), make([]real, count)
	lv.chunks = (count + rowsPerChunk - 1) / rowsPerChunk
	lv.part = make([][3]float64, lv.chunks)
	lv.repeat = float64(count) < repeatRatio*float64(lv.fineN)
	return lv
}

const (
	tiny = 1e-30 // far above the smallest float32, far below what couplings of one device span
	huge = 1e30
)

// colour gives each node the first colour none of its neighbours has.
func (lv *level) colour() {
	n := lv.n
	of := make([]int32, n)
	var seen, size []int32 // colour -> 1 + node that saw it last; colour -> nodes
	for i := range int32(n) {
		for _, j := range lv.col[lv.start[i]:lv.start[i+1]] {
			if j < i {
				seen[of[j]] = i + 1
			}
		}
		q := 0
		for q < len(seen) && seen[q] == i+1 {
			q++
		}
		if q == len(seen) {
			seen, size = append(seen, 0), append(size, 0)
		}
		of[i] = int32(q)
		size[q]++
	}
	lv.colourStart = make([]int32, len(size)+1)
	for q, m := range size {
		lv.colourStart[q+1] = lv.colourStart[q] + m
	}
	lv.order = make([]int32, n)
	fill := append([]int32(nil), lv.colourStart[:len(size)]...)
	for i, q := range of {
		lv.order[fill[q]] = int32(i)
		fill[q]++
	}
}

// setDiag refreshes the diagonal from the finer excess given by fine(c).
func (lv *level) setDiag(fine func(c int32) float64) {
	for i := range lv.n {
		d := 0.0
		for _, c := range lv.members[lv.memberStart[i]:lv.memberStart[i+1]] {
			d += fine(c)
		}
		if d > 0 {
			d = min(max(d, tiny), huge)
		}
		lv.excess[i] = real(d)
		for _, w := range lv.w[lv.start[i]:lv.start[i+1]] {
			d += float64(w)
		}
		// d is 0 only in a singular group, which Solve refuses.
		lv.invDiag[i] = 0
		if d > 0 {
			lv.invDiag[i] = real(1 / d)
		}
	}
}

// visit sets lv.x ≈ A⁻¹ lv.b: one step of the cycle, or two joined by conjugate
// gradients (K-cycle of Notay & Vassilevski, cited above, algorithm for the
// symmetric case). The second step repairs what constant prolongation gets
// wrong, the energy of smooth errors. lv.b is overwritten.
func (lv *level) visit(s *Solver) {
	if lv.bottom != nil {
		lv.bottom.solve(lv.x, lv.b)
		return
	}
	if !lv.repeat {
		lv.cycle(s, lv.c, lv.b)
		copy(lv.x, lv.c)
		return
	}
	lv.cycle(s, lv.c, lv.b)
	lv.argX, lv.argB = lv.c, lv.b
	sums := lv.sum(s, applyKernel) // v = A c; c·v, c·b, b·b
	rho1, bb := sums[0], sums[2]
	if !(rho1 > 0) { // b = 0
		copy(lv.x, lv.c)
		return
	}
	step := sums[1] / rho1
	lv.argC = real(step)
	rr := lv.sum(s, stepBackKernel)[0] // b −= step·v
	lv.argD = 0
	if rr > goodEnough*goodEnough*bb {
		lv.cycle(s, lv.d, lv.b)
		lv.argX, lv.argB = lv.d, lv.v
		gamma := lv.sum(s, dotKernel)[0] // d·A c
		lv.argB = lv.b
		sums = lv.sum(s, applyKernel) // v = A d; d·v, d·b
		beta, alpha := sums[0], sums[1]
		rho2 := beta - gamma*gamma/rho1
		if rho2 > 1e-6*beta { // else d repeats c: nothing gained
			lv.argC, lv.argD = real(step-gamma*alpha/(rho1*rho2)), real(alpha/rho2)
		}
	}
	s.crew.do(lv.chunks, combineKernel, lv) // x = argC·c + argD·d
}

// cycle sets x to one symmetric cycle applied to b, from zero.
func (lv *level) cycle(s *Solver, x, b []real) {
	clear(x)
	colours := len(lv.colourStart) - 1
	lv.argX, lv.argB = x, b
	for q := range colours {
		lv.relax(s, q)
	}
	if next := lv.next; next != nil {
		lv.argX, lv.argB = x, b
		s.crew.do(lv.chunks, leftoverKernel, lv) // into lv.x
		s.crew.do(next.chunks, gatherKernel, next)
		next.visit(s)
		next.argFiner = x
		s.crew.do(next.chunks, spreadKernel, next)
	}
	for q := colours - 1; q >= 0; q-- {
		lv.relax(s, q)
	}
}

// relax solves the equations of all nodes of one colour for argX.
func (lv *level) relax(s *Solver, colour int) {
	lv.argColour = colour
	m := int(lv.colourStart[colour+1] - lv.colourStart[colour])
	s.crew.do((m+rowsPerChunk-1)/rowsPerChunk, relaxKernel, lv)
}

func relaxKernel(_ *Solver, lv *level, chunk int) {
	lo := int(lv.colourStart[lv.argColour]) + chunk*rowsPerChunk
	hi := min(lo+rowsPerChunk, int(lv.colourStart[lv.argColour+1]))
	x, b := lv.argX, lv.argB
	for _, i := range lv.order[lo:hi] {
		a := b[i]
		from, to := lv.start[i], lv.start[i+1]
		col := lv.col[from:to]
		for e, w := range lv.w[from:to] {
			a += w * x[col[e]]
		}
		x[i] = a * lv.invDiag[i]
	}
}

// leftoverKernel sets lv.x = argB − A argX; argX is not lv.x.
func leftoverKernel(_ *Solver, lv *level, chunk int) {
	x, b := lv.argX, lv.argB
	for i := chunk * rowsPerChunk; i < min((chunk+1)*rowsPerChunk, lv.n); i++ {
		xi := x[i]
		a := b[i] - lv.excess[i]*xi
		from, to := lv.start[i], lv.start[i+1]
		col := lv.col[from:to]
		for e, w := range lv.w[from:to] {
			a += w * (x[col[e]] - xi)
		}
		lv.x[i] = a
	}
}

// applyKernel sets v = A argX and sums argX·v, argX·argB, argB·argB.
func applyKernel(_ *Solver, lv *level, chunk int) {
	x, b := lv.argX, lv.argB
	var xv, xb, bb float64
	for i := chunk * rowsPerChunk; i < min((chunk+1)*rowsPerChunk, lv.n); i++ {
		xi := x[i]
		a := lv.excess[i] * xi
		from, to := lv.start[i], lv.start[i+1]
		col := lv.col[from:to]
		for e, w := range lv.w[from:to] {
			a += w * (xi - x[col[e]])
		}
		lv.v[i] = a
		xv += float64(xi) * float64(a)
		xb += float64(xi) * float64(b[i])
		bb += float64(b[i]) * float64(b[i])
	}
	lv.part[chunk] = [3]float64{xv, xb, bb}
}

// stepBackKernel sets b −= argC·v and sums b·b.
func stepBackKernel(_ *Solver, lv *level, chunk int) {
	lo, hi := chunk*rowsPerChunk, min((chunk+1)*rowsPerChunk, lv.n)
	b, v, f := lv.b[lo:hi], lv.v[lo:hi], lv.argC
	bb := 0.0
	for i, a := range v {
		r := b[i] - f*a
		b[i] = r
		bb += float64(r) * float64(r)
	}
	lv.part[chunk] = [3]float64{bb}
}

// dotKernel sums argX·argB.
func dotKernel(_ *Solver, lv *level, chunk int) {
	lo, hi := chunk*rowsPerChunk, min((chunk+1)*rowsPerChunk, lv.n)
	x, b := lv.argX[lo:hi], lv.argB[lo:hi]
	dot := 0.0
	for i, v := range x {
		dot += float64(v) * float64(b[i])
	}
	lv.part[chunk] = [3]float64{dot}
}

// combineKernel sets x = argC·c + argD·d. With argD = 0 the old d, whatever it
// holds, stays out.
func combineKernel(_ *Solver, lv *level, chunk int) {
	lo, hi := chunk*rowsPerChunk, min((chunk+1)*rowsPerChunk, lv.n)
	x, c, d := lv.x[lo:hi], lv.c[lo:hi], lv.d[lo:hi]
	if lv.argD == 0 {
		for i, v := range c {
			x[i] = lv.argC * v
		}
		return
	}
	for i, v := range c {
		x[i] = lv.argC*v + lv.argD*d[i]
	}
}

// sum runs a kernel that leaves partial sums and adds these up in order.
func (lv *level) sum(s *Solver, run kernel) (total [3]float64) {
	s.crew.do(lv.chunks, run, lv)
	for _, p := range lv.part {
		for e, v := range p {
			total[e] += v
		}
	}
	return total
}

// gatherKernel sets b to the finer residual, added up over each aggregate.
func gatherKernel(_ *Solver, lv *level, chunk int) {
	for i := chunk * rowsPerChunk; i < min((chunk+1)*rowsPerChunk, lv.n); i++ {
		a := real(0)
		for _, c := range lv.members[lv.memberStart[i]:lv.memberStart[i+1]] {
			a += lv.finer[c]
		}
		lv.b[i] = a
	}
}

// spreadKernel adds x of each aggregate to its members' argFiner.
func spreadKernel(_ *Solver, lv *level, chunk int) {
	for i := chunk * rowsPerChunk; i < min((chunk+1)*rowsPerChunk, lv.n); i++ {
		for _, c := range lv.members[lv.memberStart[i]:lv.memberStart[i+1]] {
			lv.argFiner[c] += lv.x[i]
		}
	}
}
