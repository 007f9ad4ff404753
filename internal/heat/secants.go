package heat

import "math"

// Secants finds a vector that a map gives back, x = g(x), from what it gave before:
// a multisecant method on all entries at once,
//
//	x' = g − (ΔX + ΔR) γ,   r = g − x,   γ: ‖r − ΔR γ‖ least
//
// with the differences of the latest iterates in the columns of ΔX and ΔR. For a
// linear map it ends after as many iterates as the map has directions, for one
// entry it is the secant. D. G. Anderson, "Iterative procedures for nonlinear
// integral equations", J. ACM 12 (1965) 547-560; in this form H. Fang & Y. Saad,
// "Two classes of multisecant methods", Numer. Linear Algebra Appl. 16 (2009) 197-221.
type Secants struct {
	n, kept int // columns kept, newest first
	has     bool
	x, r    []float64 // the last iterate
	step    []float64 // dst − g
	dX, dR  [][]float64
	q       [][]float64
	tri     [secantDepth][secantDepth]float64 // ΔR = q·tri
	coef    [secantDepth]float64
	used    [secantDepth]int // column of each q
}

const (
	secantDepth = 8
	// A column that is so nearly made of newer ones says nothing but rounding.
	secantLeast = 1e-3
	// A step is at most so many times what the map moves: a map that comes closer
	// to the identity than that has no fixed point worth the name.
	secantMost = 100
)

// NewSecants prepares for vectors of n entries.
func NewSecants(n int) *Secants {
	s := &Secants{n: n, x: make([]float64, n), r: make([]float64, n), step: make([]float64, n)}
	for range secantDepth {
		s.dX, s.dR, s.q = append(s.dX, make([]float64, n)), append(s.dR, make([]float64, n)), append(s.q, make([]float64, n))
	}
	return s
}

// Reset forgets what the map gave.
func (s *Secants) Reset() { s.kept, s.has = 0, false }

// Next learns that the map made g of x and sets dst to what to try next: g at
// first. dst may be g.
func (s *Secants) Next(dst, x, g []float64) {
	if s.has {
		// the oldest column's place goes to the newest
		s.kept = min(s.kept+1, secantDepth)
		last := s.kept - 1
		dx, dr := s.dX[last], s.dR[last]
		copy(s.dX[1:s.kept], s.dX[:last])
		copy(s.dR[1:s.kept], s.dR[:last])
		s.dX[0], s.dR[0] = dx, dr
		for i := range dx {
			dx[i], dr[i] = x[i]-s.x[i], g[i]-x[i]-s.r[i]
		}
	}
	s.has = true
	for i := range s.x {
		s.x[i], s.r[i] = x[i], g[i]-x[i]
	}
	// modified Gram-Schmidt, newest column first
	n := 0
	for j := range s.kept {
		q := s.q[n]
		copy(q, s.dR[j])
		whole := math.Sqrt(dot(q, q))
		for k := range n {
			p := dot(s.q[k], q)
			s.tri[k][n] = p
			for i, v := range s.q[k] {
				q[i] -= p * v
			}
		}
		left := math.Sqrt(dot(q, q))
		if !(left > secantLeast*whole) {
			continue
		}
		s.tri[n][n], s.used[n] = left, j
		for i := range q {
			q[i] /= left
		}
		n++
	}
	for k := n - 1; k >= 0; k-- {
		v := dot(s.q[k], s.r)
		for l := k + 1; l < n; l++ {
			v -= s.tri[k][l] * s.coef[l]
		}
		s.coef[k] = v / s.tri[k][k]
	}
	clear(s.step)
	for k := range n {
		dx, dr, c := s.dX[s.used[k]], s.dR[s.used[k]], s.coef[k]
		for i := range s.step {
			s.step[i] -= c * (dx[i] + dr[i])
		}
	}
	far, off := 0.0, 0.0
	for i, v := range s.step {
		far, off = math.Max(far, math.Abs(v)), math.Max(off, math.Abs(s.r[i]))
	}
	scale := 1.0
	if far > secantMost*off {
		scale = secantMost * off / far
	}
	for i, v := range s.step {
		dst[i] = g[i] + scale*v
	}
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}
