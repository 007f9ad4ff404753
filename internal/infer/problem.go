package infer

import (
	"context"
	"errors"
	"fmt"
	"math"
)

// Residuals writes the residuals at scores z to dst, each divided by its standard deviation: (modelled - observed)/sigma.
//
// It must be safe for concurrent calls (Options.Workers of them), must not keep or change z, and must fill all of dst. A value that
// is not finite, or an entry left unwritten, ends the search with a *ResidualError.
type Residuals func(ctx context.Context, z, dst []float64) error

// Problem is what there is to learn, and from what.
type Problem struct {
	N         int // unknowns, >= 1
	M         int // residuals, >= 0; with none the posterior is the prior
	Residuals Residuals
	// OneSided lists the residuals of observations that something had not happened yet: (modelled - limit)/sigma, negative while the model
	// agrees. Each costs -ln Φ(-r), the probability of not having passed the limit.
	OneSided []int
}

// Options steer the search. The zero value is a sensible choice for a slow, slightly noisy model.
type Options struct {
	Workers int     // concurrent calls for a Jacobian; zero takes 1. The result does not depend on it.
	Step    float64 // finite-difference step in score; zero takes 0.25
	Central bool    // central differences: twice the calls, second order in Step
	Bound   float64 // |z[i]| <= Bound; zero takes 4
	MaxIter int     // steps tried, per start; zero takes 30
	// Tol ends the search once the linear model promises less than this decrease of the cost; zero takes 1e-4, which is 0.014
	// posterior standard deviations away from the mode.
	Tol float64
	// From is where the first start begins; nil is the prior's middle.
	From []float64
	// Starts is the number of starting points; zero takes 1, the prior's middle. Further ones are even draws from the prior, made
	// from Seed. The lowest cost wins.
	Starts int
	Seed   uint64
	// Progress, when set, is told after every call of the residuals how many were made and about how many will be needed (an estimate,
	// never below calls). Calls of it do not overlap.
	Progress func(calls, expected int)
}

// withDefaults fills what was left at zero.
func (o Options) withDefaults() Options {
	if o.Workers <= 0 {
		o.Workers = 1
	}
	if o.Step == 0 {
		o.Step = 0.25
	}
	if o.Bound == 0 {
		o.Bound = 4
	}
	if o.MaxIter <= 0 {
		o.MaxIter = 30
	}
	if o.Tol == 0 {
		o.Tol = 1e-4
	}
	if o.Starts <= 0 {
		o.Starts = 1
	}
	return o
}

// check reports what makes the problem unusable.
func check(p Problem, o Options) error {
	switch {
	case p.N < 1:
		return errors.New("infer: there is nothing to learn: the problem has no unknowns")
	case p.M < 0:
		return fmt.Errorf("infer: %d residuals: the number cannot be negative", p.M)
	case p.Residuals == nil:
		return errors.New("infer: the problem has no residual function")
	case !(o.Step > 0) || math.IsInf(o.Step, 0):
		return fmt.Errorf("infer: finite-difference step %g: it must be positive", o.Step)
	case !(o.Bound >= o.Step) || math.IsInf(o.Bound, 0):
		return fmt.Errorf("infer: bound %g: it must be finite and at least the finite-difference step %g", o.Bound, o.Step)
	case o.From != nil && len(o.From) != p.N:
		return fmt.Errorf("infer: a start with %d scores for %d unknowns", len(o.From), p.N)
	case !(o.Tol > 0):
		return fmt.Errorf("infer: tolerance %g: it must be positive", o.Tol)
	}
	for _, i := range p.OneSided {
		if i < 0 || i >= p.M {
			return fmt.Errorf("infer: one-sided residual %d is not among the %d residuals", i, p.M)
		}
	}
	return nil
}

// ResidualError tells that the model gave no usable number.
type ResidualError struct {
	Index int       // which residual
	Value float64   // what it was: NaN (also when it was not written), an infinity, or a number too large to square
	Z     []float64 // the scores it was asked for
}

func (e *ResidualError) Error() string {
	return fmt.Sprintf("infer: residual %d is %g at scores %.4g: the model gave no usable number there; narrow the unknowns or check the observation",
		e.Index, e.Value, e.Z)
}
