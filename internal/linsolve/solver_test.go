package linsolve

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// jacobiCG is the slow, obvious twin: conjugate gradients with the diagonal as
// preconditioner (Barrett et al., "Templates for the Solution of Linear
// Systems", SIAM 1994, fig. 2.5; from memory).
func jacobiCG(op *Operator, x, rhs []float64, tol float64, most int) int {
	n := len(x)
	r, p, q, z := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	diag := make([]float64, n)
	for c := range n {
		var cols [6]int32
		var w [6]float64
		diag[c] = op.Diag[c]
		for _, v := range w[:op.faces(int32(c), cols[:], w[:])] {
			diag[c] += v
		}
	}
	op.Residual(r, rhs, x)
	dot := func(a, b []float64) (s float64) {
		for i := range a {
			s += a[i] * b[i]
		}
		return s
	}
	goal := tol * norm(rhs)
	old := 0.0
	for it := range most {
		if norm(r) <= goal {
			return it
		}
		for i := range z {
			z[i] = r[i] / diag[i]
		}
		rz := dot(r, z)
		beta := 0.0
		if it > 0 {
			beta = rz / old
		}
		old = rz
		for i := range p {
			p[i] = z[i] + beta*p[i]
		}
		op.Apply(q, p)
		alpha := rz / dot(p, q)
		for i := range x {
			x[i] += alpha * p[i]
			r[i] -= alpha * q[i]
		}
	}
	return most
}

func solve(t testing.TB, op *Operator, rhs []float64, tol float64) ([]float64, Stats) {
	t.Helper()
	s, err := New(op, Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, op.Cells())
	st, err := s.Solve(x, rhs, Until{RelNorm: tol})
	if err != nil {
		t.Fatal(err)
	}
	return x, st
}

// Iteration counts are deterministic. A bound that breaks means that the
// aggregates bridge a weak coupling, or that the cycle is no longer symmetric.
func TestHardCases(t *testing.T) {
	for _, h := range hardCases {
		t.Run(h.name, func(t *testing.T) { testHard(t, h) })
		if vector {
			t.Run(h.name+", without vector kernels", func(t *testing.T) {
				vector = false
				defer func() { vector = true }()
				testHard(t, h)
			})
		}
	}
}

func testHard(t *testing.T, h hard) {
	op := h.op()
	x, st := solve(t, op, noise(op.Cells()), 1e-8)
	if st.Iterations > h.most {
		t.Errorf("%d iterations, bound %d", st.Iterations, h.most)
	}
	rhs := noise(op.Cells())
	if got := op.Residual(make([]float64, len(x)), rhs, x); got > 1e-8*norm(rhs) || got != st.Residual && math.Abs(got-st.Residual) > 1e-6*got {
		t.Errorf("residual %g, stats say %g, rhs %g", got, st.Residual, norm(rhs))
	}
}

// Both stop at a residual of 1e-11; the two solutions may differ by that times
// the condition (about 1e5 here, Diag being capacity over a short step).
func TestAgreesWithJacobiCG(t *testing.T) {
	op := sealedDevice(16).operator(2e6/10, 5)
	rhs := powered(op)
	got, st := solve(t, op, rhs, 1e-11)
	want := make([]float64, len(got))
	its := jacobiCG(op, want, rhs, 1e-11, 20000)
	if its == 20000 || its < 2*st.Iterations {
		t.Fatalf("twin took %d iterations, multigrid %d", its, st.Iterations)
	}
	size := 0.0
	for _, v := range want {
		size = max(size, math.Abs(v))
	}
	for c := range got {
		if math.Abs(got[c]-want[c]) > 1e-6*size {
			t.Fatalf("cell %d: %v, twin %v", c, got[c], want[c])
		}
	}
}

