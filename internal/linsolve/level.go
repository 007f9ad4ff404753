package linsolve

import (
	"cmp"
	"slices"
)

// real is the number type of everything that only preconditions. Couplings are
// scaled by Solver.unit and residuals by their norm before they get here, so
// single precision neither overflows nor runs empty.
type real = float32

const (
	// slicesPerChunk slices of coarse nodes are one piece of work for a worker.
	slicesPerChunk = 128
	nodesPerChunk  = slicesPerChunk * lanesPerSlice
	// sharedNodes: a smaller level is not shared out. Its kernels are over before
	// another processor has fetched what it needs for them.
	sharedNodes = 32_768
	// bottomNodes: a level of at most this many nodes is solved directly.
	bottomNodes = 64
	// repeatRatio: a level is visited twice per visit of the finer one when it
	// has less than this part of its nodes, else once; keeps the work bounded.
	repeatRatio = 0.4
	// goodEnough ends a visit after one step when that has brought the residual
	// down by this factor (Notay & Vassilevski, Numer. Linear Algebra Appl. 15 (2008): 0.25).
	goodEnough = 0.25
)

// level is a coarse level. Its matrix is the Galerkin product of the finer
// operator with the prolongation that is constant on each aggregate: excesses
// and couplings simply add up.
type level struct {
	sliced
	// members[memberStart[a]:memberStart[a+1]] are the finer nodes of node[a]. Those
	// before memberReached[a] take part in gather and spread: on the finest level
	// the red cells only. Unlike nodes, aggregates come in the order of the grid.
	memberStart, memberReached, members []int32
	node                                []int32
	repeat                              bool

	// b is the right-hand side of a visit, x its result; c and d are the two
	// search directions, v holds A c and serves as scratch.
	b, x, c, d, v []real
	// finer holds the residual of the finer level that b is gathered from.
	finer []real
	// finerExcess and finerMatrix are those of the finer level, nil on the first one.
	finerExcess []real
	finerMatrix *sliced
	// next is the coarser level; nil when bottom solves this one, or when no
	// node has a neighbour left and relaxation alone is exact.
	next   *level
	bottom *bottom

	// arguments of the running kernel
	argX, argB []real
	argFiner   []real
	argC, argD real
	argColour  int
	argEnd     []int32
	argOf      []int32
	// Work on nodes is cut into chunks, work on aggregates into portions. A chunk is
	// part of a colour. Chunks come in the order of the grid, first those of the near
	// end of every colour: so a worker's part is the same whether it relaxes one colour
	// or works on all, and the same as its part of the aggregates.
	chunk            [][2]int32 // slices from … to
	chunks, portions int
	alone            bool // not shared out
	part             [][3]float64
}

// layOut takes over the matrix the level was chosen with and takes the storage
// for visits.
func (lv *level) layOut(g *rows, workers int) {
	colourOf, colours := make([]int32, g.nodes()), 1
	if lv.bottom == nil { // else nothing is relaxed, and nodes keep their numbers
		colourOf, colours = g.colour()
	}
	var m *sliced
	m, lv.node = slice(g, colourOf, colours, workers)
	lv.sliced = *m
	lv.memberReached = lv.memberStart[1:]
	lv.b, lv.x = stagger[real](m.n, 1), stagger[real](m.n, 2)
	lv.c, lv.d, lv.v = stagger[real](m.n, 3), stagger[real](m.n, 4), stagger[real](m.n, 5)
	lv.alone = m.n < sharedNodes
	lv.cut()
	lv.chunks = len(lv.chunk)
	lv.portions = (len(lv.node) + nodesPerChunk - 1) / nodesPerChunk
	lv.part = make([][3]float64, max(lv.chunks, lv.portions))
}

