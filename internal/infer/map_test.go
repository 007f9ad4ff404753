package infer

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func solve(t *testing.T, p Problem, o Options) *Result {
	t.Helper()
	res, err := MAP(context.Background(), p, o)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// Linear residuals A·z - b with prior N(0, I) have the posterior N((AᵀA+I)⁻¹Aᵀb, (AᵀA+I)⁻¹): the normal equations of ridge regression
// (Hoerl & Kennard, Technometrics 12, 1970), here by gonum's LU as the other way.
func TestLinearProblemHasClosedForm(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 7).Draw(rt, "n")
		m := rapid.IntRange(1, 12).Draw(rt, "m")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 3))
		a := mat.NewDense(m, n, nil)
		b := make([]float64, m)
		for i := range m {
			b[i] = rng.NormFloat64()
			for k := range n {
				a.Set(i, k, 3*rng.NormFloat64())
			}
		}
		res, err := MAP(context.Background(), affine(a, b), Options{Tol: 1e-14, Bound: 100})
		if err != nil {
			rt.Fatal(err)
		}
		if res.Status != Converged {
			rt.Fatalf("status %v", res.Status)
		}
		var h, inv mat.Dense
		h.Mul(a.T(), a)
		for k := range n {
			h.Set(k, k, h.At(k, k)+1)
		}
		if err := inv.Inverse(&h); err != nil {
			rt.Fatal(err)
		}
		var atb, want mat.VecDense
		atb.MulVec(a.T(), mat.NewVecDense(m, b))
		want.MulVec(&inv, &atb)
		for i := range n {
			if math.Abs(res.Z[i]-want.AtVec(i)) > 1e-6 { // √(2·Tol), the distance at which it may stop
				rt.Fatalf("z[%d] = %g, closed form %g", i, res.Z[i], want.AtVec(i))
			}
			for k := range n {
				if math.Abs(res.Cov.At(i, k)-inv.At(i, k)) > 1e-9 { // rounding of differences over the step 0.25
					rt.Fatalf("cov %d %d = %g, closed form %g", i, k, res.Cov.At(i, k), inv.At(i, k))
				}
			}
		}
		if cond := mat.Cond(&h, 2); math.Abs(res.Condition/cond-1) > 1e-7 {
			rt.Fatalf("condition %g, by singular values %g", res.Condition, cond)
		}
	})
}

// One observation of one unknown with the prior's own doubt halves the variance: sd 1/√2. From the conjugate normal rule.
func TestNarrowed(t *testing.T) {
	res := solve(t, affine(mat.NewDense(1, 2, []float64{1, 0}), []float64{1}), Options{})
	got := res.Narrowed()
	if math.Abs(got[0]-(1-1/math.Sqrt2)) > 1e-12 || math.Abs(got[1]) > 1e-12 {
		t.Errorf("narrowed %v, want [%g 0]", got, 1-1/math.Sqrt2)
	}
	if math.Abs(res.Z[0]-0.5) > 1e-9 {
		t.Errorf("mode %g, want 0.5", res.Z[0])
	}
}

func TestNetworkConstantsLearned(t *testing.T) {
	p, at := networkProblem(1e-3)
	for _, o := range []Options{{Tol: 1e-8}, {Tol: 1e-8, Central: true}} {
		res := solve(t, p, o)
		if res.Status != Converged {
			t.Errorf("central %v: %v", o.Central, res.Status)
		}
		got := at(res.Z)
		for _, c := range []struct {
			name      string
			got, want float64
		}{
			{"C1", got.c1JK, 50}, {"C2", got.c2JK, 150}, {"R12", got.r12KW, 2}, {"R2a", got.r2aKW, 5},
		} {
			// 1e-3: the pull of the prior at 1 mK of doubt and the published digits; found below 3e-4
			if math.Abs(c.got/c.want-1) > 1e-3 {
				t.Errorf("central %v: %s = %g, true %g (%d calls)", o.Central, c.name, c.got, c.want, res.Calls)
			}
		}
	}
}

