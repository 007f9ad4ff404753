package linsolve

import (
	"math"
	"runtime"
	"slices"
	"unsafe"
)

// Options of a solver; the zero value is good.
type Options struct {
	// Workers is the number of goroutines that share a kernel. 0 means all
	// processors for large grids and one below smallGrid cells. The result does
	// not depend on it.
	Workers int
	// MaxIterations ends a solve; 0 means defaultMaxIterations.
	MaxIterations int
}

const (
	smallGrid            = 50_000
	defaultMaxIterations = 500
	// cellsPerChunk: about this many cells of whole rows are one piece of work.
	cellsPerChunk = 8192
	// fewIterations: rounding in so many adds up to less than Until.Floor.
	fewIterations = 50
)

// Stats tells how a solve went.
type Stats struct {
	Iterations  int
	Residual    float64 // ‖rhs − A x‖, Euclidean norm, computed from x at the end (see Until.Floor)
	RelResidual float64 // Residual/‖rhs‖; 0 when both are 0, or without Until.RelNorm
	Converged   bool
}

// Solver solves with one operator, again and again. It is not safe for
// concurrent use; it works with several goroutines itself.
type Solver struct {
	op    *Operator
	grid  Grid // op's when the storage was taken
	opt   Options
	crew  *crew
	zeros []float64 // one row
	top   *level    // first coarse level; nil when no cell has a neighbour
	last  *level    // coarsest level
	unit  float64   // couplings of the coarse levels are unit times those of op
	bad   error     // what is wrong with the operator, if anything
	built bool      // the hierarchy suits op's conductances
	drift float64   // largest change of a conductance since the aggregates were chosen, a factor

	r, p, q []float64 // residual, direction, A p
	// The finest level of the preconditioner: the operator in single precision,
	// the preconditioned residual (with edge cells more at both ends), scaled, and
	// the residual of the relaxed z.
	fine *stencil
	z, t []real

	// Work is cut into chunks: of rowsPer x-rows, or, where a plane holds more cells
	// than a chunk should, one of blocks parts of a plane. Those of one part follow
	// each other plane by plane, so that a plane is still at hand for the next.
	rowsPer, blocks, chunks int
	part                    [][2]float64
	product                 [][]float64 // one row for each chunk

	// arguments of the running kernel
	argDst, argRhs []float64
	argAlpha       float64
	argBeta        float64
	argScale       float64
}

// New builds the hierarchy for op and takes all storage that solving needs. It
// keeps op; after changing op.Diag call SetDiag, after changing conductances
// call SetConductances. The error is an *OperatorError or a *Singular; a
// singular operator can still be repaired by a later SetDiag, so in that case
// the solver is returned too.
func New(op *Operator, opt Options) (*Solver, error) {
	if err := op.check(); err != nil {
		return nil, err
	}
	n := op.Cells()
	if opt.Workers < 0 || opt.MaxIterations < 0 {
		return nil, &OperatorError{Grid: op.Grid, Cell: -1, What: "Workers and MaxIterations must not be negative"}
	}
	if opt.Workers == 0 {
		opt.Workers = 1
		if n >= smallGrid {
			opt.Workers = runtime.GOMAXPROCS(0)
		}
	}
	if opt.MaxIterations == 0 {
		opt.MaxIterations = defaultMaxIterations
	}
	s := &Solver{op: op, grid: op.Grid, opt: opt, zeros: make([]float64, op.NX)}
	s.crew = newCrew(s, opt.Workers)
	if s.blocks = min(op.NX*op.NY/cellsPerChunk, op.NY); s.blocks > 1 {
		s.chunks = s.blocks * op.NZ
	} else {
		s.rowsPer = max(1, cellsPerChunk/op.NX)
		s.chunks = (op.NY*op.NZ + s.rowsPer - 1) / s.rowsPer
	}
	s.part = make([][2]float64, s.chunks)
	s.product = make([][]float64, s.chunks)
	for i := range s.product {
		s.product[i] = make([]float64, op.NX)
	}
	s.r, s.p, s.q = stagger[float64](n, 1), stagger[float64](n, 2), stagger[float64](n, 3)
	s.fine, s.z, s.t = newStencil(op.Grid), stagger[real](n+2*edge, 4), stagger[real](n, 5)
	err := s.SetConductances()
	return s, err
}

