package infer

import (
	"slices"

	"gonum.org/v1/gonum/mat"
)

// linear is the model of the problem around z: residuals r + J·d for a move d, one-sided ones cut at zero.
type linear struct {
	e       *evaluator
	z, r, j []float64 // j row-major, M x N
}

// information adds the rows of the used residuals to h: h += Σ jᵢjᵢᵀ.
func information(h *mat.SymDense, j []float64, used []bool) {
	n := h.SymmetricDim()
	for i, on := range used {
		if !on {
			continue
		}
		row := j[i*n : (i+1)*n]
		for a := range n {
			if row[a] == 0 {
				continue
			}
			for b := a; b < n; b++ {
				h.SetSym(a, b, h.At(a, b)+row[a]*row[b])
			}
		}
	}
}

// used lists the residuals that count at signed values r.
func (l *linear) used(r []float64) []bool {
	on := make([]bool, len(r))
	for i, v := range r {
		on[i] = l.e.counts(i, v)
	}
	return on
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

// step returns the damped move and the decrease of cost the model promises for it. It solves
//
//	min over d of  ½|(r + J d)₊|² + ½|z + d|² + ½λ dᵀD d ,  |z + d| <= Bound ,  D = diag(JᵀJ + I)
//
// by passes over the set of one-sided residuals that count after the move and the set of unknowns held at their bound. ok is false
// when the normal matrix overflows.
func (l *linear) step(lambda float64) (d []float64, promised float64, ok bool) {
	n := len(l.z)
	on := l.used(l.r)
	held := make([]int8, n) // -1, +1: held at that bound
	d = make([]float64, n)
	for range 3*n + 20 {
		h := mat.NewSymDense(n, nil)
		information(h, l.j, on)
		g := slices.Clone(l.z) // gradient at d = 0
		for i, use := range on {
			if use {
				for k, v := range l.j[i*n : (i+1)*n] {
					g[k] += v * l.r[i]
				}
			}
		}
		for a := range n {
			h.SetSym(a, a, h.At(a, a)+1)
			h.SetSym(a, a, h.At(a, a)*(1+lambda))
		}
		if !solveHeld(h, g, l.z, l.e.o.Bound, held, d) {
			return nil, 0, false
		}
		changed := false
		for i, v := range l.predict(d) {
			if use := l.e.counts(i, v); use != on[i] {
				on[i], changed = use, true
			}
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
	// The passes can end in a cycle; the model is convex, so a part of the move still descends.
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