// patternSearch is the slow twin: it knows only the cost, and tries moves along random directions, shorter when none helps.
func patternSearch(cost func([]float64) float64, z []float64) []float64 {
	rng := rand.New(rand.NewPCG(29, 31))
	best := cost(z)
	for size, failed := 1.0, 0; size > 1e-7; {
		try := slices.Clone(z)
		for i := range try {
			try[i] += size * rng.NormFloat64()
		}
		if c := cost(try); c < best {
			z, best, size, failed = try, c, size*1.5, 0
		} else if failed++; failed > 40 {
			size, failed = size*0.7, 0
		}
	}
	return z
}

// The same mode by a search without derivatives on the same cost, with doubt enough for the prior to pull.
func TestModeAgreesWithSlowTwin(t *testing.T) {
	p, _ := networkProblem(0.3)
	res := solve(t, p, Options{Step: 1e-3, Central: true, Tol: 1e-10})
	cost := func(z []float64) float64 {
		r := make([]float64, p.M)
		_ = p.Residuals(context.Background(), z, r)
		sum := 0.0
		for _, v := range slices.Concat(r, z) {
			sum += v * v
		}
		return sum / 2
	}
	refZ := patternSearch(cost, make([]float64, p.N))
	if ref := cost(refZ); math.Abs(res.Cost-ref) > 1e-8 {
		t.Errorf("cost %.10g, reference %.10g", res.Cost, ref)
	}
	for i := range res.Z {
		if math.Abs(res.Z[i]-refZ[i]) > 1e-4 { // the search resolves z to about the root of the cost's rounding
			t.Errorf("z[%d] = %.6f, reference %.6f", i, res.Z[i], refZ[i])
		}
	}
	// and with the default coarse forward step, within a tenth of a posterior sd
	coarse := solve(t, p, Options{})
	for i := range coarse.Z {
		if sd := math.Sqrt(coarse.Cov.At(i, i)); math.Abs(coarse.Z[i]-refZ[i]) > 0.1*sd {
			t.Errorf("default options: z[%d] = %.4f, reference %.4f, sd %.3f", i, coarse.Z[i], refZ[i], sd)
		}
	}
}

// NIST Statistical Reference Datasets, nonlinear regression, Misra1a: y = b1(1 - exp(-b2 x)). Both certified starts. The prior is made
// weightless by scaling the residuals by 1e6; the certified standard deviations are the residual sd times √diag((JᵀJ)⁻¹).
func TestMisra1a(t *testing.T) {
	x := []float64{77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0}
	y := []float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78}
	const (
		b1, sd1 = 2.3894212918e+02, 2.7070075241e+00
		b2, sd2 = 5.5015643181e-04, 7.2668688436e-06
		rss     = 1.2455138894e-01
		sdRes   = 1.0187876330e-01
		weight  = 1e6
	)
	for _, start := range [][2]float64{{500, 1e-4}, {250, 5e-4}} {
		at := func(z []float64) (float64, float64) { return start[0] * math.Exp(z[0]), start[1] * math.Exp(z[1]) }
		res := solve(t, Problem{N: 2, M: len(x), Residuals: func(_ context.Context, z, dst []float64) error {
			p1, p2 := at(z)
			for i := range x {
				dst[i] = weight * (p1*-math.Expm1(-p2*x[i]) - y[i])
			}
			return nil
		}}, Options{Step: 1e-6, Central: true, Tol: 1e-3, MaxIter: 100})
		if res.Status != Converged {
			t.Errorf("start %v: %v after %d steps", start, res.Status, res.Iterations)
		}
		got1, got2 := at(res.Z)
		gotRSS := 0.0
		for _, r := range res.R {
			gotRSS += r * r / (weight * weight)
		}
		for _, c := range []struct {
			name           string
			got, want, tol float64
		}{
			{"b1", got1, b1, 1e-8}, {"b2", got2, b2, 1e-8}, {"residual sum of squares", gotRSS, rss, 1e-9},
			{"sd of b1", got1 * math.Sqrt(res.Cov.At(0, 0)) * weight * sdRes, sd1, 1e-6},
			{"sd of b2", got2 * math.Sqrt(res.Cov.At(1, 1)) * weight * sdRes, sd2, 1e-6},
		} {
			if math.Abs(c.got/c.want-1) > c.tol {
				t.Errorf("start %v: %s = %.10g, certified %.10g", start, c.name, c.got, c.want)
			}
		}
	}
}