// keepLimit: aggregates are kept as long as no conductance has changed by more
// than this factor, all changes since they were chosen multiplied. Up to
// ignoreLimit the preconditioner does not look at a change at all: it is as good
// for conductances that are off by so little, and residuals are those of op.
const (
	keepLimit   = 3
	ignoreLimit = 1.15
)

// stagger takes room for n numbers, and eight more behind them that kernels may
// read. Arrays would all start at a page; rows that are worked on together
// would then fall on the same few places of a cache. Each gets a shift of its own.
func stagger[T real | float64](n, shift int) []T {
	const line = 64
	shift *= 9 * line / int(unsafe.Sizeof(T(0)))
	return make([]T, n+shift+8)[shift:][:n]
}

// SetConductances takes over changed conductances (and perhaps Diag). As long as
// all have changed a little only, and none to zero or from it, the aggregates
// stay and the coarse levels are added up anew, or even stay as they are. Otherwise
// they are chosen anew: aggregates that suited the old conductances may be poor for
// the new ones.
func (s *Solver) SetConductances() error {
	built := s.built
	s.built = false
	if s.op.Grid != s.grid {
		s.bad = &OperatorError{Grid: s.op.Grid, Cell: -1, What: "the grid is not the one the solver was made for"}
		return s.bad
	}
	changed := math.Inf(1)
	if built && len(s.op.GX) == s.grid.Cells() && len(s.op.GY) == len(s.op.GX) && len(s.op.GZ) == len(s.op.GX) {
		changed = s.changed()
	}
	if !(changed <= keepLimit) { // or among them one that is no conductance
		if s.bad = s.op.check(); s.bad != nil {
			return s.bad
		}
	}
	switch {
	case changed <= ignoreLimit:
	case s.drift*changed <= keepLimit:
		s.drift *= changed
		s.crew.do(s.chunks, couplingsKernel, nil)
		for lv := s.top; lv != nil; lv = lv.next {
			n := s.op.Cells()
			if lv.finerMatrix != nil {
				n = lv.finerMatrix.n
			}
			lv.argOf = make([]int32, n)
			s.crew.do(lv.portions, reachKernel, lv)
			s.crew.do(lv.portions, relumpKernel, lv)
			lv.argOf = nil
		}
	default:
		s.top, s.last, s.drift = nil, nil, 1
		largest := 0.0
		for c := range s.op.GX {
			largest = max(largest, s.op.GX[c], s.op.GY[c], s.op.GZ[c])
		}
		s.unit = 1
		if largest > 0 {
			s.unit = 1 / largest
		}
		s.crew.do(s.chunks, couplingsKernel, nil)
		s.coarsen()
	}
	s.built = true
	return s.SetDiag()
}

// changed returns the largest factor by which a conductance differs from the one
// the preconditioner was made from; infinite when one came or went or is none.
func (s *Solver) changed() float64 {
	s.crew.do(s.chunks, changedKernel, nil)
	most := 1.0
	for _, p := range s.part {
		most = max(most, p[0])
	}
	return most
}

func changedKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.cells(chunk)
	op, m, unit := s.op, s.fine, s.unit
	up, down := 1.0, 1.0
	for _, a := range [3]struct {
		old []real
		now []float64
	}{{m.x[edge:], op.GX}, {m.y, op.GY}, {m.z, op.GZ}} {
		old := a.old[lo:hi]
		for i, g := range a.now[lo:hi] {
			was, is := float64(old[i]), g*unit
			switch {
			case is == was: // most of them, and all that are 0
			case was > 0 && is > 0 && is < huge:
				up, down = max(up, is/was), min(down, is/was)
			default:
				up = math.Inf(1)
			}
		}
	}
	s.part[chunk] = [2]float64{max(up, 1/down), 0}
}

