package radiate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Views are the view factors of N surfaces and Far far fields. Row i, at Share[i*(N+Far)], is the hemisphere of surface i: its
// shares that see surfaces 0..N-1 (itself among them) and far fields 0..Far-1. A row adds up to 1.
type Views struct {
	N, Far int
	Share  []float64
}

// NewViews returns views of nothing yet.
func NewViews(n, far int) *Views { return &Views{N: n, Far: far, Share: make([]float64, n*(n+far))} }

// Row is the hemisphere of surface i.
func (v *Views) Row(i int) []float64 {
	w := v.N + v.Far
	return v.Share[i*w : (i+1)*w]
}

// Defect is how far the views are from a possible enclosure: the largest |A_i F_ij - A_j F_ji| as a share of the smaller of the
// two areas, and the largest |1 - sum of a row|. Surfaces without area are left out.
func (v *Views) Defect(areaM2 []float64) (reciprocity, closure float64) {
	for i := range v.N {
		if areaM2[i] == 0 {
			continue
		}
		sum := 0.0
		for j, f := range v.Row(i) {
			sum += f
			if j < i && areaM2[j] > 0 {
				d := math.Abs(areaM2[i]*f-areaM2[j]*v.Row(j)[i]) / math.Min(areaM2[i], areaM2[j])
				reciprocity = math.Max(reciprocity, d)
			}
		}
		closure = math.Max(closure, math.Abs(1-sum))
	}
	return reciprocity, closure
}

// enclosed is what is wrong with areas and views, nil when nothing is.
func (v *Views) enclosed(areaM2 []float64) error {
	if v.N < 0 || v.Far < 0 || len(v.Share) != v.N*(v.N+v.Far) || len(areaM2) != v.N {
		return fmt.Errorf("%d surfaces and %d far fields need %d areas and %d shares, not %d and %d",
			v.N, v.Far, v.N, v.N*(v.N+v.Far), len(areaM2), len(v.Share))
	}
	for i, a := range areaM2 {
		if !(a >= 0) || math.IsInf(a, 1) {
			return fmt.Errorf("surface %d has an area of %g m²: it must be zero or more", i+1, a)
		}
		for j, f := range v.Row(i) {
			if !(f >= 0 && f <= 1+1e-9) {
				return fmt.Errorf("surface %d sees %g of its hemisphere taken up by number %d: a share lies between 0 and 1", i+1, f, j+1)
			}
		}
	}
	return nil
}

// smoothTol is how exactly Smooth closes the views: share of a surface's area.
const smoothTol = 1e-12