// cut cuts the level's slices into chunks.
func (lv *level) cut() {
	type at struct {
		part float64 // where the chunk lies in its colour
		of   [2]int32
	}
	var all []at
	for q := range len(lv.colours) - 1 {
		first, end := lv.colours[q], lv.colours[q+1]
		for s := first; s < end; s += slicesPerChunk {
			last := min(s+slicesPerChunk, end)
			all = append(all, at{float64(s+last-2*first) / float64(end-first), [2]int32{s, last}})
		}
	}
	slices.SortStableFunc(all, func(a, b at) int { return cmp.Compare(a.part, b.part) })
	lv.chunk = make([][2]int32, len(all))
	for i := range all {
		lv.chunk[i] = all[i].of
	}
}

// aggregates are those of one portion.
func (lv *level) aggregates(portion int) (lo, hi int) {
	return portion * nodesPerChunk, min((portion+1)*nodesPerChunk, len(lv.node))
}

// diagKernel refreshes the diagonal from the finer level's excess. It leaves the
// first aggregate without any, whose group is singular, or -1.
func diagKernel(s *Solver, lv *level, portion int) {
	lo, hi := lv.aggregates(portion)
	singular := -1
	for a := lo; a < hi; a++ {
		i := int(lv.node[a])
		d := 0.0
		of := lv.members[lv.memberStart[a]:lv.memberStart[a+1]]
		if lv.finerExcess == nil {
			for _, c := range of {
				d += s.op.Diag[c]
			}
			d *= s.unit
		} else {
			for _, c := range of {
				d += float64(lv.finerExcess[c])
			}
		}
		if d > 0 {
			d = min(max(d, tiny), huge)
		}
		lv.excess[i] = real(d)
		s := i / lanesPerSlice
		for e := lv.begin[s] + int32(i%lanesPerSlice); e < lv.begin[s+1]; e += lanesPerSlice {
			d += float64(lv.w[e])
		}
		lv.inv[i] = 0
		if d > 0 {
			lv.inv[i] = real(1 / d)
		} else if singular < 0 {
			singular = a
		}
	}
	lv.part[portion] = [3]float64{float64(singular)}
}

// reachKernel writes down the node of each finer node.
func reachKernel(_ *Solver, lv *level, portion int) {
	lo, hi := lv.aggregates(portion)
	for a := lo; a < hi; a++ {
		for _, c := range lv.members[lv.memberStart[a]:lv.memberStart[a+1]] {
			lv.argOf[c] = lv.node[a]
		}
	}
}