// coarsen chooses the coarse levels for s.op.
func (s *Solver) coarsen() {
	var g graph = s.op
	var finer *rows // matrix of s.last
	scale, workers := s.unit, s.opt.Workers
	slab, slabs := s.op.slabs()
	for {
		to := aggregate(g, slab, slabs, workers, s.p, s.q) // no solve is under way
		count := to.count
		if count == 0 || count == g.nodes() {
			break
		}
		lv := &level{repeat: float64(count) < repeatRatio*float64(g.nodes())}
		lv.memberStart, lv.members = collect(to.of, count)
		coarse := lump(g, to, lv.memberStart, lv.members, scale, workers)
		slab, slabs = to.slabs()
		if s.top == nil {
			s.top = lv
		} else {
			s.last.next = lv
			s.last.layOut(finer, workers)
			for e, i := range lv.members {
				lv.members[e] = s.last.node[i]
			}
			lv.finer, lv.finerExcess, lv.finerMatrix = s.last.x, s.last.excess, &s.last.sliced
		}
		s.last, finer = lv, coarse
		g, scale = coarse, 1
		if count <= bottomNodes {
			lv.bottom = newBottom(count)
			break
		}
	}
	if s.top == nil {
		return
	}
	s.last.layOut(finer, workers)
	s.top.finer = s.t
	s.redFirst()
}

// redFirst sorts the members of the first coarse level by colour. Only red cells
// of the finest level have a residual when it is gathered, and relaxation of the
// black ones overwrites whatever a correction would add to them.
func (s *Solver) redFirst() {
	lv, g := s.top, s.op.Grid
	lv.memberReached = make([]int32, len(lv.node))
	var black []int32
	for i := range lv.node {
		of := lv.members[lv.memberStart[i]:lv.memberStart[i+1]]
		reds := 0
		black = black[:0]
		for _, c := range of {
			x, y, z := g.Coordinates(int(c))
			if (x+y+z)&1 == 0 {
				of[reds] = c
				reds++
			} else {
				black = append(black, c)
			}
		}
		copy(of[reds:], black)
		lv.memberReached[i] = lv.memberStart[i] + int32(reds)
	}
}

// SetDiag takes over changed values of op.Diag on all levels; the hierarchy
// stays. It allocates nothing. The error is that of New; Solve repeats it. After an
// error of SetConductances only another SetConductances helps.
func (s *Solver) SetDiag() error {
	op := s.op
	if !s.built {
		return s.bad
	}
	if len(op.Diag) != len(s.fine.inv) {
		s.bad = &OperatorError{Grid: op.Grid, Cell: -1, What: "Diag must hold one value per cell"}
		return s.bad
	}
	s.crew.do(s.chunks, invKernel, nil)
	singular := -1
	for _, p := range s.part {
		if p[0] >= 0 {
			s.bad = op.checkDiag()
			return s.bad
		}
		if singular < 0 {
			singular = int(p[1])
		}
	}
	for lv := s.top; lv != nil; lv = lv.next {
		s.crew.do(lv.portions, diagKernel, lv)
		for _, p := range lv.part[:lv.portions] {
			if singular < 0 && p[0] >= 0 {
				singular = s.cellOf(lv, int(p[0]))
			}
		}
		if lv.bottom != nil {
			lv.bottom.factor(lv)
			for i, p := range lv.bottom.pivot {
				if singular < 0 && !(p > 0) {
					singular = s.cellOf(lv, i)
				}
			}
		}
	}
	// Groups of cells without any Diag shrink to single nodes or meet in the bottom
	// level, so only nodes without neighbours and the bottom's groups were looked at.
	s.bad = nil
	if singular >= 0 {
		s.bad = &Singular{Grid: op.Grid, Cell: singular}
	}
	return s.bad
}

