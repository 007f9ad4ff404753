package linsolve

// Relaxation of the finest level, in single precision: red-black Gauss-Seidel,
// one sweep before the coarse correction and the mirrored one after. Red cells
// are those with i+j+k even; neither colour sees itself, so a result does not
// depend on order.

// stencil is the operator in single precision, conductances times unit.
type stencil struct {
	Grid
	// Couplings as Operator.GX and so on, after one cell more that is zero: the
	// coupling between cells c and c+1 is at c+1.
	x, y, z []real
	inv     []real // 1/(a_cc·unit)
	none    []real // one row of zeros
}

const edge = 1 // cells before the first one in stencil.x and in Solver.z

func newStencil(g Grid) *stencil {
	n := g.Cells()
	return &stencil{Grid: g, x: stagger[real](edge+n, 6), y: stagger[real](n, 7), z: stagger[real](n, 0),
		inv: stagger[real](n, 1), none: make([]real, g.NX)}
}

// relaxRow is one x-row of z with its neighbours at -y, +y, -z, +z and the
// couplings that lead there. A neighbour row that does not exist is the row
// itself, coupled by zeros.
type relaxRow struct {
	z              []real // starts one cell before the row and ends one after
	ym, yp, zm, zp []real
	cx             []real // starts with the coupling before the first cell
	cym, cyp       []real
	czm, czp       []real
	inv, t         []real
	r, q           []float64
	scale          float64 // z's scale: it approximates scale/unit · A⁻¹ r
}

// set points at row r of z, which has edge cells more at both ends. It returns
// the first red cell of the row, 0 or 1.
func (a *relaxRow) set(m *stencil, z []real, r int) (red int) {
	nx, ny := m.NX, m.NY
	nxy := nx * ny
	lo := r * nx
	hi := lo + nx
	k := r / ny
	j := r - k*ny
	a.z, a.cx, a.inv = z[lo:hi+2*edge], m.x[lo:hi+edge], m.inv[lo:hi]
	a.cyp, a.czp = m.y[lo:hi], m.z[lo:hi]
	z = z[edge:]
	own := z[lo:hi]
	a.ym, a.yp, a.zm, a.zp = own, own, own, own
	a.cym, a.czm = m.none, m.none
	if j > 0 {
		a.ym, a.cym = z[lo-nx:hi-nx], m.y[lo-nx:hi-nx]
	}
	if j < ny-1 {
		a.yp = z[lo+nx : hi+nx]
	}
	if k > 0 {
		a.zm, a.czm = z[lo-nxy:hi-nxy], m.z[lo-nxy:hi-nxy]
	}
	if k < m.NZ-1 {
		a.zp = z[lo+nxy : hi+nxy]
	}
	return (j + k) & 1
}

// faces is the sum of coupling·neighbour over the faces of cell i.
func (a *relaxRow) faces(i int) real {
	return (a.cx[i]*a.z[i] + a.cym[i]*a.ym[i] + a.czm[i]*a.zm[i]) +
		(a.cx[i+1]*a.z[i+2] + a.cyp[i]*a.yp[i] + a.czp[i]*a.zp[i])
}

// lanes holds which of eight cells are active when the first one is, or not.
var lanes = [2][8]uint32{
	{^uint32(0), 0, ^uint32(0), 0, ^uint32(0), 0, ^uint32(0), 0},
	{0, ^uint32(0), 0, ^uint32(0), 0, ^uint32(0), 0, ^uint32(0)},
}

// eights is the part of a row of nx cells that goes eight at a time.
func eights(nx int) int {
	if !vector {
		return 0
	}
	return nx &^ 7
}

// sweepRows finishes the first sweep from zero: z holds inv·b in all cells, and
// black ones gain inv·Σ coupling·z_red.
func (m *stencil) sweepRows(z []real, lo, hi int) {
	var a relaxRow
	n := eights(m.NX)
	for r := lo; r < hi; r++ {
		first := 1 - a.set(m, z, r)
		if n > 0 {
			sweepCells8(&a, &lanes[first], n)
		}
		for i := n + first; i < m.NX; i += 2 {
			a.z[i+edge] += a.inv[i] * a.faces(i)
		}
	}
}

