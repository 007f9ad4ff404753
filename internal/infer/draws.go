package infer

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Check looks at a candidate draw with more than the linear model, a full run for instance, and tells whether to keep it. To weigh
// by a likelihood w <= 1, keep with that probability.
type Check func(z []float64) (keep bool, err error)

// ErrFewDraws tells that the checks refused nearly every candidate.
var ErrFewDraws = errors.New("infer: nearly every draw was refused: the observations contradict each other or the model")

const (
	pilot         = 400 // candidates that decide between refusing and walking
	leastKept     = 0.1 // below this share of them, walk
	leastBatch    = 48  // points that replace refused ones
	chainSteps    = 60  // steps of the walk between two draws
	checksPerDraw = 50  // candidates shown to the checks for each draw asked for
)

// Draws returns n sets of scores from the posterior linearised at the mode, the same ones for the same seed. The first is the mode
// itself: for means and spreads take the others.
//
// Without one-sided residuals and with no bound touched the others come from N(Z, Cov), spread evenly: antithetic pairs on a Latin
// hypercube (McKay, Beckman & Conover 1979), so that even a dozen of them have nearly the right spread. With them the posterior is
// that Gaussian of the two-sided residuals and the prior, times exp(-½ Σ max(0, rᵢ + Jᵢ·(z-Z))²) over the one-sided ones, within
// the bounds. Even Gaussian candidates are kept with just that probability; where fewer than one in ten would be, the draws come from
// an elliptical slice walk (Murray, Adams & MacKay 2010), which has the same distribution but is less even. Both use the linearised
// residuals only; a Check can add the model itself.
//
// It fails without a covariance (a cancelled search), when a check fails, and with ErrFewDraws (and the draws there are) when the
// checks refuse nearly all.
func Draws(res *Result, n int, seed uint64, checks ...Check) ([][]float64, error) {
	if res == nil || res.Cov == nil {
		return nil, errors.New("infer: no draws without a covariance: the search did not get that far")
	}
	if n < 1 {
		return nil, fmt.Errorf("infer: %d draws asked for: ask for at least one", n)
	}
	next, err := candidates(res, n-1, newRand(seed))
	if err != nil {
		return nil, err
	}
	out := [][]float64{slices.Clone(res.Z)}
	for shown := 0; len(out) < n; shown++ {
		if shown > checksPerDraw*n {
			return out, ErrFewDraws
		}
		z := next()
		keep := true
		for _, check := range checks {
			if keep, err = check(slices.Clone(z)); err != nil {
				return nil, fmt.Errorf("infer: checking a draw: %w", err)
			}
			if !keep {
				break
			}
		}
		if keep {
			out = append(out, z)
		}
	}
	return out, nil
}

// gaussian is N(mean, L Lᵀ) with the one-sided residuals and bounds beside it.
type gaussian struct {
	res  *Result
	mean []float64
	l    mat.TriDense
}

// candidates returns a source of draws, even over runs of about n of them.
func candidates(res *Result, n int, rng *rand.Rand) (func() []float64, error) {
	g, limited, err := newGaussian(res)
	if err != nil {
		return nil, err
	}
	if limited {
		kept := 0
		for _, x := range evenNormals(rng, pilot, len(res.Z)) {
			if rng.Float64() < g.likelihood(g.at(x)) {
				kept++
			}
		}
		if float64(kept) < leastKept*pilot {
			return g.walk(rng), nil
		}
	}
	batch := evenNormals(rng, n, len(res.Z))
	return func() []float64 {
		for {
			if len(batch) == 0 { // some were refused: more of them, fine enough to reach a narrow rest
				batch = evenNormals(rng, max(n, leastBatch), len(res.Z))
			}
			z := g.at(batch[0])
			batch = batch[1:]
			if !limited || rng.Float64() < g.likelihood(z) {
				return z
			}
		}
	}, nil
}