// Until says when a solve is good enough, by its residual r = rhs − A x.
type Until struct {
	// RelNorm and AbsNorm: ‖r‖ is to be at most max(RelNorm·‖rhs‖, AbsNorm). The norm
	// runs over all cells, so an inactive cell's rhs (its value, as its Diag is 1)
	// should not dwarf the rest.
	RelNorm, AbsNorm float64
	// Off, if not 0: and no |r_c| is to exceed Off·a_cc, the diagonal as SetDiag saw
	// it. What the norm hides in a heavy block, a thin layer beside it shows.
	Off float64
	// Floor is the norm that rounding may leave, some 64·2⁻⁵²·‖A‖·‖x‖, if known: below
	// it Off is no longer asked for, well above it no residual is checked twice.
	Floor float64
}

func (u Until) valid() bool {
	return finiteNonNegative(u.RelNorm) && finiteNonNegative(u.AbsNorm) && finiteNonNegative(u.Off) && finiteNonNegative(u.Floor)
}

// Solve improves dst, the initial guess, until it is good enough. dst and rhs must
// not overlap. The error is a *NotConverged when that is not reached, or
// tells what is wrong with the operator or the arguments. It allocates nothing
// unless it fails.
func (s *Solver) Solve(dst, rhs []float64, until Until) (Stats, error) {
	if s.bad != nil {
		return Stats{}, s.bad
	}
	n := s.op.Cells()
	if len(dst) != n || len(rhs) != n {
		return Stats{}, &OperatorError{Grid: s.op.Grid, Cell: -1, What: "dst and rhs must hold one value per cell"}
	}
	if !until.valid() {
		return Stats{}, &OperatorError{Grid: s.op.Grid, Cell: -1, What: "a tolerance is negative or not a finite number"}
	}
	s.argDst, s.argRhs = dst, rhs
	defer func() { s.argDst, s.argRhs = nil, nil }()

	rhsNorm := math.Inf(1) // not asked for
	if until.RelNorm > 0 || until.AbsNorm == 0 {
		rhsNorm = math.Sqrt(s.sum(rhsKernel)[0])
		if rhsNorm == 0 && until.AbsNorm == 0 {
			clear(dst)
			return Stats{Converged: true}, nil
		}
	}
	target := until.AbsNorm
	if until.RelNorm > 0 {
		target = max(target, until.RelNorm*rhsNorm)
	}
	norm := math.Sqrt(s.sum(residualKernel)[0])
	stats := Stats{Residual: norm}
	restart := norm // true residual at the last restart
	fail := func(cause string) (Stats, *NotConverged) {
		stats.Residual = math.Sqrt(s.sum(residualKernel)[0])
		stats.RelResidual = stats.Residual / rhsNorm
		return stats, &NotConverged{Stats: stats, Target: target, Cause: cause}
	}
	// Flexible conjugate gradients: the preconditioner is not quite linear, so
	// β is Polak & Ribière's, which makes p conjugate to the previous direction
	// whatever z is: β = z·(r−r_old)/(z·r)_old = −z·q/p·q. The scale of z, which
	// changes from step to step, leaves no trace in x and r.
	alpha, pq, fresh, truth := 0.0, 0.0, true, true
	for {
		if norm <= math.MaxFloat64 && s.good(norm, target, until) {
			// The recursion drifts from the truth, in so few iterations by less than the
			// rounding that Floor tells of; without it only the truth counts.
			done := truth || until.Floor > 0 && stats.Iterations <= fewIterations && norm+until.Floor <= target
			if !done {
				norm, truth = math.Sqrt(s.sum(residualKernel)[0]), true
				done = s.good(norm, target, until)
			}
			if done {
				stats.Residual, stats.Converged = norm, true
				if rhsNorm > 0 {
					stats.RelResidual = norm / rhsNorm // 0 when not asked for
				}
				return stats, nil
			}
			if stats.Iterations > 0 && norm > target && norm > restart/2 {
				st, err := fail("rounding keeps the residual from falling further; ask for less")
				err.Rounding = true
				return st, err
			}
			restart, fresh = norm, true
		}
		if !(norm <= math.MaxFloat64) {
			return fail("a number overflowed or is not a number; check the right-hand side and the initial guess")
		}
		if stats.Iterations == s.opt.MaxIterations {
			return fail("the limit of iterations was reached")
		}
		if fresh {
			s.argScale = 1 / norm
			s.crew.do(s.chunks, startKernel, nil)
		}
		sums := s.precondition() // z·r, z·q
		s.argBeta = 0
		if !fresh {
			s.argBeta = -sums[1] / pq
		}
		rz := sums[0]
		fresh = false
		s.crew.do(s.chunks, directionKernel, nil)
		pq = s.sum(applyFineKernel)[0]
		if !(rz > 0) || !(pq > 0) {
			return fail("the search direction broke down")
		}
		alpha = rz / pq
		s.argAlpha, s.argScale = alpha, 1/norm
		norm, truth = math.Sqrt(s.sum(stepKernel)[0]), false
		stats.Iterations++
	}
}

