package linsolve

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// dense writes A out from the definition, face by face.
func dense(op *Operator) *mat.SymDense {
	n := op.Cells()
	a := mat.NewSymDense(n, nil)
	add := func(i, j int, v float64) { a.SetSym(i, j, a.At(i, j)+v) }
	join := func(c, d int, g float64) {
		if g != 0 {
			add(c, c, g)
			add(d, d, g)
			add(c, d, -g)
		}
	}
	for c := range n {
		add(c, c, op.Diag[c])
		join(c, c+1, op.GX[c])
		join(c, c+op.NX, op.GY[c])
		join(c, c+op.NX*op.NY, op.GZ[c])
	}
	return a
}

// tinyOperator has 3x2x2 cells, every coefficient different; cell 11 is inactive.
func tinyOperator() *Operator {
	return &Operator{
		Grid: Grid{3, 2, 2},
		GX:   []float64{1, 2, 0, 3, 4, 0, 5, 6, 0, 7, 0, 0},
		GY:   []float64{.1, .2, .3, 0, 0, 0, .4, .5, 0, 0, 0, 0},
		GZ:   []float64{11, 12, 13, 14, 15, 0, 0, 0, 0, 0, 0, 0},
		Diag: []float64{0, 0, 20, 0, 0, 0, 0, 0, 0, 0, 0, 1},
	}
}

func TestMatrixEntryByEntry(t *testing.T) {
	op := tinyOperator()
	// Written by hand from the definition of Operator; -0 where nothing stands.
	want := [][]float64{
		{12.1, -1, 0, -.1, 0, 0, -11, 0, 0, 0, 0, 0},
		{-1, 15.2, -2, 0, -.2, 0, 0, -12, 0, 0, 0, 0},
		{0, -2, 35.3, 0, 0, -.3, 0, 0, -13, 0, 0, 0},
		{-.1, 0, 0, 17.1, -3, 0, 0, 0, 0, -14, 0, 0},
		{0, -.2, 0, -3, 22.2, -4, 0, 0, 0, 0, -15, 0},
		{0, 0, -.3, 0, -4, 4.3, 0, 0, 0, 0, 0, 0},
		{-11, 0, 0, 0, 0, 0, 16.4, -5, 0, -.4, 0, 0},
		{0, -12, 0, 0, 0, 0, -5, 23.5, -6, 0, -.5, 0},
		{0, 0, -13, 0, 0, 0, 0, -6, 19, 0, 0, 0},
		{0, 0, 0, -14, 0, 0, -.4, 0, 0, 21.4, -7, 0},
		{0, 0, 0, 0, -15, 0, 0, -.5, 0, -7, 22.5, 0},
		{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1},
	}
	twin := dense(op)
	x, col := make([]float64, 12), make([]float64, 12)
	for j := range 12 {
		clear(x)
		x[j] = 1
		op.Apply(col, x)
		for i := range 12 {
			if math.Abs(col[i]-want[i][j]) > 1e-14*40 { // sums of up to 7 numbers below 40
				t.Errorf("A[%d][%d] = %v, want %v", i, j, col[i], want[i][j])
			}
			if math.Abs(twin.At(i, j)-want[i][j]) > 1e-14*40 {
				t.Errorf("dense twin [%d][%d] = %v, want %v", i, j, twin.At(i, j), want[i][j])
			}
		}
	}
	rhs := noise(12)
	s, err := New(op, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Solve(x, rhs, Until{RelNorm: 1e-13}); err != nil {
		t.Fatal(err)
	}
	compareDense(t, op, x, rhs, 1e-11) // condition of this matrix: below 100
}

type failer interface {
	Helper()
	Fatalf(string, ...any)
}

// compareDense checks x against gonum's Cholesky solution, relative to its largest value.
func compareDense(t failer, op *Operator, x, rhs []float64, tol float64) {
	t.Helper()
	var chol mat.Cholesky
	if !chol.Factorize(dense(op)) {
		t.Fatalf("the dense twin is not positive definite")
	}
	want := mat.NewVecDense(len(rhs), nil)
	if err := chol.SolveVecTo(want, mat.NewVecDense(len(rhs), rhs)); err != nil {
		t.Fatalf("dense twin: %v", err)
	}
	size := mat.Norm(want, math.Inf(1))
	for c, v := range x {
		if !(math.Abs(v-want.AtVec(c)) <= tol*size) {
			t.Fatalf("x[%d] = %v, dense solution %v (largest %v)", c, v, want.AtVec(c), size)
		}
	}
}

// drawOperator makes any operator that is safely regular: conductances over
// six decades with some faces shut, inactive cells, Diag in some cells.
func drawOperator(t *rapid.T) *Operator {
	g := Grid{rapid.IntRange(1, 7).Draw(t, "nx"), rapid.IntRange(1, 7).Draw(t, "ny"), rapid.IntRange(1, 7).Draw(t, "nz")}
	n := g.Cells()
	op := &Operator{Grid: g, GX: make([]float64, n), GY: make([]float64, n), GZ: make([]float64, n), Diag: make([]float64, n)}
	active := make([]bool, n)
	for c := range active {
		active[c] = rapid.IntRange(0, 9).Draw(t, "active") > 1
	}
	value := rapid.Custom(func(t *rapid.T) float64 {
		if rapid.IntRange(0, 5).Draw(t, "shut") == 0 {
			return 0
		}
		return math.Pow(10, rapid.Float64Range(-3, 3).Draw(t, "decade"))
	})
	for c := range n {
		i, j, k := g.Coordinates(c)
		if !active[c] {
			op.Diag[c] = 1
			continue
		}
		if i+1 < g.NX && active[c+1] {
			op.GX[c] = value.Draw(t, "gx")
		}
		if j+1 < g.NY && active[c+g.NX] {
			op.GY[c] = value.Draw(t, "gy")
		}
		if k+1 < g.NZ && active[c+g.NX*g.NY] {
			op.GZ[c] = value.Draw(t, "gz")
		}
		op.Diag[c] = 1e-2 // keeps every group regular, whatever is shut
		if rapid.IntRange(0, 9).Draw(t, "held") == 0 {
			op.Diag[c] = 1e2
		}
	}
	return op
}

func TestRandomOperatorsAgainstDense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		op := drawOperator(t)
		s, err := New(op, Options{})
		if err != nil {
			t.Fatalf("%v", err)
		}
		rhs, x := noise(op.Cells()), make([]float64, op.Cells())
		x[0] = 3 // an initial guess that is not zero
		if _, err := s.Solve(x, rhs, Until{RelNorm: 1e-10}); err != nil {
			t.Fatalf("%v", err)
		}
		// Condition up to 1e6 (G/Diag about 1e5·6) times the residual of 1e-10; below
		// 1e-11 rounding shows now and then.
		compareDense(t, op, x, rhs, 1e-4)
		if got := op.Residual(make([]float64, len(x)), rhs, x); got > 1e-10*norm(rhs)*(1+1e-9) {
			t.Fatalf("residual %v", got)
		}
	})
}

