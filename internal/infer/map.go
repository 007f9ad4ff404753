package infer

import (
	"context"
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Status tells how a search ended.
type Status int

// The ends of a search.
const (
	_              Status = iota
	Converged             // the linear model promises no decrease worth having, with derivatives taken there
	IterationLimit        // MaxIter steps were tried
	Stalled               // no step of any length lowers the cost, though the derivatives promise it: noise, or a kink
	Cancelled             // the context ended; what there was is in the result
	CallLimit             // the calls allowed were made
)

func (s Status) String() string {
	switch s {
	case Converged:
		return "converged"
	case IterationLimit:
		return "stopped at the iteration limit"
	case Stalled:
		return "stalled: no step improves it further"
	case Cancelled:
		return "cancelled"
	case CallLimit:
		return "stopped at the limit of calls"
	}
	return "not run"
}

// Result is the mode and what is known around it.
type Result struct {
	Z          []float64     // scores at the mode
	R          []float64     // residuals there, one-sided ones as the root of twice their cost; nil when cancelled before the first call
	J          *mat.Dense    // ∂r/∂z, M x N, one-sided residuals' rows times the root of their cost's curvature; nil without one (Cancelled, or M = 0)
	Cost       float64       // ½|R|² + ½|Z|²
	Status     Status        //
	Iterations int           // steps tried, all starts
	Calls      int           // calls of the residuals, all starts
	Cov        *mat.SymDense // (JᵀJ + I)⁻¹, posterior covariance of the scores; nil when cancelled before the first Jacobian
	Condition  float64       // condition number of JᵀJ + I (1 = the data said nothing); zero without Cov

	// With several starts: how many ended at this mode, how many at none (at the iteration limit, say), and the other modes found, the
	// best first. Iterations and Calls of those are left at zero.
	Ended, Unfinished int
	Others            []*Result

	raw      []float64 // residuals with the sign of one-sided ones
	rawJ     []float64 // their derivatives, row-major; nil when not known
	oneSided []bool
	bound    float64
}

// Narrowed tells for each unknown how much of its doubt the data took away: 1 - posterior sd / prior sd, 0 (nothing) to 1 (known).
// Zeros when the covariance is not known.
func (r *Result) Narrowed() []float64 {
	if r.Cov == nil {
		return make([]float64, len(r.Z))
	}
	return narrowed(r.Cov)
}

func narrowed(cov *mat.SymDense) []float64 {
	out := make([]float64, cov.SymmetricDim())
	for i := range out {
		out[i] = max(0, 1-math.Sqrt(cov.At(i, i)))
	}
	return out
}

// MAP finds the scores with the least cost by damped Gauss-Newton steps (Levenberg 1944, Marquardt 1963). Between full Jacobians each
// tried step, kept or not, corrects the derivatives along its own direction (Broyden 1965); a full one is taken again when a step
// disappoints, and where the search ends, so that Cov belongs to Z. At the iteration limit Cov may rest on corrected derivatives.
//
// With several starts the mode of the lowest cost is the result, the others are in its Others.
//
// It returns an error for an unusable problem, for an error of the residual function and for a residual that is no number. A
// context that ends is no error: the result then has Status Cancelled and holds what is known so far.
func MAP(ctx context.Context, p Problem, opt Options) (*Result, error) {
	o := opt.withDefaults()
	if err := check(p, o); err != nil {
		return nil, err
	}
	e := newEvaluator(p, o)
	var ends []*Result
	iterations := 0
	stopped := false
	for _, z := range starts(p.N, o) {
		r, err := e.descend(ctx, z)
		if err != nil {
			return nil, err
		}
		iterations += r.Iterations
		r.Iterations = 0
		if r.R != nil || len(ends) == 0 {
			ends = append(ends, r)
		}
		if stopped = r.Status == Cancelled; stopped {
			break
		}
	}
	best, err := e.modes(ctx, ends)
	if err != nil {
		return nil, err
	}
	if stopped {
		best.Status = Cancelled // the search as a whole was not finished
	}
	best.Iterations, best.Calls = iterations, e.calls
	return best, nil
}

// starts gives the starting points: From or the prior's middle, then even draws from the prior.
func starts(n int, o Options) [][]float64 {
	first := make([]float64, n)
	for i := range o.From {
		first[i] = clamp(o.From[i], o.Bound)
	}
	out := [][]float64{first}
	for _, z := range evenNormals(newRand(o.Seed), o.Starts-1, n) {
		for i := range z {
			z[i] = clamp(z[i], o.Bound)
		}
		out = append(out, z)
	}
	return out
}

const (
	keepGain     = 1e-3 // share of the promised decrease a step must bring to be kept
	poorGain     = 0.25 // below it the derivatives are taken again and damping rises
	goodGain     = 0.6  // above it damping falls
	firstDamping = 0.1
	dampingRatio = 5.0
	leastDamping = 1e-3 // below it none at all
	retryDamping = 3.0  // a quarter of the undamped step
	maxRefusals  = 6    // damping is then 300 times the curvature: steps 1/300 of the undamped
)

// descend searches from z.
func (e *evaluator) descend(ctx context.Context, z []float64) (*Result, error) {
	raw, err := e.at(ctx, z)
	if err != nil {
		if cancelled(ctx, err) {
			return &Result{Z: z, Status: Cancelled, oneSided: e.oneSided, bound: e.o.Bound}, nil
		}
		return nil, err
	}
	cost := e.cost(z, raw)
	var (
		full, zFull []float64 // last full Jacobian and its place
		jac         []float64 // the same, corrected since
		lambda      float64
		refusals    int  // steps refused in a row
		retried     bool // since the last step kept
		iterations  int
	)
	finish := func(s Status) (*Result, error) {
		j := jac
		if full != nil && near(z, zFull, e.o.Step) {
			j = full
		}
		return e.result(z, raw, j, cost, s, iterations)
	}
	renew := func() error {
		j, err := e.jacobian(ctx, z, raw)
		if err == nil {
			full, jac, zFull = j, slices.Clone(j), z
		}
		return err
	}
	for stale := true; ; {
		if stale {
			if err := renew(); err != nil {
				if cancelled(ctx, err) {
					return finish(Cancelled)
				}
				return nil, err
			}
			stale = false
		}
		l := &linear{e: e, z: z, r: raw, j: jac}
		d, promised, ok := l.step(0)
		if !ok {
			return nil, errors.New("infer: the residuals change too steeply with the unknowns to solve for them; check the standard deviations of the observations")
		}
		if promised <= e.o.Tol {
			switch {
			case !near(z, zFull, e.o.Step):
				stale = true
			case refusals > 0 && !retried:
				// A refused long step can have flattened the derivatives; the true ones deserve a short step first.
				retried, jac, lambda = true, slices.Clone(full), max(lambda, retryDamping)
			default:
				return finish(Converged)
			}
			continue
		}
		if iterations == e.o.MaxIter {
			return finish(IterationLimit)
		}
		iterations++
		if lambda > 0 {
			if d, promised, ok = l.step(lambda); !ok || promised <= 0 {
				return finish(Stalled)
			}
		}
		zTry := plus(z, d)
		rTry, err := e.at(ctx, zTry)
		if err != nil {
			if cancelled(ctx, err) {
				return finish(Cancelled)
			}
			return nil, err
		}
		costTry := e.cost(zTry, rTry)
		gain := (cost - costTry) / promised
		e.broyden(jac, d, raw, rTry)
		if gain >= goodGain {
			if lambda /= dampingRatio; lambda < leastDamping {
				lambda = 0
			}
		} else if gain < poorGain {
			if near(z, zFull, e.o.Step) { // the derivatives are as good as they get: the step was too long
				lambda = max(firstDamping, lambda*dampingRatio)
			}
			stale = !near(z, zFull, e.o.Step)
		}
		if gain > keepGain {
			z, raw, cost, refusals, retried = zTry, rTry, costTry, 0, false
			stale = stale || gain < poorGain && !near(z, zFull, e.o.Step)
		} else if refusals++; refusals > maxRefusals {
			return finish(Stalled)
		}
	}
}

// broyden corrects the derivatives so that they give the change just seen for the move d: J += (Δr - J·d) dᵀ / dᵀd. A move much
// shorter than the finite-difference step is left out: it would carry noise, not slope.
func (e *evaluator) broyden(jac, d, before, after []float64) {
	n := len(d)
	dd, longest := 0.0, 0.0
	for _, v := range d {
		dd += v * v
		longest = max(longest, math.Abs(v))
	}
	if longest < e.o.Step/5 {
		return
	}
	for i := range before {
		row := jac[i*n : (i+1)*n]
		miss := after[i] - before[i]
		for k, v := range row {
			miss -= v * d[k]
		}
		for k := range row {
			row[k] += miss * d[k] / dd
		}
	}
}

// near tells whether derivatives taken at b still describe a: half a finite-difference step, over which they are a secant anyway.
func near(a, b []float64, step float64) bool {
	for i := range a {
		if math.Abs(a[i]-b[i]) > step/2 {
			return false
		}
	}
	return true
}

func cancelled(ctx context.Context, err error) bool {
	return ctx.Err() != nil && (errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded))
}