// The Laplacian of a cube whose faces all lie half a cell from value 0 … here
// the simpler one with value 0 one whole cell beyond the ends has eigenvectors
// sin(iπp/(n+1)) and eigenvalues 4 sin²(pπ/2(n+1)) per direction (Strang,
// "Introduction to Applied Mathematics", Wellesley 1986; from memory), so that
// A⁻¹v = v/λ.
func TestPoissonEigenvectors(t *testing.T) {
	for _, g := range []Grid{{31, 1, 1}, {1, 23, 1}, {1, 1, 40}, {19, 24, 1}, {1, 15, 16}, {14, 1, 9}, {13, 11, 12}} {
		for _, mode := range [][3]int{{1, 1, 1}, {2, 3, 1}, {5, 4, 7}, {9, 10, 8}} {
			n := g.Cells()
			op := &Operator{Grid: g, GX: make([]float64, n), GY: make([]float64, n), GZ: make([]float64, n), Diag: make([]float64, n)}
			v := make([]float64, n)
			lambda := 0.0
			size := [3]int{g.NX, g.NY, g.NZ}
			for d := range 3 {
				if size[d] > 1 {
					lambda += 4 * math.Pow(math.Sin(float64(mode[d])*math.Pi/2/float64(size[d]+1)), 2)
				}
			}
			for c := range n {
				at := [3]int{}
				at[0], at[1], at[2] = g.Coordinates(c)
				v[c] = 1
				for d, face := range [][]float64{op.GX, op.GY, op.GZ} {
					if size[d] == 1 {
						continue
					}
					v[c] *= math.Sin(float64((at[d]+1)*mode[d]) * math.Pi / float64(size[d]+1))
					if at[d] == 0 {
						op.Diag[c]++
					}
					if at[d] == size[d]-1 {
						op.Diag[c]++
					} else {
						face[c] = 1
					}
				}
			}
			x, _ := solve(t, op, v, 1e-12)
			for c := range x {
				// 1e-12 times the condition of at most (2·40/π)² = 650.
				if math.Abs(x[c]*lambda-v[c]) > 1e-9 {
					t.Fatalf("%v mode %v: λ·x[%d] = %v, want %v", g, mode, c, x[c]*lambda, v[c])
				}
			}
		}
	}
}

// A wall of layers between a held value and a flow: series resistances give the
// value in every cell (Incropera & DeWitt, composite wall; from memory).
func TestSeriesResistances(t *testing.T) {
	const nx, ny, nz = 6, 5, 40
	b := newBox(nx, ny, nz, 1e-3, 1e-3, 1e-3)
	for k := range nz {
		b.fill(0, nx, 0, ny, k, k+1, []float64{390, 0.026, 0.2, 200}[k/10])
	}
	op := b.operator(0, 0)
	op.cut(19, 1e-4)
	rhs := make([]float64, op.Cells())
	for c := range nx * ny {
		op.Diag[c] = 2e-5 // to the held value 0
		rhs[len(rhs)-1-c] = 1e-3
	}
	// Rounding alone leaves a residual of about 2e-8 of rhs here: 1e-16 of the
	// metal's conductance times values of 1e5.
	x, _ := solve(t, op, rhs, 1e-7)
	want := 1e-3 / 2e-5
	for k := range nz {
		if k > 0 {
			want += 1e-3 / op.GZ[(k-1)*nx*ny]
		}
		for c := k * nx * ny; c < (k+1)*nx*ny; c++ {
			if math.Abs(x[c]-want) > 1e-5*want { // residual 5e-10 over the 2e-5 that holds a column of value 50
				t.Fatalf("layer %d: %v, want %v", k, x[c], want)
			}
		}
	}
}

// The two-level part of the cycle is linear only when each level is visited
// once, so symmetry is checked with the second visits switched off.
func TestCycleIsSymmetric(t *testing.T) {
	for _, h := range hardCases {
		t.Run(h.name, func(t *testing.T) {
			op := h.op()
			s, err := New(op, Options{Workers: 1})
			if err != nil {
				t.Fatal(err)
			}
			for lv := s.top; lv != nil; lv = lv.next {
				lv.repeat = false
			}
			n := op.Cells()
			x, y := noise(n), powered(op)
			slices.Reverse(x)
			y[n/3] += 1
			precondition := func(v []float64) []float64 {
				copy(s.r, v)
				size := norm(v)
				s.argScale = 1 / size
				s.crew.do(s.chunks, startKernel, nil)
				s.precondition()
				z := make([]float64, n)
				for c := range z {
					z[c] = float64(s.z[edge+c]) * size
				}
				return z
			}
			mx, my := precondition(x), precondition(y)
			var xmy, ymx, xmx, ymy float64
			for c := range n {
				xmy += x[c] * my[c]
				ymx += y[c] * mx[c]
				xmx += x[c] * mx[c]
				ymy += y[c] * my[c]
			}
			if xmx <= 0 || ymy <= 0 {
				t.Fatalf("not positive: %g %g", xmx, ymy)
			}
			// Single precision on the coarse levels: some 1e-7 of the energies.
			if math.Abs(xmy-ymx) > 1e-5*math.Sqrt(xmx*ymy) {
				t.Errorf("<x,My> = %g, <Mx,y> = %g, energies %g %g", xmy, ymx, xmx, ymy)
			}
		})
	}
}

