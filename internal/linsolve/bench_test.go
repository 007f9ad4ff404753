package linsolve

import (
	"fmt"
	"testing"
)

// layered is n³ flat cells (1:20) in sixteen layers that repeat: plates of one
// or two cells beside sealed air, a jump of 1.5e4, with poor contacts between
// some; one implicit step of 10 s.
func layered(n int) *Operator {
	const side, thick, contactWm2K, filmWm2K, stepS = 1e-3, 5e-5, 3000, 8, 10.0
	type layer struct {
		k, rhoC float64
		contact bool
	}
	plastic, air, aluminium := layer{0.2, 1.5e6, false}, layer{0.026, 1.2e3, false}, layer{167, 2.4e6, false}
	copper, board, pad := layer{390, 3.4e6, false}, layer{18, 1.9e6, true}, layer{3, 2.2e6, false}
	joined := func(l layer) layer { l.contact = true; return l }
	stack := [16]layer{plastic, plastic, air, aluminium, joined(aluminium), copper, air, air,
		air, board, pad, joined(aluminium), plastic, air, air, joined(copper)}
	b := newBox(n, n, n, side, side, thick)
	for k := range n {
		b.fill(0, n, 0, n, k, k+1, stack[k%16].k)
	}
	op := b.operator(0, filmWm2K)
	for k := range n {
		l := stack[k%16]
		for c := k * n * n; c < (k+1)*n*n; c++ {
			if l.contact && op.GZ[c] > 0 {
				op.GZ[c] = 1 / (1/op.GZ[c] + 1/(contactWm2K*side*side))
			}
			op.Diag[c] += l.rhoC * side * side * thick / stepS
		}
	}
	return op
}

// BenchmarkLayered is one implicit step from a zero guess to 1e-8.
func BenchmarkLayered(b *testing.B) {
	for _, n := range []int{32, 64, 128, 256} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			op := layered(n)
			rhs, x := noise(op.Cells()), make([]float64, op.Cells())
			benchmarkSolve(b, op, rhs, x)
		})
	}
}

func benchmarkSolve(b *testing.B, op *Operator, rhs, x []float64) {
	s, err := New(op, Options{})
	if err != nil {
		b.Fatal(err)
	}
	its := 0
	for b.Loop() {
		clear(x)
		st, err := s.Solve(x, rhs, Until{RelNorm: 1e-8})
		if err != nil {
			b.Fatal(err)
		}
		its = st.Iterations
	}
	perCell := float64(b.Elapsed().Nanoseconds()) / float64(b.N) / float64(op.Cells())
	b.ReportMetric(float64(its), "iterations")
	b.ReportMetric(perCell, "ns/cell")
	b.ReportMetric(perCell/float64(its), "ns/cell/it")
}

// BenchmarkUniform is one implicit step of aluminium.
func BenchmarkUniform(b *testing.B) {
	for _, n := range []int{32, 64, 128} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			bx := newBox(n, n, n, 1e-3, 1e-3, 1e-3)
			bx.all(200)
			op := bx.operator(2.4e6/1, 5) // steps of 1 s
			benchmarkSolve(b, op, powered(op), make([]float64, op.Cells()))
		})
	}
}

// BenchmarkHard solves the cases of cases_test.go.
func BenchmarkHard(b *testing.B) {
	for _, h := range hardCases {
		b.Run(h.name, func(b *testing.B) {
			op := h.op()
			benchmarkSolve(b, op, noise(op.Cells()), make([]float64, op.Cells()))
		})
	}
}

// BenchmarkSetUp: all of it, after conductances changed a little, after Diag changed.
func BenchmarkSetUp(b *testing.B) {
	for _, n := range []int{32, 64, 128} {
		op := layered(n)
		perCell := func(b *testing.B) {
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(op.Cells()), "ns/cell")
		}
		b.Run(fmt.Sprintf("New/%d", n), func(b *testing.B) {
			for b.Loop() {
				if _, err := New(op, Options{}); err != nil {
					b.Fatal(err)
				}
			}
			perCell(b)
		})
		s, err := New(op, Options{})
		if err != nil {
			b.Fatal(err)
		}
		for _, again := range []struct {
			name string
			set  func() error
		}{{"SetConductances", s.SetConductances}, {"SetDiag", s.SetDiag}} {
			b.Run(fmt.Sprintf("%s/%d", again.name, n), func(b *testing.B) {
				for b.Loop() {
					if err := again.set(); err != nil {
						b.Fatal(err)
					}
				}
				perCell(b)
			})
		}
	}
}
