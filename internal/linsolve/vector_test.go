package linsolve

import (
	"math"
	"slices"
	"testing"
)

// The vector kernels and their twins in Go differ by rounding only: one cycle
// from the same residual, one product, one step, and whole solves.
func TestVectorKernelsAgree(t *testing.T) {
	if !vector {
		t.Skip("this machine has no vector kernels")
	}
	defer func() { vector = true }()
	both := func(run func()) {
		for _, v := range []bool{true, false} {
			vector = v
			run()
		}
	}
	compare := func(what string, got [][]float64, tol float64) {
		t.Helper()
		size := 0.0
		for _, v := range got[1] {
			size = max(size, math.Abs(v))
		}
		for i, v := range got[1] {
			if !(math.Abs(got[0][i]-v) <= tol*size) || size == 0 {
				t.Fatalf("%s: entry %d is %v with vector kernels, %v without (largest %v)", what, i, got[0][i], v, size)
			}
		}
	}
	// Rows of every length against eight and four; coarse levels of several colours.
	for nx := 1; nx <= 43; nx++ {
		b := newBox(nx, 11, 9, 1e-3, 1e-3, 3e-4)
		for c := range b.k {
			b.k[c] = []float64{390, 0.026, 0.2, 200, 18, 0.026, 3}[(c*c+c/5)%7]
		}
		op := b.operator(500, 5)
		n := op.Cells()
		var cycle, product, residual, step, sums, answer [][]float64
		both(func() {
			s, err := New(op, Options{Workers: 1})
			if err != nil {
				t.Fatal(err)
			}
			x, rhs := powered(op), noise(n)
			for c := range x {
				x[c] += rhs[n-1-c]
			}
			copy(s.r, rhs)
			copy(s.q, x)
			s.argScale = 1 / norm(rhs)
			s.crew.do(s.chunks, startKernel, nil)
			dots := s.precondition()
			cycle = append(cycle, doubles(s.z[edge:edge+n]))
			s.argDst, s.argRhs, s.argAlpha, s.argBeta = x, rhs, 0.7, 0.3
			copy(s.p, rhs)
			for c := range x {
				s.z[edge+c] = real(x[c]) // from here on, the same numbers go in
			}
			s.crew.do(s.chunks, directionKernel, nil)
			pq := s.sum(applyFineKernel)[0]
			product = append(product, slices.Clone(s.q))
			rr := s.sum(stepKernel)[0]
			step = append(step, slices.Concat(x, s.r, doubles(s.z[edge:edge+n])))
			sums = append(sums, []float64{dots[0] / (norm(rhs) * norm(cycle[0])), dots[1] / (norm(x) * norm(cycle[0])), pq / (norm(rhs) * norm(product[0])), rr / (norm(s.r) * norm(s.r))})
			rr = s.sum(residualKernel)[0]
			residual = append(residual, append(slices.Clone(s.r), math.Sqrt(rr)))
			clear(x)
			if _, err := s.Solve(x, rhs, Until{RelNorm: 1e-10}); err != nil {
				t.Fatal(err)
			}
			answer = append(answer, x)
		})
		// Single precision in the cycle, through several levels.
		compare("cycle", cycle, 1e-5)
		compare("product", product, 1e-14)
		compare("step", step, 1e-6) // z is in single precision
		compare("sums", sums, 1e-5)
		compare("residual", residual, 1e-14)
		compare("answer", answer, 1e-6) // residual of 1e-10 times the condition
	}
}

func doubles(v []real) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = float64(x)
	}
	return out
}