func norm(v []float64) float64 { return mat.Norm(mat.NewVecDense(len(v), v), 2) }

func TestOperatorErrors(t *testing.T) {
	nan := math.NaN()
	for _, tc := range []struct {
		name  string
		spoil func(op *Operator)
		cell  int
	}{
		{"no cells", func(op *Operator) { op.NY = 0 }, -1},
		{"negative size", func(op *Operator) { op.NX, op.NY = -3, -2 }, -1},
		{"too many cells", func(op *Operator) { op.NX, op.NY, op.NZ = 1<<31, 1<<31, 1<<31 }, -1},
		{"short slice", func(op *Operator) { op.GZ = op.GZ[:11] }, -1},
		{"nil slice", func(op *Operator) { op.Diag = nil }, -1},
		{"negative conductance", func(op *Operator) { op.GX[3] = -1 }, 3},
		{"NaN conductance", func(op *Operator) { op.GY[1] = nan }, 1},
		{"infinite conductance", func(op *Operator) { op.GZ[2] = math.Inf(1) }, 2},
		{"NaN Diag", func(op *Operator) { op.Diag[4] = nan }, 4},
		{"negative Diag", func(op *Operator) { op.Diag[4] = -1e-9 }, 4},
		{"x face leads out", func(op *Operator) { op.GX[5] = 1 }, 5},
		{"y face leads out", func(op *Operator) { op.GY[4] = 1 }, 4},
		{"z face leads out", func(op *Operator) { op.GZ[8] = 1 }, 8},
	} {
		op := tinyOperator()
		tc.spoil(op)
		_, err := New(op, Options{})
		var oe *OperatorError
		if !errors.As(err, &oe) || oe.Cell != tc.cell {
			t.Errorf("%s: got error %v", tc.name, err)
		}
	}
}