// Rosenbrock's valley (Comput. J. 3, 1960), residuals 10(y - x²), 1 - x, least at (1, 1); the prior made weightless by scaling.
func TestRosenbrock(t *testing.T) {
	res := solve(t, Problem{N: 2, M: 2, Residuals: func(_ context.Context, z, dst []float64) error {
		x, y := z[0]-1.2, z[1]+1 // the classical start (-1.2, 1)
		dst[0], dst[1] = 1e4*10*(y-x*x), 1e4*(1-x)
		return nil
	}}, Options{Step: 1e-4, Central: true, Tol: 1e-6, MaxIter: 200})
	if res.Status != Converged || math.Abs(res.Z[0]-2.2) > 1e-6 || math.Abs(res.Z[1]) > 1e-6 {
		t.Errorf("%v at %v after %d steps, want (2.2, 0)", res.Status, res.Z, res.Iterations)
	}
}

// Residuals 30(z₀ - 10) and z₀ + z₁ - 6 pull z₀ past the bound: it must end on it, and z₁ at the optimum given z₀ = 4, by hand
// 2z₁ = 6 - 4.
func TestBounds(t *testing.T) {
	a := mat.NewDense(2, 2, []float64{30, 0, 1, 1})
	p := affine(a, []float64{300, 6})
	inner := p.Residuals
	p.Residuals = func(ctx context.Context, z, dst []float64) error {
		if math.Abs(z[0]) > 4 || math.Abs(z[1]) > 4 {
			t.Errorf("asked for %v, outside the bounds", z)
		}
		return inner(ctx, z, dst)
	}
	res := solve(t, p, Options{Tol: 1e-12})
	solve(t, p, Options{Tol: 1e-12, Central: true})
	if res.Z[0] != 4 || math.Abs(res.Z[1]-1) > 1e-6 || res.Status != Converged {
		t.Errorf("%v at %v, want (4, 1)", res.Status, res.Z)
	}
}

// An observation z₀ = 1 ± 1 and that 5(z₀ - a) had not passed zero, by an error of one: the mode is where z + (z - 1) + 5 φ(r)/Φ(-r) = 0,
// found here by halving with the library's normal, and the curvature there is 2 + 25 m (m - r), m = φ(r)/Φ(-r).
func TestOneSided(t *testing.T) {
	for _, limit := range []float64{3, 0.8, 0.2, -3} { // far off, satisfied, violated, and violated by far
		p := Problem{N: 1, M: 2, OneSided: []int{1}, Residuals: func(_ context.Context, z, dst []float64) error {
			dst[0], dst[1] = z[0]-1, 5*(z[0]-limit)
			return nil
		}}
		mills := func(z float64) (r, m float64) {
			r = 5 * (z - limit)
			return r, distuv.UnitNormal.Prob(r) / distuv.UnitNormal.CDF(-r)
		}
		lo, hi := -4.0, 4.0
		for range 60 {
			z := (lo + hi) / 2
			if _, m := mills(z); z+z-1+5*m > 0 {
				hi = z
			} else {
				lo = z
			}
		}
		r, m := mills(lo)
		res := solve(t, p, Options{Tol: 1e-12})
		want := 1 / (2 + 25*m*(m-r))
		if res.Status != Converged || math.Abs(res.Z[0]-lo) > 1e-6 || math.Abs(res.Cov.At(0, 0)-want) > 1e-7 {
			t.Errorf("limit %g: %v z %g var %g, want %g %g", limit, res.Status, res.Z[0], res.Cov.At(0, 0), lo, want)
		}
		if res.Iterations > 1 { // linear but for the bend, which the step itself must see
			t.Errorf("limit %g: %d steps", limit, res.Iterations)
		}
		if got, want := res.R[1]*res.R[1]/2, -math.Log(distuv.UnitNormal.CDF(-r)); math.Abs(got-want) > 1e-6 || math.Abs(res.Cost-(res.Z[0]*res.Z[0]+res.R[0]*res.R[0]+res.R[1]*res.R[1])/2) > 1e-12 {
			t.Errorf("limit %g: its cost %g, want %g; all %g", limit, got, want, res.Cost)
		}
		if info := 1 + res.J.At(0, 0)*res.J.At(0, 0) + res.J.At(1, 0)*res.J.At(1, 0); math.Abs(info*res.Cov.At(0, 0)-1) > 1e-9 {
			t.Errorf("limit %g: JᵀJ + I is %g, variance %g", limit, info, res.Cov.At(0, 0))
		}
	}
}