// leftoverRows sets t to the residual after that sweep. It vanishes in black
// cells; in red ones b − a_cc·z is zero, which leaves what has flowed in since:
// Σ coupling·z_black.
func (m *stencil) leftoverRows(t, z []real, lo, hi int) {
	var a relaxRow
	n, nx := eights(m.NX), m.NX
	for r := lo; r < hi; r++ {
		first := a.set(m, z, r)
		a.t = t[r*nx : (r+1)*nx]
		if n > 0 {
			leftoverCells8(&a, &lanes[first], n)
		}
		for i := n; i < nx; i++ {
			a.t[i] = 0
			if (i^first)&1 == 0 {
				a.t[i] = a.faces(i)
			}
		}
	}
}

// returnBlackRows relaxes the black cells: z = inv·(r·scale + Σ coupling·z).
func (m *stencil) returnBlackRows(z []real, res []float64, scale float64, lo, hi int) {
	a := relaxRow{scale: scale}
	n, nx := eights(m.NX), m.NX
	for r := lo; r < hi; r++ {
		first := 1 - a.set(m, z, r)
		a.r = res[r*nx : (r+1)*nx]
		if n > 0 {
			returnCells8(&a, &lanes[first], n)
		}
		for i := n + first; i < nx; i += 2 {
			a.z[i+edge] = a.inv[i] * (real(a.r[i]*scale) + a.faces(i))
		}
	}
}

// returnRedRows does the same to the red cells and sums z·r and z·q over the rows.
func (m *stencil) returnRedRows(z []real, res, q []float64, scale float64, lo, hi int) (zr, zq float64) {
	a := relaxRow{scale: scale}
	n, nx := eights(m.NX), m.NX
	for r := lo; r < hi; r++ {
		first := a.set(m, z, r)
		a.r, a.q = res[r*nx:(r+1)*nx], q[r*nx:(r+1)*nx]
		if n > 0 {
			dr, dq := returnDotCells8(&a, &lanes[first], n)
			zr += dr
			zq += dq
		}
		for i := n; i < nx; i++ {
			if (i^first)&1 == 0 {
				a.z[i+edge] = a.inv[i] * (real(a.r[i]*scale) + a.faces(i))
			}
			v := float64(a.z[i+edge])
			zr += v * a.r[i]
			zq += v * a.q[i]
		}
	}
	return zr, zq
}

// stepArgs are vectors of the step along a direction.
type stepArgs struct {
	x, r, p, q []float64
	z, inv     []real
	alpha      float64
	scale      float64
}

// step sets x += alpha·p, r −= alpha·q and z = inv·(r·scale), and returns r·r.
func (a *stepArgs) step() float64 {
	x, r, p, q, z, inv := a.x, a.r, a.p, a.q, a.z, a.inv
	n := eights(len(x))
	rr := 0.0
	if n > 0 {
		rr = stepCells8(a, n)
	}
	for i := n; i < len(x); i++ {
		x[i] += a.alpha * p[i]
		v := r[i] - a.alpha*q[i]
		r[i] = v
		z[i] = inv[i] * real(v*a.scale)
		rr += v * v
	}
	return rr
}

// direction sets p = z + beta·p. With beta = 0 the old p, whatever it holds,
// stays out.
func direction(p []float64, z []real, beta float64) {
	n := 0
	if beta == 0 {
		for i, v := range z {
			p[i] = float64(v)
		}
		return
	}
	if n = eights(len(p)); n > 0 {
		directionCells8(&p[0], &z[0], beta, n)
	}
	for i := n; i < len(p); i++ {
		p[i] = float64(z[i]) + beta*p[i]
	}
}