// newGaussian is N(Z, Cov) when nothing limits it, else the Gaussian of prior and two-sided residuals alone:
//
//	H = I + J₂ᵀJ₂ ,  mean = Z - H⁻¹(Z + J₂ᵀr₂)
func newGaussian(res *Result) (g *gaussian, limited bool, err error) {
	n := len(res.Z)
	g = &gaussian{res: res, mean: slices.Clone(res.Z)}
	limited = slices.Contains(res.oneSided, true)
	for _, z := range res.Z {
		limited = limited || math.Abs(z) >= res.bound
	}
	cov := res.Cov
	if limited {
		h := mat.NewSymDense(n, nil)
		two := make([]float64, len(res.raw))
		grad := slices.Clone(res.Z)
		for i, r := range res.raw {
			if !res.oneSided[i] {
				two[i] = 1
				for k, v := range res.rawJ[i*n : (i+1)*n] {
					grad[k] += v * r
				}
			}
		}
		information(h, res.rawJ, two)
		for a := range n {
			h.SetSym(a, a, h.At(a, a)+1)
		}
		var chol mat.Cholesky
		cov = mat.NewSymDense(n, nil)
		if !chol.Factorize(h) || poorOnly(chol.InverseTo(cov)) != nil {
			return nil, false, errors.New("infer: the covariance is not positive: no draws")
		}
		var move mat.VecDense
		move.MulVec(cov, mat.NewVecDense(n, grad))
		for a := range n {
			g.mean[a] -= move.AtVec(a)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		return nil, false, errors.New("infer: the covariance is not positive: no draws")
	}
	chol.LTo(&g.l)
	return g, limited, nil
}

// poorOnly lets a mere warning of a large condition number pass.
func poorOnly(err error) error {
	if _, poor := err.(mat.Condition); poor {
		return nil
	}
	return err
}

// at maps standard normals x to mean + L·x.
func (g *gaussian) at(x []float64) []float64 {
	z := slices.Clone(g.mean)
	for a := range z {
		for b := 0; b <= a; b++ {
			z[a] += g.l.At(a, b) * x[b]
		}
	}
	return z
}

// likelihood is the product of Φ(-rᵢ - Jᵢ·(z-Z)) over the one-sided residuals, zero outside the bounds: between 0 and 1.
func (g *gaussian) likelihood(z []float64) float64 { return math.Exp(g.logLikelihood(z)) }

func (g *gaussian) logLikelihood(z []float64) float64 {
	n := len(z)
	sum := 0.0
	for _, v := range z {
		if math.Abs(v) > g.res.bound {
			return math.Inf(-1)
		}
	}
	for i, one := range g.res.oneSided {
		if !one {
			continue
		}
		r := g.res.raw[i]
		for k, v := range g.res.rawJ[i*n : (i+1)*n] {
			r += v * (z[k] - g.res.Z[k])
		}
		cost, _, _ := NotPassed(r)
		sum -= cost
	}
	return sum
}

// walk samples Gaussian times likelihood from the mode on: each step draws an ellipse through the present point and takes a point of
// it whose likelihood beats a random share of the present one, narrowing towards the present point until it does.
func (g *gaussian) walk(rng *rand.Rand) func() []float64 {
	n := len(g.mean)
	z := slices.Clone(g.res.Z)
	logL := g.logLikelihood(z)
	x := make([]float64, n)
	step := func() {
		for i := range x {
			x[i] = rng.NormFloat64()
		}
		nu := g.at(x)
		floor := logL - rng.ExpFloat64()
		angle := 2 * math.Pi * rng.Float64()
		lo, hi := angle-2*math.Pi, angle
		for range 200 { // the bracket halves about each time: beyond this the point stays
			s, c := math.Sincos(angle)
			try := make([]float64, n)
			for i := range try {
				try[i] = g.mean[i] + (z[i]-g.mean[i])*c + (nu[i]-g.mean[i])*s
			}
			if got := g.logLikelihood(try); got > floor {
				z, logL = try, got
				return
			}
			if angle < 0 {
				lo = angle
			} else {
				hi = angle
			}
			angle = lo + (hi-lo)*rng.Float64()
		}
	}
	return func() []float64 {
		for range chainSteps {
			step()
		}
		return slices.Clone(z)
	}
}

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15)) }

// evenNormals returns count points of n independent standard normals, spread evenly: antithetic pairs ±x whose |x| fall one in each of
// count/2 equally likely strata of every coordinate, at the root mean square of its stratum. So every coordinate has mean zero and
// variance one exactly, however few the points. An odd last point is a plain draw.
func evenNormals(rng *rand.Rand, count, n int) [][]float64 {
	out := make([][]float64, count)
	for i := range out {
		out[i] = make([]float64, n)
	}
	size := strata(count / 2)
	for a := range n {
		for p, stratum := range rng.Perm(len(size)) {
			x := size[stratum]
			if rng.Uint64()&1 == 0 {
				x = -x
			}
			out[2*p][a], out[2*p+1][a] = x, -x
		}
	}
	if count%2 == 1 {
		for a := range n {
			out[count-1][a] = rng.NormFloat64()
		}
	}
	return out
}

// strata cuts the positive half of the standard normal into parts of equal probability and returns the root mean square of each. With
// ∫x²φ dx = Φ - xφ over the part from a to b of probability P:  x² = 1 - (bφ(b) - aφ(a))/P.
func strata(parts int) []float64 {
	out := make([]float64, parts)
	p := 1 / float64(2*parts)
	before := 0.0 // aφ(a)
	for i := range out {
		after := 0.0 // xφ(x) goes to zero far out
		if i < parts-1 {
			b := distuv.UnitNormal.Quantile(0.5 + float64(i+1)*p)
			after = b * distuv.UnitNormal.Prob(b)
		}
		out[i] = math.Sqrt(max(0, 1-(after-before)/p))
		before = after
	}
	return out
}