// Residuals 3((z+0.3)² - 4) and 1.5(z - 1.7) have two valleys, near -2.2 and 1.7. Only at 1.7 are both zero (the prior moves that a
// little), so that one is lower.
func TestStartsFindTheLowerValley(t *testing.T) {
	p := Problem{N: 1, M: 2, Residuals: func(_ context.Context, z, dst []float64) error {
		dst[0], dst[1] = 3*((z[0]+0.3)*(z[0]+0.3)-4), 1.5*(z[0]-1.7)
		return nil
	}}
	one := solve(t, p, Options{})
	many := solve(t, p, Options{Starts: 5, Seed: 7})
	if math.Abs(many.Z[0]-1.7) > 0.1 {
		t.Errorf("mode at %g with cost %g, want near 1.7", many.Z[0], many.Cost)
	}
	if many.Cost > one.Cost || many.Calls <= one.Calls {
		t.Errorf("five starts: cost %g after %d calls; one: %g after %d", many.Cost, many.Calls, one.Cost, one.Calls)
	}
}

// From z = 0 a full Gauss-Newton step for 6 atan(5(z + 0.6)) overshoots to the far side, where it is as large, and the secant between the two
// misleads. Reference: the mode by the slow twin, the variance by the exact slope.
func TestRefusedStepsLeaveNoTrace(t *testing.T) {
	p := Problem{N: 1, M: 1, Residuals: func(_ context.Context, z, dst []float64) error {
		dst[0] = 6 * math.Atan(5*(z[0]+0.6))
		return nil
	}}
	res := solve(t, p, Options{Step: 1e-3})
	want := patternSearch(func(z []float64) float64 {
		r := 6 * math.Atan(5*(z[0]+0.6))
		return (r*r + z[0]*z[0]) / 2
	}, []float64{0})[0]
	if res.Status != Converged || math.Abs(res.Z[0]-want) > 1e-3 {
		t.Errorf("%v at %.6f, slow twin %.6f", res.Status, res.Z[0], want)
	}
	slope := 30 / (1 + 25*(res.Z[0]+0.6)*(res.Z[0]+0.6))
	if got := res.Cov.At(0, 0) * (1 + slope*slope); math.Abs(got-1) > 0.02 { // forward secant over 1e-3, taken within half of that
		t.Errorf("variance %.4g of 1/(1 + slope²)", got)
	}
}

// Stopped right after a step was refused, the covariance is still that of the derivative where the search stands, not of the secant to the
// refused place (a third of it here).
func TestCovarianceAfterARefusedStep(t *testing.T) {
	res := solve(t, Problem{N: 1, M: 1, Residuals: func(_ context.Context, z, dst []float64) error {
		dst[0] = 6 * math.Atan(5*(z[0]+0.6))
		return nil
	}}, Options{Step: 1e-3, Central: true, MaxIter: 1})
	if res.Status != IterationLimit || res.Z[0] != 0 {
		t.Fatalf("%v at %v: the first step was to be refused", res.Status, res.Z)
	}
	const slope = 30 / (1 + 25*0.36)
	if got := res.Cov.At(0, 0) * (1 + slope*slope); math.Abs(got-1) > 1e-4 {
		t.Errorf("variance %.4g of 1/(1 + slope²)", got)
	}
}