// Smooth moves estimated views to the nearest ones that are reciprocal, A_i F_ij = A_j F_ji, and closed: each row adds up to 1.
// No share becomes negative, and none that both sides have as zero becomes more. Rows are taken to be counted from the same
// number of rays each.
//
// Both estimates of an exchange area x = A_i F_ij = A_j F_ji are counts: their variances are A_i x/n and A_j x/n. Their best mean
// is therefore x = (F_ij + F_ji)/(1/A_i + 1/A_j), in which the smaller surface, that has a ray for less area, counts for more;
// its variance is c x/n with 1/c = 1/A_i + 1/A_j (c = A_i for its own share and the far fields, which only row i knows). Then
// the sum over all exchange areas of
//
//	[x ln(x/x0) - x + x0]/c       nearly (x-x0)²/(2 variance) for small changes, but keeps x from going below zero
//
// becomes least under the condition that rows close. This is a convex problem with x = x0 exp[c(λi + λj)]; Newton's method
// finds the multipliers λ.
//
// An error is one of the input. A surface that sees nothing at all is taken to see itself; one without area is left alone,
// and the others are taken not to see it.
func (v *Views) Smooth(areaM2 []float64) error {
	if err := v.enclosed(areaM2); err != nil {
		return err
	}
	if r, c := v.Defect(areaM2); r <= smoothTol && c <= smoothTol {
		return nil
	}
	n, w := v.N, v.N+v.Far
	// unit: the largest area, so that what follows has no dimension
	unit := 0.0
	for _, a := range areaM2 {
		unit = math.Max(unit, a)
	}
	if unit == 0 {
		return nil
	}
	a := make([]float64, n)
	for i := range a {
		a[i] = areaM2[i] / unit
	}
	x0, x, c := make([]float64, n*w), make([]float64, n*w), make([]float64, n*w)
	for i := range n {
		if a[i] == 0 {
			continue
		}
		sum := 0.0
		for j, f := range v.Row(i) {
			k := i*w + j
			switch {
			case j >= n || j == i:
				x0[k], c[k] = a[i]*f, a[i]
			case a[j] > 0:
				c[k] = 1 / (1/a[i] + 1/a[j])
				x0[k] = c[k] * (f + v.Row(j)[i])
			}
			sum += x0[k]
		}
		// a way out where counts leave none, as two plates of unlike area that see only each other: some of itself
		x0[i*w+i] += 1e-10 * a[i]
		if sum == 0 {
			x0[i*w+i] = a[i]
		}
	}
	l := make([]float64, n)
	v.close(l, a, x0, x, c)
	for i := range n {
		if a[i] == 0 {
			continue
		}
		for j := range v.Row(i) {
			v.Row(i)[j] = x[i*w+j] / a[i]
		}
	}
	return nil
}

// close finds the multipliers l that close the rows, and x with them.
func (v *Views) close(l, a, x0, x, c []float64) {
	n, w := v.N, v.N+v.Far
	// The dual function, its least value is sought: sum of x/c over all exchange areas, less sum of a·l.
	evaluate := func(l []float64) (value, worst float64) {
		for i := range n {
			if a[i] == 0 {
				continue
			}
			sum := 0.0
			for j := range w {
				k := i*w + j
				if x0[k] == 0 {
					x[k] = 0
					continue
				}
				lam := l[i]
				if j < n && j != i {
					lam += l[j]
				}
				x[k] = x0[k] * math.Exp(c[k]*lam)
				sum += x[k]
				if j >= i {
					value += x[k] / c[k]
				}
			}
			value -= a[i] * l[i]
			worst = math.Max(worst, math.Abs(sum-a[i])/a[i])
		}
		return value, worst
	}
	value, worst := evaluate(l)
	next := make([]float64, n)
	for step := 0; step < 200 && worst > smoothTol; step++ {
		h := mat.NewSymDense(n, nil)
		g := mat.NewVecDense(n, nil)
		for i := range n {
			if a[i] == 0 {
				h.SetSym(i, i, 1)
				continue
			}
			sum, diag := 0.0, 0.0
			for j := range w {
				k := i*w + j
				sum += x[k]
				diag += c[k] * x[k]
				if j > i && j < n {
					h.SetSym(i, j, c[k]*x[k])
				}
			}
			h.SetSym(i, i, diag*(1+1e-14))
			g.SetVec(i, a[i]-sum)
		}
		var chol mat.Cholesky
		var d mat.VecDense
		if !chol.Factorize(h) {
			for i := range n { // rounding only: a hair on the diagonal makes it definite
				h.SetSym(i, i, h.At(i, i)*(1+1e-9))
			}
			if !chol.Factorize(h) {
				return
			}
		}
		if err := chol.SolveVecTo(&d, g); err != nil && d.Len() == 0 {
			return
		}
		slope := mat.Dot(&d, g)
		for t := 1.0; ; t /= 2 {
			for i := range next {
				next[i] = l[i] + t*d.AtVec(i)
			}
			val, wor := evaluate(next)
			if val <= value-1e-4*t*slope || wor < worst {
				copy(l, next)
				value, worst = val, wor
				break
			}
			if t < 1e-12 { // no better to be had in this arithmetic
				evaluate(l)
				return
			}
		}
	}
}
