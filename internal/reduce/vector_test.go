package reduce

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// random fills a slice with numbers between -1 and 1.
func random(rng *rand.Rand, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 2*rng.Float64() - 1
	}
	return out
}

// definite is a positive definite matrix as a triangle, and the same for gonum.
func definite(rng *rand.Rand, r int) ([]float64, *mat.SymDense) {
	tri, dense := make([]float64, triangle(r)), mat.NewSymDense(r, nil)
	for range 2 * r {
		v := random(rng, r)
		addOuter(tri, 1, v)
		dense.SymRankOne(dense, 1, mat.NewVecDense(r, v))
	}
	return tri, dense
}

// both runs a check on the vector kernels, where there are any, and on their twins in Go.
func both(t *testing.T, check func(t *testing.T)) {
	was := vector
	defer func() { vector = was }()
	for _, on := range []bool{false, true} {
		if on && !was {
			continue
		}
		vector = on
		name := "Go"
		if on {
			name = "vector"
		}
		t.Run(name, check)
	}
}

// Products and solutions of triangles of all paddings, against gonum's dense Cholesky and products (gonum.org/v1/gonum/mat).
func TestTrianglesAgainstGonum(t *testing.T) {
	both(t, func(t *testing.T) {
		rng := rand.New(rand.NewPCG(4, 4))
		for _, r := range []int{1, 2, 3, 4, 5, 7, 8, 11, 13, 31, 64} {
			tri, dense := definite(rng, r)
			x, y, inv := vectorOf(r), vectorOf(r), vectorOf(r)
			copy(x, random(rng, r))
			multiply(y, tri, x)
			var want mat.VecDense
			want.MulVec(dense, mat.NewVecDense(r, x))
			for i := range y {
				if math.Abs(y[i]-want.AtVec(i)) > 1e-12*float64(r*r) {
					t.Fatalf("%d rows: product %d is %g, want %g", r, i, y[i], want.AtVec(i))
				}
			}
			if got, w := dot(x, y), mat.Dot(mat.NewVecDense(r, x), &want); math.Abs(got-w) > 1e-12*float64(r*r) {
				t.Fatalf("%d rows: inner product %g, want %g", r, got, w)
			}
			if !factor(tri, inv, r) {
				t.Fatalf("%d rows: not definite", r)
			}
			var chol mat.Cholesky
			if !chol.Factorize(dense) {
				t.Fatal("gonum finds it not definite")
			}
			var solved mat.VecDense
			if err := chol.SolveVecTo(&solved, mat.NewVecDense(r, x)); err != nil {
				t.Fatal(err)
			}
			copy(y, x)
			solve(tri, inv, y)
			for i := range y {
				if math.Abs(y[i]-solved.AtVec(i)) > 1e-9*math.Max(1, mat.Norm(&solved, 2)) {
					t.Fatalf("%d rows: solution %d is %g, want %g", r, i, y[i], solved.AtVec(i))
				}
			}
		}
	})
}

// The leading rows of a larger triangle are the smaller one, whatever stands behind them.
func TestFactorOfLeadingRows(t *testing.T) {
	both(t, func(t *testing.T) {
		rng := rand.New(rand.NewPCG(5, 5))
		tri, dense := definite(rng, 14)
		const r = 9
		small, inv := append([]float64(nil), tri[:triangle(r)]...), vectorOf(r)
		if !factor(small, inv, r) {
			t.Fatal("not definite")
		}
		x := vectorOf(r)
		for i := range x {
			x[i] = float64(i + 1)
		}
		want := append([]float64(nil), x...)
		solve(small, inv, x)
		for i := range want {
			sum := 0.0
			for j := range x {
				sum += dense.At(i, j) * x[j]
			}
			if math.Abs(sum-want[i]) > 1e-9 {
				t.Fatalf("row %d gives %g, want %g", i, sum, want[i])
			}
		}
	})
}

func TestNotDefinite(t *testing.T) {
	both(t, func(t *testing.T) {
		for _, bad := range []float64{-1, math.NaN()} {
			tri := make([]float64, triangle(6))
			for i := range 6 {
				tri[at(i)+i] = 1
			}
			tri[at(2)+2] = bad
			if factor(tri, vectorOf(6), 6) {
				t.Fatalf("a diagonal of %g passed for definite", bad)
			}
		}
	})
}

// Terms are summed in single precision: against the sum in double.
func TestCombine(t *testing.T) {
	both(t, func(t *testing.T) {
		rng := rand.New(rand.NewPCG(6, 6))
		for _, n := range []int{0, 1, 5} {
			const chunks = 3
			base, dst := random(rng, chunks*chunk), make([]float64, chunks*chunk)
			terms, f := make([]float32, n*chunks*chunk), make([]float32, n)
			want := append([]float64(nil), base...)
			for q := range f {
				f[q] = rng.Float32()
			}
			for c := range chunks {
				for q := range f {
					for j := range chunk {
						v := rng.Float32()
						terms[(c*n+q)*chunk+j] = v
						want[c*chunk+j] += float64(f[q]) * float64(v)
					}
				}
			}
			combine(dst, base, terms, f, chunks)
			for i, w := range want {
				if math.Abs(dst[i]-w) > 1e-6 {
					t.Fatalf("%d terms: entry %d is %g, want %g", n, i, dst[i], w)
				}
			}
		}
	})
}
