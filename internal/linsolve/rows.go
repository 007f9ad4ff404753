package linsolve

// Kernels of the operator in double precision. They work on whole x-rows: row
// r = k*NY+j holds cells r*NX … r*NX+NX-1. A neighbour row that does not exist
// is replaced by the row itself with conductances taken from zeros, so the inner
// loops need no tests in y and z.

// applyRow is one x-row of x, its neighbours at -y, +y, -z, +z, the conductances
// that lead there, and the row of the result.
type applyRow struct {
	x, xym, xyp, xzm, xzp  []float64
	gx, gym, gyp, gzm, gzp []float64
	diag, out              []float64
}

// set points at row r.
func (a *applyRow) set(op *Operator, dst, x, zeros []float64, r int) {
	nx, ny := op.NX, op.NY
	nxy := nx * ny
	lo := r * nx
	hi := lo + nx
	k := r / ny
	j := r - k*ny
	a.x, a.out = x[lo:hi], dst[lo:hi]
	a.gx, a.gyp, a.gzp, a.diag = op.GX[lo:hi], op.GY[lo:hi], op.GZ[lo:hi], op.Diag[lo:hi]
	a.xym, a.xyp, a.xzm, a.xzp = a.x, a.x, a.x, a.x
	a.gym, a.gzm = zeros[:nx], zeros[:nx]
	if j > 0 {
		a.xym, a.gym = x[lo-nx:hi-nx], op.GY[lo-nx:hi-nx]
	}
	if j < ny-1 {
		a.xyp = x[lo+nx : hi+nx]
	}
	if k > 0 {
		a.xzm, a.gzm = x[lo-nxy:hi-nxy], op.GZ[lo-nxy:hi-nxy]
	}
	if k < op.NZ-1 {
		a.xzp = x[lo+nxy : hi+nxy]
	}
}

// cells computes cells from … to-1 of the row and returns their part of x·A x.
func (a *applyRow) cells(from, to int) float64 {
	x, gx, diag, out := a.x[:to], a.gx[:to], a.diag[:to], a.out[:to]
	xym, xyp, xzm, xzp := a.xym[:to], a.xyp[:to], a.xzm[:to], a.xzp[:to]
	gym, gyp, gzm, gzp := a.gym[:to], a.gyp[:to], a.gzm[:to], a.gzp[:to]
	dot := 0.0
	left := 0.0 // flow from cell i-1 into i
	if from > 0 && from < to {
		left = gx[from-1] * (x[from-1] - x[from])
	}
	for i := from; i < to; i++ {
		v := x[i]
		right := 0.0
		if i+1 < len(a.x) {
			right = gx[i] * (v - a.x[i+1])
		}
		s := diag[i]*v + right - left +
			gym[i]*(v-xym[i]) + gyp[i]*(v-xyp[i]) +
			gzm[i]*(v-xzm[i]) + gzp[i]*(v-xzp[i])
		out[i] = s
		dot += s * v
		left = right
	}
	return dot
}

// whole computes the row and returns its part of x·A x.
func (a *applyRow) whole() float64 {
	nx := len(a.x)
	if !vector || nx < 6 {
		return a.cells(0, nx)
	}
	// The first and the last cell have no neighbour on one side.
	end := 1 + (nx-2)&^3
	return a.cells(0, 1) + applyCells4(a, 1, end) + a.cells(end, nx)
}

// applyRows sets dst = A x on rows lo … hi-1 and returns x·A x over them.
func (op *Operator) applyRows(dst, x, zeros []float64, lo, hi int) float64 {
	var a applyRow
	dot := 0.0
	for r := lo; r < hi; r++ {
		a.set(op, dst, x, zeros, r)
		dot += a.whole()
	}
	return dot
}

// residualRows sets dst = rhs − A x on rows lo … hi-1 and returns the sum of
// its squares. product is room for one row.
func (op *Operator) residualRows(dst, rhs, x, zeros, product []float64, lo, hi int) float64 {
	nx := op.NX
	var a applyRow
	sum := 0.0
	for r := lo; r < hi; r++ {
		a.set(op, dst, x, zeros, r)
		a.out = product[:nx]
		a.whole()
		out, b := dst[r*nx:(r+1)*nx], rhs[r*nx:(r+1)*nx]
		for i, v := range a.out {
			d := b[i] - v
			out[i] = d
			sum += d * d
		}
	}
	return sum
}