func TestSameResultForAnyWorkers(t *testing.T) {
	op := sealedDevice(32).operator(0, 5)
	rhs := noise(op.Cells())
	var first []float64
	for _, workers := range []int{1, 2, 3, 8} {
		s, err := New(op, Options{Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, op.Cells())
		if _, err := s.Solve(x, rhs, Until{RelNorm: 1e-8}); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = x
		} else if !slices.Equal(first, x) {
			t.Errorf("%d workers: not the same numbers", workers)
		}
	}
}

func TestNoAllocations(t *testing.T) {
	for _, workers := range []int{1, 2} {
		op := sealedDevice(16).operator(2e6/10, 5)
		s, err := New(op, Options{Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		rhs, x := powered(op), make([]float64, op.Cells())
		if got := testing.AllocsPerRun(5, func() {
			clear(x)
			if err := s.SetDiag(); err != nil {
				t.Fatal(err)
			}
			if _, err := s.Solve(x, rhs, Until{RelNorm: 1e-8}); err != nil {
				t.Fatal(err)
			}
		}); got != 0 {
			t.Errorf("%d workers: %v allocations per solve", workers, got)
		}
	}
}

// Iterations must hardly grow with the grid: that is what multigrid is for.
func TestGrowth(t *testing.T) {
	for _, tc := range []struct {
		name string
		op   func(n int) *Operator
	}{
		{"uniform, steady", func(n int) *Operator {
			b := newBox(n, n, n, 1e-3, 1e-3, 1e-3)
			b.all(200)
			return b.operator(0, 5)
		}},
		{"cells 1:20", func(n int) *Operator {
			b := newBox(n, n, n, 1e-3, 1e-3, 5e-5)
			b.all(200)
			return b.operator(0, 5)
		}},
		{"plate beside air", func(n int) *Operator {
			b := newBox(n, n, n, 1e-3, 1e-3, 1e-3)
			b.all(0.026)
			b.fill(0, n, 0, n, n/2, n/2+1, 390)
			return b.operator(0, 5)
		}},
	} {
		var its []int
		for _, n := range []int{16, 32, 64} {
			op := tc.op(n)
			_, st := solve(t, op, noise(op.Cells()), 1e-8)
			its = append(its, st.Iterations)
		}
		t.Logf("%s: iterations at 16, 32, 64: %v", tc.name, its)
		if float64(its[2]) > 1.5*float64(its[0]) {
			t.Errorf("%s: iterations at 16, 32, 64: %v", tc.name, its)
		}
	}
}

func TestSetDiagAndSetConductances(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		op := drawOperator(t)
		s, err := New(op, Options{})
		if err != nil {
			t.Fatalf("%v", err)
		}
		rhs, x := noise(op.Cells()), make([]float64, op.Cells())
		check := func() {
			if _, err := s.Solve(x, rhs, Until{RelNorm: 1e-10}); err != nil {
				t.Fatalf("%v", err)
			}
			compareDense(t, op, x, rhs, 1e-4) // as in TestRandomOperatorsAgainstDense
		}
		for c := range op.Diag {
			op.Diag[c] += rapid.Float64Range(0, 10).Draw(t, "more")
		}
		if err := s.SetDiag(); err != nil {
			t.Fatalf("%v", err)
		}
		check()
		for c := range op.GX {
			op.GX[c] *= rapid.SampledFrom([]float64{0, 0.01, 1, 30}).Draw(t, "fx")
			op.GZ[c] *= rapid.SampledFrom([]float64{1e-2, 1}).Draw(t, "fz")
		}
		if err := s.SetConductances(); err != nil {
			t.Fatalf("%v", err)
		}
		check()
	})
}