// result gathers what is known at z. jac may be nil.
func (e *evaluator) result(z, raw, jac []float64, cost float64, s Status, iterations int) (*Result, error) {
	n, m := e.p.N, e.p.M
	res := &Result{Z: z, R: slices.Clone(raw), Cost: cost, Status: s, Iterations: iterations, raw: raw, rawJ: jac, oneSided: e.oneSided, bound: e.o.Bound}
	weights := make([]float64, m)
	for i, r := range raw {
		weights[i], _ = e.about(i, r)
		if e.oneSided[i] {
			res.R[i] = math.Sqrt(e.doubled(i, r))
		}
	}
	if jac == nil {
		return res, nil
	}
	if m > 0 {
		res.J = mat.NewDense(m, n, slices.Clone(jac))
		for i, w := range weights {
			for k := range n {
				res.J.Set(i, k, math.Sqrt(w)*res.J.At(i, k))
			}
		}
	}
	h := mat.NewSymDense(n, nil)
	information(h, jac, weights)
	for a := range n {
		h.SetSym(a, a, h.At(a, a)+1)
	}
	var eig mat.EigenSym
	if !eig.Factorize(h, true) {
		return nil, errors.New("infer: the doubt of the unknowns could not be worked out: their eigenvalues did not converge")
	}
	// Cov from the eigenvectors: every eigenvalue is at least 1 in exact arithmetic, and is kept so.
	values := eig.Values(nil)
	var v mat.Dense
	eig.VectorsTo(&v)
	res.Cov = mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			sum := 0.0
			for k, val := range values {
				sum += v.At(a, k) * v.At(b, k) / max(1, val)
			}
			res.Cov.SetSym(a, b, sum)
		}
	}
	res.Condition = max(1, values[n-1]) / max(1, values[0])
	return res, nil
}
