package infer

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// linear is the model of the problem around z: residuals r + J·d for a move d.
type linear struct {
	e       *evaluator
	z, r, j []float64 // j row-major, M x N
}

// information adds the weighed rows of the residuals to h: h += Σ wᵢjᵢjᵢᵀ.
func information(h *mat.SymDense, j []float64, weights []float64) {
	n := h.SymmetricDim()
	for i, w := range weights {
		if w == 0 {
			continue
		}
		row := j[i*n : (i+1)*n]
		for a := range n {
			if row[a] == 0 {
				continue
			}
			for b := a; b < n; b++ {
				h.SetSym(a, b, h.At(a, b)+w*row[a]*row[b])
			}
		}
	}
}

// predict returns the signed residuals after a move d.
func (l *linear) predict(d []float64) []float64 {
	n := len(l.z)
	out := slices.Clone(l.r)
	for i := range out {
		for k, v := range l.j[i*n : (i+1)*n] {
			out[i] += v * d[k]
		}
	}
	return out
}

// costAfter is the cost the model gives after a move d.
func (l *linear) costAfter(d []float64) float64 { return l.e.cost(plus(l.z, d), l.predict(d)) }

// sameEnd is by how much a one-sided residual may still move when the passes end, in standard deviations.
const sameEnd = 1e-8

// step returns the damped move and the decrease of cost the model promises for it. It solves
//
//	min over d of  cost(z + d, r + J d) + ½λ dᵀD d ,  |z + d| <= Bound ,  D = diag(JᵀWJ + I)
//
// by passes: one-sided residuals are taken as weighed squares about where the last pass ended (Newton's method on a convex cost), and
// unknowns are held at their bound or let go. ok is false when the normal matrix overflows.
func (l *linear) step(lambda float64) (d []float64, promised float64, ok bool) {
	n := len(l.z)
	ends := l.r // signed residuals after the move
	weights := make([]float64, len(ends))
	held := make([]int8, n) // -1, +1: held at that bound
	d = make([]float64, n)
	for range 3*n + 20 {
		h := mat.NewSymDense(n, nil)
		g := slices.Clone(l.z) // gradient at d = 0
		for i, end := range ends {
			w, target := l.e.about(i, end)
			weights[i] = w
			for k, v := range l.j[i*n : (i+1)*n] {
				g[k] += v * w * (l.r[i] - target)
			}
		}
		information(h, l.j, weights)
		for a := range n {
			h.SetSym(a, a, h.At(a, a)+1)
			h.SetSym(a, a, h.At(a, a)*(1+lambda))
		}
		if !solveHeld(h, g, l.z, l.e.o.Bound, held, d) {
			return nil, 0, false
		}
		changed := false
		before := ends
		ends = l.predict(d)
		for i, v := range ends {
			changed = changed || l.e.oneSided[i] && math.Abs(v-before[i]) > sameEnd
		}
		for a := range n {
			switch {
			case held[a] != 0: // let go when the cost falls inwards
				slope := g[a]
				for b := range n {
					slope += h.At(a, b) * d[b]
				}
				if slope*float64(held[a]) > 0 {
					held[a], changed = 0, true
				}
			case l.z[a]+d[a] > l.e.o.Bound:
				held[a], changed = 1, true
			case l.z[a]+d[a] < -l.e.o.Bound:
				held[a], changed = -1, true
			}
		}
		if !changed {
			break
		}
	}
	for a := range d {
		d[a] = clamp(l.z[a]+d[a], l.e.o.Bound) - l.z[a]
	}
	// The passes can come to no end; the model is convex, so a part of the move still descends.
	before := l.e.cost(l.z, l.r)
	for range 20 {
		if promised = before - l.costAfter(d); promised > 0 {
			return d, promised, true
		}
		for a := range d {
			d[a] /= 2
		}
	}
	return d, 0, true
}

// solveHeld solves h·d = -g for the free unknowns, the held ones going to their bound.
func solveHeld(h *mat.SymDense, g, z []float64, bound float64, held []int8, d []float64) bool {
	var free []int
	for a, s := range held {
		if s == 0 {
			free = append(free, a)
		} else {
			d[a] = float64(s)*bound - z[a]
		}
	}
	if len(free) == 0 {
		return true
	}
	hf := mat.NewSymDense(len(free), nil)
	rhs := mat.NewVecDense(len(free), nil)
	for i, a := range free {
		v := -g[a]
		for b, s := range held {
			if s != 0 {
				v -= h.At(a, b) * d[b]
			}
		}
		rhs.SetVec(i, v)
		for k := i; k < len(free); k++ {
			hf.SetSym(i, k, h.At(a, free[k]))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(hf) {
		return false
	}
	x := mat.NewVecDense(len(free), nil)
	// A large condition number only makes the step poorer; the cost judges it.
	if err := chol.SolveVecTo(x, rhs); err != nil {
		if _, poor := err.(mat.Condition); !poor {
			return false
		}
	}
	for i, a := range free {
		d[a] = x.AtVec(i)
	}
	return true
}

func plus(a, b []float64) []float64 {
	out := slices.Clone(a)
	for i := range out {
		out[i] += b[i]
	}
	return out
}

func clamp(v, bound float64) float64 { return min(max(v, -bound), bound) }
