package infer

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"
	"sync/atomic"
)

// evaluator calls the residuals and keeps count.
type evaluator struct {
	p        Problem
	o        Options
	oneSided []bool // per residual

	mu       sync.Mutex
	calls    int
	expected int
}

// largest is the residual whose square still sums without overflow.
const largest = 1e150

func newEvaluator(p Problem, o Options) *evaluator {
	e := &evaluator{p: p, o: o, oneSided: make([]bool, p.M)}
	for _, i := range p.OneSided {
		e.oneSided[i] = true
	}
	// Three Jacobians and some tried steps for each start: what smooth problems take.
	e.expected = o.Starts * (7 + 3*e.columns())
	return e
}

// columns is the number of calls one Jacobian takes.
func (e *evaluator) columns() int {
	if e.o.Central {
		return 2 * e.p.N
	}
	return e.p.N
}

// at returns the residuals at z, one-sided ones with their sign.
func (e *evaluator) at(ctx context.Context, z []float64) ([]float64, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	dst := make([]float64, e.p.M)
	for i := range dst {
		dst[i] = math.NaN() // an entry that is not written must not pass as a perfect match
	}
	if err := e.p.Residuals(ctx, z, dst); err != nil {
		return nil, fmt.Errorf("infer: residuals at scores %.4g: %w", z, err)
	}
	e.count()
	for i, r := range dst {
		if !(math.Abs(r) <= largest) {
			return nil, &ResidualError{Index: i, Value: r, Z: slices.Clone(z)}
		}
	}
	return dst, nil
}

func (e *evaluator) count() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.calls++
	e.expected = max(e.expected, e.calls)
	if e.o.Progress != nil {
		e.o.Progress(e.calls, e.expected)
	}
}

// jacobian returns the secants (r(z+h) - r)/h of the signed residuals, row-major: residual i, unknown j at i*N+j. The step turns
// inwards where it would leave the bounds.
//
// Columns are shared out in order; after a failure no higher column is begun, and the lowest failed one is reported, so that error
// and result are the same whatever the number of workers.
func (e *evaluator) jacobian(ctx context.Context, z, r []float64) ([]float64, error) {
	n := e.p.N
	jac := make([]float64, e.p.M*n)
	errs := make([]error, n)
	var next, failed atomic.Int64
	failed.Store(int64(n))
	var wg sync.WaitGroup
	for range min(e.o.Workers, n) {
		wg.Go(func() {
			for {
				j := int(next.Add(1)) - 1
				if j >= n || int64(j) > failed.Load() {
					return
				}
				if errs[j] = e.column(ctx, z, r, j, jac); errs[j] != nil {
					for f := failed.Load(); int64(j) < f && !failed.CompareAndSwap(f, int64(j)); f = failed.Load() {
					}
				}
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return jac, nil
}

// column fills column j of jac.
func (e *evaluator) column(ctx context.Context, z, r []float64, j int, jac []float64) error {
	hi, lo := z[j]+e.o.Step, z[j]
	if hi > e.o.Bound {
		hi = z[j] - e.o.Step
	}
	if e.o.Central {
		hi, lo = min(z[j]+e.o.Step, e.o.Bound), max(z[j]-e.o.Step, -e.o.Bound)
	}
	moved := slices.Clone(z)
	moved[j] = hi
	rHi, err := e.at(ctx, moved)
	if err != nil {
		return err
	}
	rLo := r
	if lo != z[j] {
		moved = slices.Clone(z)
		moved[j] = lo
		if rLo, err = e.at(ctx, moved); err != nil {
			return err
		}
	}
	for i := range rHi {
		jac[i*e.p.N+j] = (rHi[i] - rLo[i]) / (hi - lo)
	}
	return nil
}

// cost is ½|r|² + ½|z|², with -ln Φ(-r) for one-sided residuals.
func (e *evaluator) cost(z, r []float64) float64 {
	sum := 0.0
	for _, v := range z {
		sum += v * v
	}
	for i, v := range r {
		sum += e.doubled(i, v)
	}
	return sum / 2
}

// expect corrects the estimate of the calls needed.
func (e *evaluator) expect(calls int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.expected = max(calls, e.calls)
}