// Conductances that change a little keep the aggregates, and the coarse levels
// are what they would be if they had been added up from the new ones at once.
func TestSetConductancesKeeps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		op := drawOperator(t)
		s, err := New(op, Options{})
		if err != nil {
			t.Fatalf("%v", err)
		}
		top := s.top
		for _, g := range [][]float64{op.GX, op.GY, op.GZ} {
			for c := range g {
				g[c] *= rapid.Float64Range(0.35, 2.8).Draw(t, "f")
			}
		}
		if err := s.SetConductances(); err != nil {
			t.Fatalf("%v", err)
		}
		if s.top != top {
			t.Fatalf("the aggregates were chosen anew")
		}
		if top != nil {
			checkLumped(t, s, top)
		}
		rhs, x := noise(op.Cells()), make([]float64, op.Cells())
		if _, err := s.Solve(x, rhs, Until{RelNorm: 1e-10}); err != nil {
			t.Fatalf("%v", err)
		}
		compareDense(t, op, x, rhs, 1e-4) // as in TestRandomOperatorsAgainstDense
	})
	// A sealed device whose air conducts more, as when radiation is counted in.
	for _, f := range []float64{1.5, 2.9} {
		b := sealedDevice(32)
		op := b.operator(2e6/10, 5)
		s, err := New(op, Options{})
		if err != nil {
			t.Fatal(err)
		}
		top := s.top
		for c, k := range b.k {
			if k == 0.026 {
				b.k[c] *= f
			}
		}
		*op = *b.operator(2e6/10, 5)
		if err := s.SetConductances(); err != nil || s.top != top {
			t.Fatalf("air times %g: %v, kept %v", f, err, s.top == top)
		}
		rhs, x := noise(op.Cells()), make([]float64, op.Cells())
		kept, err := s.Solve(x, rhs, Until{RelNorm: 1e-8})
		if err != nil {
			t.Fatal(err)
		}
		_, anew := solve(t, op, rhs, 1e-8)
		t.Logf("air times %g: %d iterations, %d with aggregates chosen anew", f, kept.Iterations, anew.Iterations)
		if kept.Iterations > anew.Iterations+3 {
			t.Errorf("air times %g: %d iterations, %d with aggregates chosen anew", f, kept.Iterations, anew.Iterations)
		}
	}
}

// checkLumped adds up the couplings of the first coarse level, the slow way.
func checkLumped(t failer, s *Solver, lv *level) {
	t.Helper()
	type pair struct{ a, b int32 }
	want := map[pair]float64{}
	of := make([]int32, s.op.Cells())
	for a, i := range lv.node {
		for _, c := range lv.members[lv.memberStart[a]:lv.memberStart[a+1]] {
			of[c] = i
		}
	}
	join := func(c, d int, g float64) {
		if g > 0 && of[c] != of[d] {
			want[pair{of[c], of[d]}] += g * s.unit
			want[pair{of[d], of[c]}] += g * s.unit
		}
	}
	for c := range s.op.GX {
		join(c, min(c+1, len(of)-1), s.op.GX[c])
		join(c, min(c+s.op.NX, len(of)-1), s.op.GY[c])
		join(c, min(c+s.op.NX*s.op.NY, len(of)-1), s.op.GZ[c])
	}
	cols, w := make([]int32, lv.maxRow()), make([]float64, lv.maxRow())
	found := 0
	for i := range int32(lv.n) {
		n := lv.row(i, cols, w)
		found += n
		for e, d := range cols[:n] {
			if v := want[pair{i, d}]; !(math.Abs(w[e]-v) <= 1e-6*v) { // single precision
				t.Fatalf("coupling of nodes %d and %d is %v, want %v", i, d, w[e], v)
			}
		}
	}
	if found != len(want) {
		t.Fatalf("%d couplings, want %d", found, len(want))
	}
}