// For 100 (u² + 1e-4)^¼ with u = z + 0.6 the full step from u = 0.6 ends at -0.6, where the residual is the same: the secant between the two
// is flat, and would pass for an optimum. The least is at u = 0 but for the prior's 1e-4 of it.
func TestFlatSecantIsNoOptimum(t *testing.T) {
	res := solve(t, Problem{N: 1, M: 1, Residuals: func(_ context.Context, z, dst []float64) error {
		u := z[0] + 0.6
		dst[0] = 100 * math.Sqrt(math.Sqrt(u*u+1e-4))
		return nil
	}}, Options{Step: 1e-4, Central: true, Tol: 1})
	if u := res.Z[0] + 0.6; math.Abs(u) > 0.02 {
		t.Errorf("%v at u = %.4f after %d steps", res.Status, u, res.Iterations)
	}
}

func TestSameResultWhateverTheWorkers(t *testing.T) {
	p, _ := networkProblem(0.01)
	a := solve(t, p, Options{Workers: 1, Starts: 3, Seed: 11})
	for _, workers := range []int{2, 7} {
		b := solve(t, p, Options{Workers: workers, Starts: 3, Seed: 11})
		if !slices.Equal(a.Z, b.Z) || !mat.Equal(a.Cov, b.Cov) || a.Calls != b.Calls || a.Iterations != b.Iterations {
			t.Errorf("%d workers: %v in %d calls; 1 worker: %v in %d", workers, b.Z, b.Calls, a.Z, a.Calls)
		}
	}
}

// A model with noise of 2 % of a residual sd must still come within a fifth of a posterior sd of the quiet one, without wasting calls.
func TestNoisyModel(t *testing.T) {
	p, _ := networkProblem(0.3)
	quiet := solve(t, p, Options{Central: true, Tol: 1e-8})
	noisy := p
	noisy.Residuals = func(ctx context.Context, z, dst []float64) error {
		err := p.Residuals(ctx, z, dst)
		for i := range dst { // deterministic, but as good as random in z
			dst[i] += 0.02 * math.Sin(1e5*(z[0]+2*z[1]+3*z[2]+5*z[3])+float64(i))
		}
		return err
	}
	res := solve(t, noisy, Options{})
	for i := range res.Z {
		if sd := math.Sqrt(quiet.Cov.At(i, i)); math.Abs(res.Z[i]-quiet.Z[i]) > 0.2*sd {
			t.Errorf("z[%d] = %.4f, quiet %.4f, sd %.3f (%v)", i, res.Z[i], quiet.Z[i], sd, res.Status)
		}
	}
	if res.Calls > 60 {
		t.Errorf("%d calls (%v)", res.Calls, res.Status)
	}
}

func TestCancelled(t *testing.T) {
	p, _ := networkProblem(0.01)
	whole := solve(t, p, Options{})
	for after := 0; after < whole.Calls; after++ {
		ctx, cancel := context.WithCancel(context.Background())
		calls := 0
		if after == 0 {
			cancel()
		}
		res, err := MAP(ctx, p, Options{Progress: func(n, _ int) {
			if calls = n; n == after {
				cancel()
			}
		}})
		cancel()
		if err != nil || res.Status != Cancelled || calls != after || len(res.Z) != 4 {
			t.Fatalf("after %d calls: %v, status %v, calls %d", after, err, res.Status, calls)
		}
		if known := after >= 1; (res.R != nil) != known {
			t.Errorf("after %d calls: residuals %v", after, res.R)
		}
		if known := after >= 5; (res.Cov != nil) != known { // the start and four columns
			t.Errorf("after %d calls: covariance known %v", after, res.Cov != nil)
		}
		if _, err := Draws(res, 3, 1); (err == nil) != (res.Cov != nil) {
			t.Errorf("after %d calls: draws: %v", after, err)
		}
		_, _ = Confounded(res, 0.9), res.Narrowed() // no panic
	}
}

