package linsolve

// Kernels of the finest level. They work on whole x-rows: row r = k*NY+j holds
// cells r*NX … r*NX+NX-1. A neighbour row that does not exist is replaced by
// the row itself with conductances taken from zeros, so the inner loops need no
// tests in y and z.

// rowNeighbours returns, for array v, the rows at -y, +y, -z, +z of row r; rows
// outside the grid are replaced by row r itself.
func (g Grid) rowNeighbours(v []float64, r int) (ym, yp, zm, zp []float64) {
	nx, ny := g.NX, g.NY
	c, nxy := r*nx, nx*ny
	k := r / ny
	j := r - k*ny
	self := v[c : c+nx]
	ym, yp, zm, zp = self, self, self, self
	if j > 0 {
		ym = v[c-nx : c]
	}
	if j < ny-1 {
		yp = v[c+nx : c+2*nx]
	}
	if k > 0 {
		zm = v[c-nxy : c-nxy+nx]
	}
	if k < g.NZ-1 {
		zp = v[c+nxy : c+nxy+nx]
	}
	return ym, yp, zm, zp
}

// rowConductances returns the conductances of row r towards -y, +y, -z, +z.
func (op *Operator) rowConductances(zeros []float64, r int) (ym, yp, zm, zp []float64) {
	nx, ny := op.NX, op.NY
	c, nxy := r*nx, nx*ny
	ym, zm = zeros, zeros
	if r%ny > 0 {
		ym = op.GY[c-nx : c]
	}
	if r >= ny {
		zm = op.GZ[c-nxy : c-nxy+nx]
	}
	return ym[:nx], op.GY[c : c+nx], zm[:nx], op.GZ[c : c+nx]
}

// applyRows sets dst = A x on rows lo … hi-1 and returns x·A x over them.
func (op *Operator) applyRows(dst, x, zeros []float64, lo, hi int) float64 {
	nx := op.NX
	dot := 0.0
	for r := lo; r < hi; r++ {
		c := r * nx
		xc, out := x[c:c+nx], dst[c:c+nx]
		gx, diag := op.GX[c:c+nx], op.Diag[c:c+nx]
		xym, xyp, xzm, xzp := op.rowNeighbours(x, r)
		gym, gyp, gzm, gzp := op.rowConductances(zeros, r)
		xym, xyp, xzm, xzp = xym[:nx], xyp[:nx], xzm[:nx], xzp[:nx]
		left := 0.0 // flow from cell i-1 into i
		for i, v := range xc {
			right := 0.0
			if i+1 < nx {
				right = gx[i] * (v - xc[i+1])
			}
			a := diag[i]*v + right - left +
				gym[i]*(v-xym[i]) + gyp[i]*(v-xyp[i]) +
				gzm[i]*(v-xzm[i]) + gzp[i]*(v-xzp[i])
			out[i] = a
			dot += a * v
			left = right
		}
	}
	return dot
}

// residualRows sets dst = rhs − A x on rows lo … hi-1 and returns the sum of
// its squares.
func (op *Operator) residualRows(dst, rhs, x, zeros []float64, lo, hi int) float64 {
	nx := op.NX
	sum := 0.0
	for r := lo; r < hi; r++ {
		c := r * nx
		xc, out, b := x[c:c+nx], dst[c:c+nx], rhs[c:c+nx]
		gx, diag := op.GX[c:c+nx], op.Diag[c:c+nx]
		xym, xyp, xzm, xzp := op.rowNeighbours(x, r)
		gym, gyp, gzm, gzp := op.rowConductances(zeros, r)
		xym, xyp, xzm, xzp = xym[:nx], xyp[:nx], xzm[:nx], xzp[:nx]
		left := 0.0
		for i, v := range xc {
			right := 0.0
			if i+1 < nx {
				right = gx[i] * (v - xc[i+1])
			}
			a := b[i] - (diag[i]*v + right - left +
				gym[i]*(v-xym[i]) + gyp[i]*(v-xyp[i]) +
				gzm[i]*(v-xzm[i]) + gzp[i]*(v-xzp[i]))
			out[i] = a
			sum += a * a
			left = right
		}
	}
	return sum
}

// relaxRows sets x_c = (b_c + Σ G x_neighbour)/a_cc in the cells of rows
// lo … hi-1 whose i+j+k is even (colour 0) or odd (colour 1). Cells of one
// colour do not see each other, so the result does not depend on order.
func (op *Operator) relaxRows(x, b, invDiag, zeros []float64, colour, lo, hi int) {
	nx, ny := op.NX, op.NY
	for r := lo; r < hi; r++ {
		c := r * nx
		xc, rhs, inv := x[c:c+nx], b[c:c+nx], invDiag[c:c+nx]
		gx := op.GX[c : c+nx]
		xym, xyp, xzm, xzp := op.rowNeighbours(x, r)
		gym, gyp, gzm, gzp := op.rowConductances(zeros, r)
		xym, xyp, xzm, xzp = xym[:nx], xyp[:nx], xzm[:nx], xzp[:nx]
		for i := (r/ny + r%ny + colour) & 1; i < nx; i += 2 {
			a := rhs[i] + gym[i]*xym[i] + gyp[i]*xyp[i] + gzm[i]*xzm[i] + gzp[i]*xzp[i]
			if i > 0 {
				a += gx[i-1] * xc[i-1]
			}
			if i+1 < nx {
				a += gx[i] * xc[i+1]
			}
			xc[i] = a * inv[i]
		}
	}
}

// startRows is the first half-sweep from x = 0: x_c = b_c/a_cc in the even
// cells, 0 in the odd ones.
func (op *Operator) startRows(x, b, invDiag []float64, lo, hi int) {
	nx, ny := op.NX, op.NY
	for r := lo; r < hi; r++ {
		c := r * nx
		xc, rhs, inv := x[c:c+nx], b[c:c+nx], invDiag[c:c+nx]
		even := (r/ny + r%ny) & 1
		for i := range xc {
			if i&1 == even {
				xc[i] = rhs[i] * inv[i]
			} else {
				xc[i] = 0
			}
		}
	}
}

// leftoverRows sets t to scale times the residual that is left after one
// even-then-odd sweep from zero. It vanishes in odd cells; in even ones
// b − a_cc·x_c is zero, which leaves what has flowed in since: Σ G x_odd.
func (op *Operator) leftoverRows(t []real, x, zeros []float64, scale float64, lo, hi int) {
	nx, ny := op.NX, op.NY
	for r := lo; r < hi; r++ {
		c := r * nx
		xc, out, gx := x[c:c+nx], t[c:c+nx], op.GX[c:c+nx]
		xym, xyp, xzm, xzp := op.rowNeighbours(x, r)
		gym, gyp, gzm, gzp := op.rowConductances(zeros, r)
		xym, xyp, xzm, xzp = xym[:nx], xyp[:nx], xzm[:nx], xzp[:nx]
		even := (r/ny + r%ny) & 1
		for i := range out {
			if i&1 != even {
				out[i] = 0
				continue
			}
			a := gym[i]*xym[i] + gyp[i]*xyp[i] + gzm[i]*xzm[i] + gzp[i]*xzp[i]
			if i > 0 {
				a += gx[i-1] * xc[i-1]
			}
			if i+1 < nx {
				a += gx[i] * xc[i+1]
			}
			out[i] = real(a * scale)
		}
	}
}