func TestSingular(t *testing.T) {
	zero := func(op *Operator) { clear(op.Diag) }
	plain := func(nx, ny, nz int) *Operator {
		b := newBox(nx, ny, nz, 1e-3, 1e-3, 1e-3)
		b.all(200)
		return b.operator(0, 5)
	}
	for _, tc := range []struct {
		name  string
		op    *Operator
		spoil func(op *Operator)
	}{
		{"one cell", plain(1, 1, 1), zero},
		{"two cells", plain(2, 1, 1), zero},
		{"small", plain(3, 4, 2), zero},
		{"large", plain(20, 20, 20), zero},
		{"an island", plain(12, 12, 12), func(op *Operator) {
			op.cut(5, 0)
			clear(op.Diag[6*144:])
		}},
		{"a lone cell", plain(12, 12, 12), func(op *Operator) {
			c := 5*144 + 5*12 + 5
			op.GX[c], op.GY[c], op.GZ[c], op.GX[c-1], op.GY[c-12], op.GZ[c-144] = 0, 0, 0, 0, 0, 0
		}},
	} {
		tc.spoil(tc.op)
		s, err := New(tc.op, Options{})
		var sing *Singular
		if !errors.As(err, &sing) {
			t.Errorf("%s: New gave %v", tc.name, err)
			continue
		}
		if tc.op.Diag[sing.Cell] != 0 {
			t.Errorf("%s: cell %d is not in the group without Diag", tc.name, sing.Cell)
		}
		n := tc.op.Cells()
		x := make([]float64, n)
		if _, err := s.Solve(x, noise(n), Until{RelNorm: 1e-8}); !errors.As(err, &sing) {
			t.Errorf("%s: Solve gave %v", tc.name, err)
		}
		for c := range tc.op.Diag {
			tc.op.Diag[c] = 1e-3
		}
		if err := s.SetDiag(); err != nil {
			t.Errorf("%s: repaired, still %v", tc.name, err)
		}
		if _, err := s.Solve(x, noise(n), Until{RelNorm: 1e-8}); err != nil {
			t.Errorf("%s: repaired, Solve gave %v", tc.name, err)
		}
	}
}

func TestSolveErrors(t *testing.T) {
	b := newBox(12, 12, 12, 1e-3, 1e-3, 1e-3)
	b.all(200)
	op := b.operator(0, 5)
	n := op.Cells()
	s, err := New(op, Options{MaxIterations: 3})
	if err != nil {
		t.Fatal(err)
	}
	bad := noise(n)
	bad[100] = math.NaN()
	large := noise(n)
	large[7] = 1e300
	for _, tc := range []struct {
		name     string
		x, rhs   []float64
		rel, abs float64
		want     any
	}{
		{"limit", make([]float64, n), noise(n), 1e-8, 0, new(*NotConverged)},
		{"no tolerance", make([]float64, n), noise(n), 0, 0, new(*NotConverged)},
		{"NaN in rhs", make([]float64, n), bad, 1e-8, 0, new(*NotConverged)},
		{"NaN in guess", slices.Clone(bad), noise(n), 1e-8, 0, new(*NotConverged)},
		{"NaN in guess, absolute", slices.Clone(bad), noise(n), 1e-8, 1, new(*NotConverged)},
		{"overflow", make([]float64, n), large, 1e-8, 0, new(*NotConverged)},
		{"short dst", make([]float64, n-1), noise(n), 1e-8, 0, new(*OperatorError)},
		{"short rhs", make([]float64, n), nil, 1e-8, 0, new(*OperatorError)},
		{"NaN tolerance", make([]float64, n), noise(n), math.NaN(), 0, new(*OperatorError)},
		{"negative tolerance", make([]float64, n), noise(n), 1e-8, -1, new(*OperatorError)},
	} {
		st, err := s.Solve(tc.x, tc.rhs, Until{RelNorm: tc.rel, AbsNorm: tc.abs})
		if !errors.As(err, tc.want) || st.Converged {
			t.Errorf("%s: got %v, %+v", tc.name, err, st)
		}
	}
	// The solver is as good as new afterwards.
	x := make([]float64, n)
	if st, err := s.Solve(x, noise(n), Until{RelNorm: 0.1}); err != nil || !st.Converged {
		t.Errorf("after failures: %v", err)
	}
	zero := make([]float64, n)
	if st, err := s.Solve(x, zero, Until{RelNorm: 1e-8}); err != nil || st.Iterations != 0 || norm(x) != 0 {
		t.Errorf("rhs 0: %v %+v |x| = %v", err, st, norm(x))
	}
}