// good tells whether the residual s.r, of this norm, will do.
func (s *Solver) good(norm, target float64, until Until) bool {
	if !(norm <= target) {
		return false
	}
	if until.Off == 0 || norm <= until.Floor {
		return true
	}
	s.crew.do(s.chunks, offKernel, nil)
	most := 0.0
	for _, p := range s.part {
		most = max(most, p[0])
	}
	return most*s.unit <= until.Off
}

// offKernel leaves the largest |r_c| over a_cc·unit.
func offKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.cells(chunk)
	most, inv := 0.0, s.fine.inv[lo:hi]
	for i, v := range s.r[lo:hi] {
		if off := math.Abs(v) * float64(inv[i]); off > most {
			most = off
		}
	}
	s.part[chunk] = [2]float64{most, 0}
}

// precondition sets z ≈ scale/unit · A⁻¹ r by one symmetric multigrid cycle,
// where z holds inv·r·scale at the start, and returns z·r and z·q.
func (s *Solver) precondition() [2]float64 {
	s.crew.do(s.chunks, sweepFineKernel, nil)
	if s.top != nil {
		s.crew.do(s.chunks, leftoverFineKernel, nil)
		s.crew.do(s.top.portions, gatherKernel, s.top)
		s.top.visit(s)
		s.top.argFiner = s.z[edge:]
		s.crew.do(s.top.portions, spreadKernel, s.top)
	}
	s.crew.do(s.chunks, returnBlackKernel, nil)
	return s.sum(returnRedKernel)
}

func (s *Solver) rows(chunk int) (lo, hi int) {
	if s.blocks > 1 {
		block, k, ny := chunk/s.op.NZ, chunk%s.op.NZ, s.op.NY
		return k*ny + block*ny/s.blocks, k*ny + (block+1)*ny/s.blocks
	}
	lo = chunk * s.rowsPer
	return lo, min(lo+s.rowsPer, s.op.NY*s.op.NZ)
}

func (s *Solver) cells(chunk int) (lo, hi int) {
	lo, hi = s.rows(chunk)
	return lo * s.op.NX, hi * s.op.NX
}

// sum runs a kernel that leaves partial sums and adds these up in order.
func (s *Solver) sum(run kernel) (total [2]float64) {
	s.crew.do(s.chunks, run, nil)
	for _, p := range s.part {
		total[0] += p[0]
		total[1] += p[1]
	}
	return total
}

func rhsKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.cells(chunk)
	a := 0.0
	for _, v := range s.argRhs[lo:hi] {
		a += v * v
	}
	s.part[chunk] = [2]float64{a, 0}
}

func residualKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.rows(chunk)
	s.part[chunk] = [2]float64{s.op.residualRows(s.r, s.argRhs, s.argDst, s.zeros, s.product[chunk], lo, hi), 0}
}

func applyFineKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.rows(chunk)
	s.part[chunk] = [2]float64{s.op.applyRows(s.q, s.p, s.zeros, lo, hi), 0}
}

func directionKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.cells(chunk)
	direction(s.p[lo:hi], s.z[lo+edge:hi+edge], s.argBeta)
}

func stepKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.cells(chunk)
	a := stepArgs{x: s.argDst[lo:hi], r: s.r[lo:hi], p: s.p[lo:hi], q: s.q[lo:hi],
		z: s.z[lo+edge : hi+edge], inv: s.fine.inv[lo:hi], alpha: s.argAlpha, scale: s.argScale}
	s.part[chunk] = [2]float64{a.step(), 0}
}

// startKernel sets z = inv·r·scale, which stepKernel does from then on.
func startKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.cells(chunk)
	z, inv := s.z[lo+edge:hi+edge], s.fine.inv[lo:hi]
	for i, v := range s.r[lo:hi] {
		z[i] = inv[i] * real(v*s.argScale)
	}
}

func couplingsKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.cells(chunk)
	op, m, unit := s.op, s.fine, s.unit
	for _, a := range [3]struct {
		to   []real
		from []float64
	}{{m.x[edge:], op.GX}, {m.y, op.GY}, {m.z, op.GZ}} {
		to := a.to[lo:hi]
		for i, g := range a.from[lo:hi] {
			to[i] = 0
			if g > 0 {
				to[i] = max(real(g*unit), tiny)
			}
		}
	}
}

// invKernel renews the inverse diagonal. It leaves a cell whose Diag is unusable
// and the first one that nothing holds, or -1.
func invKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.cells(chunk)
	op, m, nx, nxy := s.op, s.fine, s.op.NX, s.op.NX*s.op.NY
	bad, singular := -1, -1
	for c := lo; c < hi; c++ {
		d := op.Diag[c]
		if !finiteNonNegative(d) {
			bad = c
		}
		// with the couplings of the preconditioner: its rows must hold together
		d = d*s.unit + float64(m.x[c]) + float64(m.x[c+edge]) + float64(m.y[c]) + float64(m.z[c])
		if c >= nx {
			d += float64(m.y[c-nx])
		}
		if c >= nxy {
			d += float64(m.z[c-nxy])
		}
		m.inv[c] = 0
		if d > 0 {
			m.inv[c] = real(1 / min(max(d, tiny), huge))
		} else if singular < 0 {
			singular = c
		}
	}
	s.part[chunk] = [2]float64{float64(bad), float64(singular)}
}

func sweepFineKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.rows(chunk)
	s.fine.sweepRows(s.z, lo, hi)
}

func leftoverFineKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.rows(chunk)
	s.fine.leftoverRows(s.t, s.z, lo, hi)
}

func returnBlackKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.rows(chunk)
	s.fine.returnBlackRows(s.z, s.r, s.argScale, lo, hi)
}

// returnRedKernel leaves z·r and z·q.
func returnRedKernel(s *Solver, _ *level, chunk int) {
	lo, hi := s.rows(chunk)
	zr, zq := s.fine.returnRedRows(s.z, s.r, s.q, s.argScale, lo, hi)
	s.part[chunk] = [2]float64{zr, zq}
}

// cellOf returns the first cell below aggregate a of level lv.
func (s *Solver) cellOf(lv *level, a int) int {
	var chain []*level
	for l := s.top; l != lv; l = l.next {
		chain = append(chain, l)
	}
	c := int(lv.members[lv.memberStart[a]])
	for e := len(chain) - 1; e >= 0; e-- {
		l := chain[e]
		c = int(l.members[l.memberStart[slices.Index(l.node, int32(c))]])
	}
	return c
}