func TestBadResidualsAreErrors(t *testing.T) {
	boom := errors.New("the grid has no cells")
	for _, tc := range []struct {
		name  string
		fill  func(call int64, dst []float64) error
		index int
	}{
		{"NaN at the start", func(_ int64, dst []float64) error { dst[0], dst[1] = 0, math.NaN(); return nil }, 1},
		{"infinite", func(_ int64, dst []float64) error { dst[0], dst[1] = math.Inf(1), 0; return nil }, 0},
		{"overflows when squared", func(_ int64, dst []float64) error { dst[0], dst[1] = 1e200, 0; return nil }, 0},
		{"not written", func(_ int64, dst []float64) error { dst[0] = 0; return nil }, 1},
		{"NaN in a column", func(call int64, dst []float64) error {
			dst[0], dst[1] = 1, 1
			if call > 1 {
				dst[1] = math.NaN()
			}
			return nil
		}, 1},
		{"error", func(call int64, _ []float64) error { return boom }, -1},
	} {
		for _, workers := range []int{1, 3} {
			var calls atomic.Int64
			_, err := MAP(context.Background(), Problem{N: 3, M: 2, Residuals: func(_ context.Context, _, dst []float64) error {
				return tc.fill(calls.Add(1), dst)
			}}, Options{Workers: workers})
			var bad *ResidualError
			switch {
			case tc.index < 0:
				if !errors.Is(err, boom) {
					t.Errorf("%s: %v", tc.name, err)
				}
			case !errors.As(err, &bad) || bad.Index != tc.index:
				t.Errorf("%s: %v", tc.name, err)
			}
		}
	}
}

func TestUnusableProblems(t *testing.T) {
	ok := func(context.Context, []float64, []float64) error { return nil }
	for _, tc := range []struct {
		p    Problem
		o    Options
		says string
	}{
		{Problem{M: 1, Residuals: ok}, Options{}, "no unknowns"},
		{Problem{N: 1, M: 1}, Options{}, "no residual function"},
		{Problem{N: 1, M: -1, Residuals: ok}, Options{}, "negative"},
		{Problem{N: 1, M: 1, Residuals: ok}, Options{Step: math.NaN()}, "step"},
		{Problem{N: 1, M: 1, Residuals: ok}, Options{Bound: 0.1}, "bound"},
		{Problem{N: 1, M: 1, Residuals: ok}, Options{Tol: -1}, "tolerance"},
		{Problem{N: 1, M: 1, Residuals: ok, OneSided: []int{1}}, Options{}, "one-sided"},
	} {
		if _, err := MAP(context.Background(), tc.p, tc.o); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%q: %v", tc.says, err)
		}
	}
}

// Without observations the posterior is the prior.
func TestNoObservations(t *testing.T) {
	res := solve(t, Problem{N: 2, Residuals: func(context.Context, []float64, []float64) error { return nil }}, Options{})
	if res.Status != Converged || res.Cov.At(0, 0) != 1 || res.Cov.At(0, 1) != 0 || res.Condition != 1 || res.Z[0] != 0 {
		t.Errorf("%+v", res)
	}
}

func TestProgressCountsUpToItsEstimate(t *testing.T) {
	p, _ := networkProblem(0.01)
	last := 0
	res := solve(t, p, Options{Workers: 3, Progress: func(calls, expected int) {
		if calls != last+1 || expected < calls {
			t.Errorf("call %d of %d after %d", calls, expected, last)
		}
		last = calls
	}})
	if last != res.Calls {
		t.Errorf("told %d calls, result says %d", last, res.Calls)
	}
}