// A bad operator handed over later is refused until it is mended.
func TestSpoiledLater(t *testing.T) {
	op := tinyOperator()
	s, err := New(op, Options{})
	if err != nil {
		t.Fatal(err)
	}
	x, rhs := make([]float64, 12), noise(12)
	refused := func(name string, err error) {
		t.Helper()
		var oe *OperatorError
		if !errors.As(err, &oe) {
			t.Errorf("%s: got %v", name, err)
		}
		if _, err := s.Solve(x, rhs, Until{RelNorm: 1e-8}); !errors.As(err, &oe) {
			t.Errorf("%s: Solve gave %v", name, err)
		}
	}
	diag, good := op.Diag, op.GX[3]
	op.Diag = slices.Clone(diag)
	op.Diag[2] = math.NaN()
	refused("NaN in Diag", s.SetDiag())
	op.Diag = diag[:5]
	refused("short Diag", s.SetDiag())
	op.Diag = diag
	op.GX[3] = -1
	refused("negative conductance", s.SetConductances())
	refused("negative conductance, SetDiag", s.SetDiag())
	op.GX[3] = good
	op.Grid = Grid{3, 4, 1}
	refused("other grid", s.SetConductances())
	op.Grid = Grid{3, 2, 2}
	if err := s.SetConductances(); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Solve(x, rhs, Until{RelNorm: 1e-12}); err != nil {
		t.Fatal(err)
	}
	compareDense(t, op, x, rhs, 1e-10) // condition below 100
}

// Asked for more than double precision can give, the solver says so soon and
// leaves the best there is.
func TestRounding(t *testing.T) {
	op := sealedDevice(16).operator(0, 5)
	s, err := New(op, Options{})
	if err != nil {
		t.Fatal(err)
	}
	x, rhs := make([]float64, op.Cells()), powered(op)
	st, err := s.Solve(x, rhs, Until{RelNorm: 1e-15})
	var nc *NotConverged
	if !errors.As(err, &nc) || !nc.Rounding || st.Converged {
		t.Fatalf("got %v, %+v", err, st)
	}
	if st.RelResidual > 1e-8 || st.Iterations > 100 {
		t.Errorf("%+v", st)
	}
}

// An exact initial guess needs no iteration; a scaled problem the same number.
func TestScaleAndGuess(t *testing.T) {
	for _, f := range []float64{1e-12, 1, 1e9} {
		op := sealedDevice(16).operator(2e6/10, 5)
		for c := range op.GX {
			op.GX[c] *= f
			op.GY[c] *= f
			op.GZ[c] *= f
			op.Diag[c] *= f
		}
		rhs := powered(op)
		x, st := solve(t, op, rhs, 1e-8)
		if st.Iterations > 24 {
			t.Errorf("scale %g: %d iterations", f, st.Iterations)
		}
		s, err := New(op, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if st, err := s.Solve(x, rhs, Until{RelNorm: 1e-7}); err != nil || st.Iterations != 0 {
			t.Errorf("scale %g: from the solution: %v %+v", f, err, st)
		}
	}
}

// Whatever the numbers, a solve ends with a solution that fulfils the equations
// or with an error.
func TestExtremeNumbers(t *testing.T) {
	solved := 0
	rapid.Check(t, func(t *rapid.T) {
		op := drawOperator(t)
		decades := rapid.SampledFrom([]float64{10, 40, 150, 300}).Draw(t, "decades")
		for _, v := range [][]float64{op.GX, op.GY, op.GZ, op.Diag} {
			for c := range v {
				if v[c] > 0 {
					v[c] = math.Pow(10, rapid.Float64Range(-decades, decades).Draw(t, "decade"))
				}
			}
		}
		rhs := noise(op.Cells())
		x := make([]float64, len(rhs))
		s, err := New(op, Options{MaxIterations: 100})
		if err != nil {
			return
		}
		st, err := s.Solve(x, rhs, Until{RelNorm: 1e-6})
		if err != nil {
			if st.Converged {
				t.Fatalf("converged and %v", err)
			}
			return
		}
		solved++
		if r := op.Residual(make([]float64, len(x)), rhs, x); !st.Converged || !(r <= 1.001e-6*norm(rhs)) {
			t.Fatalf("residual %v, %+v", r, st)
		}
	})
	if solved == 0 {
		t.Error("none of the draws was solved")
	}
	t.Logf("%d draws solved", solved)
}
