package infer

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// standIn is a quick stand-in for the residuals about a mode: a general quadratic of the scores, through what is known from calls made so
// far. Beyond the linear model at the mode, r(z) = r + J(z - Z), the rest is a Gaussian process of covariance
//
//	k(z, z') = (1 + u)²,   u = Σᵢ sᵢ (zᵢ - Zᵢ)(z'ᵢ - Zᵢ),   sᵢ ∝ |Jᵢ|²,
//
// which is a quadratic whose coefficients are the larger the more an unknown does (Rasmussen & Williams, Gaussian Processes for Machine
// Learning, 2006, §2.1 and §4.2.2). It is only ever drawn from: what it is off by is in the weights.
type standIn struct {
	fit   *Result
	scale []float64 // √sᵢ
	n, m  int
	// r(z) = c + B x + xᵀ A x for each residual, x the scaled distance from the mode: 1 + n + n(n+1)/2 coefficients in a row
	coef [][]float64
}

const (
	standInPoints           = 800     // calls that a stand-in is made from at most, the last ones
	leastScale              = 0.02    // of the largest √sᵢ: an unknown that seems to do nothing may bend
	noiseLeast              = 1e-5    // of the rest's variance, that no quadratic explains; tried from here …
	noiseSteps, noiseFactor = 6, 10.0 // … in so many steps of this factor, by the error of leaving one out
)

// newStandIn fits the residuals at places.
func newStandIn(fit *Result, places, residuals [][]float64) (*standIn, error) {
	from := max(0, len(places)-standInPoints)
	places, residuals = places[from:], residuals[from:]
	s := &standIn{fit: fit, n: len(fit.Z), m: len(fit.raw)}
	if fit.rawJ == nil || len(places) < 2 {
		return nil, errors.New("infer: a stand-in needs derivatives and calls")
	}
	s.scale = make([]float64, s.n)
	top := 0.0
	for i := range s.scale {
		for a := range s.m {
			s.scale[i] = math.Hypot(s.scale[i], fit.rawJ[a*s.n+i])
		}
		top = max(top, s.scale[i])
	}
	if top == 0 {
		return nil, errors.New("infer: no unknown does anything")
	}
	x := make([][]float64, len(places))
	typical := 0.0
	for d, z := range places {
		x[d] = make([]float64, s.n)
		for i, v := range z {
			s.scale[i] = max(s.scale[i], leastScale*top)
			x[d][i] = s.scale[i] * (v - fit.Z[i])
			typical += x[d][i] * x[d][i] / float64(len(places))
		}
	}
	shrink := 1 / math.Sqrt(typical)
	for i := range s.scale {
		s.scale[i] *= shrink
	}
	for d := range x {
		for i := range x[d] {
			x[d][i] *= shrink
		}
	}
	k := mat.NewSymDense(len(x), nil)
	for a := range x {
		for b := a; b < len(x); b++ {
			u := 0.0
			for i, v := range x[a] {
				u += v * x[b][i]
			}
			k.SetSym(a, b, (1+u)*(1+u))
		}
	}
	y := mat.NewDense(len(x), s.m, nil) // beyond the linear model
	for d, r := range residuals {
		for a, v := range r {
			v -= fit.raw[a]
			for i := range s.n {
				v -= fit.rawJ[a*s.n+i] * (places[d][i] - fit.Z[i])
			}
			y.Set(d, a, v)
		}
	}
	var alpha mat.Dense
	least := math.Inf(1)
	for step, noise := 0, noiseLeast; step < noiseSteps; step, noise = step+1, noise*noiseFactor {
		noisy := mat.NewSymDense(len(x), nil)
		noisy.CopySym(k)
		for d := range x {
			noisy.SetSym(d, d, k.At(d, d)+noise*4)
		}
		var chol mat.Cholesky
		var inv mat.SymDense
		var try mat.Dense
		if !chol.Factorize(noisy) || poorOnly(chol.InverseTo(&inv)) != nil || poorOnly(chol.SolveTo(&try, y)) != nil {
			continue
		}
		// what is wrong at each place when it is left out, ibid. eq. 5.12; far ones count little
		missed := 0.0
		for d := range x {
			for a := range s.m {
				e := try.At(d, a) / inv.At(d, d)
				missed += math.Log1p(e * e)
			}
		}
		if missed < least {
			least = missed
			alpha = try
		}
	}
	if math.IsInf(least, 1) {
		return nil, errors.New("infer: no stand-in fits")
	}
	for a := range s.m {
		c := make([]float64, 1+s.n+s.n*(s.n+1)/2)
		c[0] = fit.raw[a]
		for i := range s.n {
			c[1+i] = fit.rawJ[a*s.n+i] / s.scale[i]
		}
		for d := range x { // (1 + x·x_d)² = 1 + 2 x·x_d + (x·x_d)²
			w := alpha.At(d, a)
			c[0] += w
			at := 1 + s.n
			for i, v := range x[d] {
				c[1+i] += 2 * w * v
				c[at] += w * v * v
				for k, o := range x[d][i+1:] {
					c[at+1+k] += 2 * w * v * o
				}
				at += s.n - i
			}
		}
		s.coef = append(s.coef, c)
	}
	return s, nil
}

// residuals sets dst to those at scores z.
func (s *standIn) residuals(z, dst []float64) {
	x := make([]float64, s.n)
	for i, v := range z {
		x[i] = s.scale[i] * (v - s.fit.Z[i])
	}
	for a, c := range s.coef {
		r := c[0]
		for i, v := range x {
			r += c[1+i] * v
		}
		at := 1 + s.n
		for i, v := range x {
			sum := 0.0
			for k, w := range c[at : at+s.n-i] {
				sum += w * x[i+k]
			}
			r += v * sum
			at += s.n - i
		}
		dst[a] = r
	}
}
