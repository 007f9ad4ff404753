package linsolve

import "math"

// Grid is the shape of a tensor-product grid. Cell (i,j,k) sits at
// (k*NY+j)*NX+i: i runs fastest. Any of the three may be 1.
type Grid struct{ NX, NY, NZ int }

// Cells returns the number of cells.
func (g Grid) Cells() int { return g.NX * g.NY * g.NZ }

// Coordinates returns the indices of cell c along x, y and z.
func (g Grid) Coordinates(c int) (i, j, k int) {
	return c % g.NX, c / g.NX % g.NY, c / (g.NX * g.NY)
}

// Operator is the symmetric 7-point finite-volume operator
//
//	(A x)_c = Diag_c·x_c + Σ_faces G_face·(x_c − x_neighbour)
//
// Every slice has Grid.Cells() entries, all finite and >= 0. GX[c] is the
// conductance between c and its +x neighbour, zero on the last plane and where
// two cells do not touch; GY and GZ likewise. Diag[c] is what stands on the
// diagonal beside the faces (capacity/dt, conductance to a fixed temperature).
// An inactive cell has no faces and Diag = 1. The unit is the caller's: with G
// and Diag in W/K, x is in K and A x in W.
//
// A is positive definite when every connected group of cells has a positive
// Diag somewhere; otherwise it is singular and the solver says so.
type Operator struct {
	Grid
	GX, GY, GZ, Diag []float64
}

// Apply sets dst = A x. dst must not alias x.
func (op *Operator) Apply(dst, x []float64) {
	zeros := make([]float64, op.NX)
	op.applyRows(dst, x, zeros, 0, op.NY*op.NZ)
}

// Residual sets dst = rhs − A x and returns its Euclidean norm. dst must not
// alias x; it may alias rhs.
func (op *Operator) Residual(dst, rhs, x []float64) float64 {
	zeros, product := make([]float64, op.NX), make([]float64, op.NX)
	return math.Sqrt(op.residualRows(dst, rhs, x, zeros, product, 0, op.NY*op.NZ))
}

// check verifies shape and values of the whole operator.
func (op *Operator) check() error {
	if op.NX < 1 || op.NY < 1 || op.NZ < 1 {
		return &OperatorError{Grid: op.Grid, Cell: -1, What: "each of NX, NY and NZ must be at least 1"}
	}
	// In this order the products cannot overflow.
	if op.NX > math.MaxInt32 || op.NY > math.MaxInt32/op.NX || op.NZ > math.MaxInt32/(op.NX*op.NY) {
		return &OperatorError{Grid: op.Grid, Cell: -1, What: "more cells than a 32-bit index can count"}
	}
	n := op.Cells()
	if len(op.GX) != n || len(op.GY) != n || len(op.GZ) != n || len(op.Diag) != n {
		return &OperatorError{Grid: op.Grid, Cell: -1, What: "GX, GY, GZ and Diag must each hold one value per cell"}
	}
	if err := op.checkConductances(); err != nil {
		return err
	}
	return op.checkDiag()
}

func (op *Operator) checkConductances() error {
	for c := range op.GX {
		if !finiteNonNegative(op.GX[c]) || !finiteNonNegative(op.GY[c]) || !finiteNonNegative(op.GZ[c]) {
			return &OperatorError{Grid: op.Grid, Cell: c, What: "a conductance is negative, infinite or not a number"}
		}
	}
	const beyond = "a conductance leads out of the grid; the last plane must hold zeros"
	nx, ny, nz := op.NX, op.NY, op.NZ
	for c := nx - 1; c < len(op.GX); c += nx {
		if op.GX[c] != 0 {
			return &OperatorError{Grid: op.Grid, Cell: c, What: beyond}
		}
	}
	for k := range nz {
		for c := (k*ny + ny - 1) * nx; c < (k+1)*ny*nx; c++ {
			if op.GY[c] != 0 {
				return &OperatorError{Grid: op.Grid, Cell: c, What: beyond}
			}
		}
	}
	for c := (nz - 1) * ny * nx; c < len(op.GZ); c++ {
		if op.GZ[c] != 0 {
			return &OperatorError{Grid: op.Grid, Cell: c, What: beyond}
		}
	}
	return nil
}

func (op *Operator) checkDiag() error {
	for c, d := range op.Diag {
		if !finiteNonNegative(d) {
			return &OperatorError{Grid: op.Grid, Cell: c, What: "Diag is negative, infinite or not a number"}
		}
	}
	return nil
}

func finiteNonNegative(v float64) bool { return v >= 0 && v <= math.MaxFloat64 }

// faces writes the connected neighbours of cell c and their conductances into
// cols and w (room for 6) and returns how many there are.
func (op *Operator) faces(c int32, cols []int32, w []float64) int {
	nx, nxy := int32(op.NX), int32(op.NX*op.NY)
	n := 0
	// A face that leads out of the grid has conductance 0 (checked), so only
	// the ends of the whole array need care.
	if g := op.GX[c]; g > 0 {
		cols[n], w[n] = c+1, g
		n++
	}
	if g := op.GY[c]; g > 0 {
		cols[n], w[n] = c+nx, g
		n++
	}
	if g := op.GZ[c]; g > 0 {
		cols[n], w[n] = c+nxy, g
		n++
	}
	if c >= 1 && op.GX[c-1] > 0 {
		cols[n], w[n] = c-1, op.GX[c-1]
		n++
	}
	if c >= nx && op.GY[c-nx] > 0 {
		cols[n], w[n] = c-nx, op.GY[c-nx]
		n++
	}
	if c >= nxy && op.GZ[c-nxy] > 0 {
		cols[n], w[n] = c-nxy, op.GZ[c-nxy]
		n++
	}
	return n
}