// relumpKernel adds up the couplings anew where there were some.
func relumpKernel(s *Solver, lv *level, portion int) {
	var g rower = s.op
	scale := s.unit
	if lv.finerMatrix != nil {
		g, scale = lv.finerMatrix, 1
	}
	cols, ws := make([]int32, g.maxRow()), make([]float64, g.maxRow())
	sum := make([]float64, lv.maxRow())
	lo, hi := lv.aggregates(portion)
	for a := lo; a < hi; a++ {
		i := int(lv.node[a])
		begin, end := lv.begin[i/lanesPerSlice]+int32(i%lanesPerSlice), lv.begin[i/lanesPerSlice+1]
		clear(sum)
		for _, c := range lv.members[lv.memberStart[a]:lv.memberStart[a+1]] {
			n := g.row(c, cols, ws)
			for f, d := range cols[:n] {
				to := lv.argOf[d]
				if int(to) == i {
					continue
				}
				for e, k := begin, 0; e < end; e, k = e+lanesPerSlice, k+1 {
					if lv.col[e] == to && lv.w[e] > 0 {
						sum[k] += ws[f]
						break
					}
				}
			}
		}
		for e, k := begin, 0; e < end; e, k = e+lanesPerSlice, k+1 {
			if lv.w[e] > 0 {
				lv.w[e] = max(real(sum[k]*scale), tiny)
			}
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
	colours := len(lv.colours) - 1
	lv.argX, lv.argB = x, b
	lv.argEnd = lv.middle // later colours are still zero
	for q := range colours {
		lv.relaxColour(s, q)
	}
	if next := lv.next; next != nil {
		s.crew.do(lv.chunks, leftoverKernel, lv) // into lv.x
		s.crew.do(next.portions, gatherKernel, next)
		next.visit(s)
		next.argFiner = x
		s.crew.do(next.portions, spreadKernel, next)
	}
	lv.argEnd = lv.begin[1:]
	for q := colours - 1; q >= 0; q-- {
		lv.relaxColour(s, q)
	}
}

// relaxColour solves the equations of all nodes of one colour for argX.
func (lv *level) relaxColour(s *Solver, colour int) {
	lv.argColour = colour
	m := int(lv.colours[colour+1] - lv.colours[colour])
	s.crew.do((m+slicesPerChunk-1)/slicesPerChunk, relaxKernel, lv)
}

func relaxKernel(_ *Solver, lv *level, chunk int) {
	first := int(lv.colours[lv.argColour]) + chunk*slicesPerChunk
	last := min(first+slicesPerChunk, int(lv.colours[lv.argColour+1]))
	lv.relax(lv.argX, lv.argB, lv.argEnd, first, last)
}

// slices are those of one chunk, nodes the nodes in them.
func (lv *level) slices(chunk int) (first, last int) {
	return int(lv.chunk[chunk][0]), int(lv.chunk[chunk][1])
}
func (lv *level) nodes(chunk int) (lo, hi int) {
	first, last := lv.slices(chunk)
	return first * lanesPerSlice, last * lanesPerSlice
}

// leftoverKernel sets lv.x to the residual after the sweep from zero.
func leftoverKernel(_ *Solver, lv *level, chunk int) {
	first, last := lv.slices(chunk)
	lv.upper(lv.x, lv.argX, first, last)
}

// applyKernel sets v = A argX and sums argX·v, argX·argB, argB·argB.
func applyKernel(_ *Solver, lv *level, chunk int) {
	first, last := lv.slices(chunk)
	xv, xb, bb := lv.apply(lv.v, lv.argX, lv.argB, first, last)
	lv.part[chunk] = [3]float64{xv, xb, bb}
}

// stepBackKernel sets b −= argC·v and sums b·b.
func stepBackKernel(_ *Solver, lv *level, chunk int) {
	lo, hi := lv.nodes(chunk)
	lv.part[chunk] = [3]float64{stepBack(lv.b[lo:hi], lv.v[lo:hi], lv.argC)}
}

// dotKernel sums argX·argB.
func dotKernel(_ *Solver, lv *level, chunk int) {
	lo, hi := lv.nodes(chunk)
	lv.part[chunk] = [3]float64{dot(lv.argX[lo:hi], lv.argB[lo:hi])}
}

// combineKernel sets x = argC·c + argD·d. With argD = 0 the old d, whatever it
// holds, stays out.
func combineKernel(_ *Solver, lv *level, chunk int) {
	lo, hi := lv.nodes(chunk)
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
	for _, p := range lv.part[:lv.chunks] {
		for e, v := range p {
			total[e] += v
		}
	}
	return total
}

// gatherKernel sets b to the finer residual, added up over each aggregate.
func gatherKernel(_ *Solver, lv *level, portion int) {
	lo, hi := lv.aggregates(portion)
	for a := lo; a < hi; a++ {
		sum := real(0)
		for _, c := range lv.members[lv.memberStart[a]:lv.memberReached[a]] {
			sum += lv.finer[c]
		}
		lv.b[lv.node[a]] = sum
	}
}

// spreadKernel adds x of each aggregate to its members' argFiner.
func spreadKernel(_ *Solver, lv *level, portion int) {
	lo, hi := lv.aggregates(portion)
	for a := lo; a < hi; a++ {
		v := lv.x[lv.node[a]]
		for _, c := range lv.members[lv.memberStart[a]:lv.memberReached[a]] {
			lv.argFiner[c] += v
		}
	}
}
