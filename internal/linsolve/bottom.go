package linsolve

// bottom solves the coarsest level directly. The matrix is kept as couplings w
// and excess d (a_ii = d_i + Σ w_ij) and eliminated in that form, after
// Grassmann, Taksar & Heyman, "Regenerative analysis and steady state
// distributions for Markov chains", Oper. Res. 33 (1985): only positive numbers
// are added, so no digit is lost however small the excess is against the
// couplings (a body that is held by a very weak connection only).
type bottom struct {
	n     int
	w     []float64 // n*n couplings, then factors w_ik/pivot_k below the diagonal
	d     []float64
	pivot []float64
	y     []float64
	cols  []int32 // one row
	ws    []float64
}

func newBottom(n int) *bottom {
	return &bottom{n: n, w: make([]float64, n*n), d: make([]float64, n), pivot: make([]float64, n), y: make([]float64, n),
		cols: make([]int32, n), ws: make([]float64, n)}
}

// factor eliminates the level's matrix.
func (m *bottom) factor(lv *level) {
	n, w := m.n, m.w
	clear(w)
	for i := range n {
		m.d[i] = float64(lv.excess[i])
		k := lv.row(int32(i), m.cols, m.ws)
		for e, j := range m.cols[:k] {
			w[i*n+int(j)] = m.ws[e]
		}
	}
	for k := range n {
		p := m.d[k]
		for j := k + 1; j < n; j++ {
			p += w[k*n+j]
		}
		m.pivot[k] = p
		if p == 0 { // nothing is coupled any more; a singular group, which Solve refuses
			continue
		}
		for i := k + 1; i < n; i++ {
			f := w[k*n+i] / p
			w[i*n+k] = f
			if f == 0 {
				continue
			}
			m.d[i] += f * m.d[k]
			for j := k + 1; j < n; j++ {
				w[i*n+j] += f * w[k*n+j] // the entry (i,i) is never read
			}
		}
	}
}

// solve sets x = A⁻¹ b.
func (m *bottom) solve(x, b []real) {
	n, w, y := m.n, m.w, m.y
	for i := range n {
		a := float64(b[i])
		for k, f := range w[i*n : i*n+i] {
			a += f * y[k]
		}
		y[i] = a
	}
	for i := n - 1; i >= 0; i-- {
		a := y[i]
		for j := i + 1; j < n; j++ {
			a += w[i*n+j] * y[j]
		}
		y[i] = a / m.pivot[i]
		x[i] = real(y[i])
	}
}
