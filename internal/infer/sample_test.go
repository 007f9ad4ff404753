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
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

func sample(t *testing.T, p Problem, fit *Result, o SampleOptions) *Posterior {
	t.Helper()
	post, err := Sample(context.Background(), p, fit, o)
	if err != nil {
		t.Fatal(err)
	}
	return post
}

// linearModel is a random linear problem with its closed posterior N((AᵀA+I)⁻¹Aᵀb, (AᵀA+I)⁻¹).
func linearModel(t *testing.T, n, m int, seed uint64) (p Problem, mean *mat.VecDense, cov *mat.Dense) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 3))
	a := mat.NewDense(m, n, nil)
	b := make([]float64, m)
	for i := range m {
		b[i] = rng.NormFloat64()
		for k := range n {
			a.Set(i, k, 3*rng.NormFloat64())
		}
	}
	var h mat.Dense
	h.Mul(a.T(), a)
	for k := range n {
		h.Set(k, k, h.At(k, k)+1)
	}
	cov = new(mat.Dense)
	if err := cov.Inverse(&h); err != nil {
		t.Fatal(err)
	}
	var atb mat.VecDense
	atb.MulVec(a.T(), mat.NewVecDense(m, b))
	mean = new(mat.VecDense)
	mean.MulVec(cov, &atb)
	return affine(a, b), mean, cov
}

// Means and covariances within the Monte Carlo error the sample itself claims, over many seeds: the mean square of error over standard
// error is 1 if the claim is right, less if it is cautious. Standard errors: √(cᵢᵢ/ESS) for a mean, √((cᵢᵢcⱼⱼ + cᵢⱼ²)/ESS) for a
// covariance (Anderson, Introduction to Multivariate Statistical Analysis; from memory). The bound is the 99.9 % one of a mean square
// of as many independent normals as there are runs times unknowns.
func TestSampleOfLinearProblemIsTheClosedGaussian(t *testing.T) {
	for _, tc := range []struct{ n, m, runs int }{{1, 1, 15}, {5, 4, 15}, {12, 8, 4}, {40, 20, 1}} {
		p, mean, cov := linearModel(t, tc.n, tc.m, 7)
		fit := solve(t, p, Options{Tol: 1e-10, Bound: 9})
		var means, variances, others, count, pairs float64
		for seed := range uint64(tc.runs) {
			post := sample(t, p, fit, SampleOptions{Seed: seed, Workers: 2})
			if post.Status != Converged {
				t.Errorf("%d unknowns, seed %d: %s", tc.n, seed, post.Sentence(nil))
			}
			for i := range tc.n {
				ci := cov.At(i, i)
				means += math.Pow(post.Mean[i]-mean.AtVec(i), 2) / (ci / post.ESS[i])
				variances += math.Pow(post.Cov.At(i, i)-ci, 2) / (2 * ci * ci / post.ESS[i])
				count++
				for k := range i {
					ck, cik := cov.At(k, k), cov.At(i, k)
					others += math.Pow(post.Cov.At(i, k)-cik, 2) / ((ci*ck + cik*cik) / min(post.ESS[i], post.ESS[k]))
					pairs++
				}
			}
		}
		limit := distuv.ChiSquared{K: count}.Quantile(0.999) / count
		if means/count > limit || variances/count > limit || others/max(1, pairs) > limit {
			t.Errorf("%d unknowns: mean square of error over standard error: means %.2f, variances %.2f, covariances %.2f, limit %.2f",
				tc.n, means/count, variances/count, others/max(1, pairs), limit)
		}
	}
}

// valley is a curved one: z₁ is seen as ¾z₀² - ½, z₀ is not seen.
func valley(steepness float64) Problem {
	return Problem{N: 2, M: 1, Residuals: func(_ context.Context, z, dst []float64) error {
		dst[0] = steepness * (z[1] - 0.75*z[0]*z[0] + 0.5)
		return nil
	}}
}

// plane is mean and covariance of exp(-cost) of a problem of two unknowns, by the trapezoidal rule over ±bound. For smooth densities that
// vanish at the edges its error falls faster than any power of the step.
func plane(p Problem, bound float64) (mean [2]float64, cov [2][2]float64) {
	const steps = 800
	e := newEvaluator(p, Options{})
	var total float64
	var sum [2]float64
	var square [2][2]float64
	for a := range steps + 1 {
		for b := range steps + 1 {
			z := []float64{bound * (2*float64(a)/steps - 1), bound * (2*float64(b)/steps - 1)}
			r := make([]float64, p.M)
			_ = p.Residuals(context.Background(), z, r)
			w := math.Exp(-e.cost(z, r))
			total += w
			for i := range 2 {
				sum[i] += w * z[i]
				for k := range 2 {
					square[i][k] += w * z[i] * z[k]
				}
			}
		}
	}
	for i := range 2 {
		mean[i] = sum[i] / total
		for k := range 2 {
			cov[i][k] = square[i][k]/total - sum[i]/total*sum[k]/total
		}
	}
	return mean, cov
}

// Posteriors that are not Gaussian, against quadrature. Tolerance: four standard errors; that of a variance, which for these is less than
// √(6/ESS) of it (kurtosis below 7).
func TestSampleOfCurvedAndSplitPosteriors(t *testing.T) {
	for _, tc := range []struct {
		name string
		p    Problem
		o    Options
	}{
		{"valley", valley(3), Options{}},
		{"two places", twoPlaces(1.5, 0.5, 0.3, 4), Options{Starts: 9, Seed: 4, Step: 1e-3, Central: true}},
		{"two places far apart", twoPlaces(2.5, 0.5, 0.2, 6), Options{Starts: 9, Seed: 4, Step: 1e-3, Central: true}},
		{"a limit cuts", limited(40, -1), Options{}},
		{"prior cut by the bounds", affine(mat.NewDense(1, 2, []float64{2, 0}), []float64{3}), Options{Bound: 1.2}},
	} {
		fit := solve(t, tc.p, tc.o)
		post := sample(t, tc.p, fit, SampleOptions{Seed: 12, Workers: 2, Calls: 100000})
		bound := 4.0 // where not set: the default
		if tc.o.Bound > 0 {
			bound = tc.o.Bound
		}
		if post.Status != Converged || post.Modes != 1+len(fit.Others) {
			t.Errorf("%s: %d modes; %s", tc.name, post.Modes, post.Sentence(nil))
		}
		mean, cov := plane(tc.p, bound)
		for i := range 2 {
			if tol := 4 * math.Sqrt(cov[i][i]/post.ESS[i]); math.Abs(post.Mean[i]-mean[i]) > tol {
				t.Errorf("%s: mean %d is %.4f, quadrature %.4f ± %.4f", tc.name, i, post.Mean[i], mean[i], tol)
			}
			for k := range i + 1 {
				tol := 4 * math.Sqrt(6*cov[i][i]*cov[k][k]/min(post.ESS[i], post.ESS[k]))
				if got := post.Cov.At(i, k); math.Abs(got-cov[i][k]) > tol {
					t.Errorf("%s: cov %d %d is %.4f, quadrature %.4f ± %.4f", tc.name, i, k, got, cov[i][k], tol)
				}
			}
		}
	}
}

// Both places are visited, each by its share: the share by quadrature of the first unknown alone.
func TestBothModesVisited(t *testing.T) {
	const b, sd, sign, signSD = 2.5, 0.5, 0.2, 6.0
	var plus, minus float64
	for i := -40000; i <= 40000; i++ {
		z := float64(i) * 1e-4
		r0, r1 := (z*z-b*b)/sd, (z-sign)/signSD
		if d := math.Exp(-(z*z + r0*r0 + r1*r1) / 2); z > 0 {
			plus += d
		} else {
			minus += d
		}
	}
	want := plus / (plus + minus)
	p := twoPlaces(b, sd, sign, signSD)
	post := sample(t, p, solve(t, p, Options{Starts: 9, Seed: 4, Step: 1e-3, Central: true}), SampleOptions{Seed: 3, Calls: 100000})
	count := 0.0
	for _, z := range post.states {
		if z[0] > 0 {
			count++
		}
	}
	// The first unknown is little else than its sign, so its ESS is that of the share.
	if got := count / float64(len(post.states)); math.Abs(got-want) > 4*math.Sqrt(want*(1-want)/post.ESS[0]) {
		t.Errorf("share of the upper mode %.3f, quadrature %.3f, ESS %.0f", got, want, post.ESS[0])
	}
	draws := 0
	for _, z := range post.Draws {
		if z[0] > 0 {
			draws++
		}
	}
	if draws == 0 || draws == len(post.Draws) {
		t.Errorf("%d of %d draws in the upper mode", draws, len(post.Draws))
	}
}

// A normal cut sharply at b from above has mean -φ(b)/Φ(b), variance 1 - bφ/Φ - (φ/Φ)² (Johnson, Kotz & Balakrishnan, Continuous
// Univariate Distributions 1, §13.10; from memory), and quantile Φ⁻¹(p Φ(b)). The edge here is soft over 1/1000.
func TestOneSidedIsATruncatedNormal(t *testing.T) {
	for _, b := range []float64{0.5, -1.5} {
		p := limited(1000, b)
		post := sample(t, p, solve(t, p, Options{Bound: 9}), SampleOptions{Seed: 8})
		if post.Status != Converged {
			t.Fatal(post.Sentence(nil))
		}
		ratio := distuv.UnitNormal.Prob(b) / distuv.UnitNormal.CDF(b)
		mean, variance := -ratio, 1-b*ratio-ratio*ratio
		if got := post.Mean[1]; math.Abs(got-mean) > 4*math.Sqrt(variance/post.ESS[1])+0.002 {
			t.Errorf("limit %g: mean %.4f, closed form %.4f", b, got, mean)
		}
		if got := post.Cov.At(1, 1); math.Abs(got/variance-1) > 4*math.Sqrt(8/post.ESS[1]) { // kurtosis 9 at most: an exponential's
			t.Errorf("limit %g: variance %.4f, closed form %.4f", b, got, variance)
		}
		for _, share := range []float64{0.05, 0.25, 0.5, 0.75, 0.95} {
			// Binomial: the share of the sample below the closed quantile.
			below := 0.0
			q := distuv.UnitNormal.Quantile(share * distuv.UnitNormal.CDF(b))
			for _, z := range post.states {
				if z[1] < q {
					below++
				}
			}
			tol := 4*math.Sqrt(share*(1-share)/post.ESS[1]) + 0.003
			if got := below / float64(len(post.states)); math.Abs(got-share) > tol {
				t.Errorf("limit %g: %.3f of the sample below the quantile of %.2f", b, got, share)
			}
			if lo, hi := post.Quantile(1, share-0.005), post.Quantile(1, share+0.005); !(lo < post.Quantile(1, share) && post.Quantile(1, share) < hi) {
				t.Errorf("limit %g: quantile %.2f is not between its neighbours", b, share)
			}
		}
	}
}

// The curve of the network, in the posterior's own nonlinear shape, against importance sampling of the same posterior: independent draws
// from a wide Gaussian about the mode, weighed by posterior over Gaussian.
func TestNetworkPosteriorAgreesWithSlowTwin(t *testing.T) {
	p, _ := networkProblem(0.3)
	fit := solve(t, p, Options{Step: 1e-3, Central: true})
	post := sample(t, p, fit, SampleOptions{Seed: 5, Workers: 2})
	if post.Status != Converged {
		t.Error(post.Sentence(nil))
	}
	var chol mat.Cholesky
	if !chol.Factorize(fit.Cov) {
		t.Fatal("covariance")
	}
	var l mat.TriDense
	chol.LTo(&l)
	e := newEvaluator(p, Options{})
	rng := rand.New(rand.NewPCG(1, 77))
	var sum, square float64
	mean := make([]float64, 4)
	for range 40000 {
		z, x2 := slices.Clone(fit.Z), 0.0
		for i := range z {
			x := rng.NormFloat64()
			x2 += x * x
			for k := i; k < 4; k++ {
				z[k] += 1.4 * l.At(k, i) * x
			}
		}
		r := make([]float64, p.M)
		_ = p.Residuals(context.Background(), z, r)
		w := math.Exp(fit.Cost - e.cost(z, r) + x2/2)
		sum, square = sum+w, square+w*w
		for i := range mean {
			mean[i] += w * z[i]
		}
	}
	worth := sum * sum / square // Kish's effective size
	for i := range mean {
		tol := 4 * math.Sqrt(post.Cov.At(i, i)*(1/worth+1/post.ESS[i]))
		if math.Abs(post.Mean[i]-mean[i]/sum) > tol {
			t.Errorf("mean %d: %.4f, by weights %.4f ± %.4f", i, post.Mean[i], mean[i]/sum, tol)
		}
	}
}

func same(a, b *Posterior) bool {
	return slices.EqualFunc(a.Draws, b.Draws, slices.Equal[[]float64]) && slices.EqualFunc(a.states, b.states, slices.Equal[[]float64]) &&
		slices.Equal(a.Mean, b.Mean) && slices.Equal(a.ESS, b.ESS) && a.Calls == b.Calls && a.Kept == b.Kept && a.Unusable == b.Unusable
}

func TestSampleIsTheSameWhateverTheWorkers(t *testing.T) {
	p := twoPlaces(1.5, 0.5, 0.3, 4)
	odd := p
	odd.Residuals = func(ctx context.Context, z, dst []float64) error {
		err := p.Residuals(ctx, z, dst)
		if z[1] > 2.3 { // one prior draw in a hundred
			dst[0] = math.NaN()
		}
		return err
	}
	fit := solve(t, p, Options{Starts: 9, Seed: 4})
	for _, p := range []Problem{p, odd} {
		one := sample(t, p, fit, SampleOptions{Seed: 6, Calls: 3000})
		for _, workers := range []int{2, 7} {
			if other := sample(t, p, fit, SampleOptions{Seed: 6, Calls: 3000, Workers: workers}); !same(one, other) {
				t.Errorf("%d workers: %s\n1 worker: %s", workers, other.Sentence(nil), one.Sentence(nil))
			}
		}
		if other := sample(t, p, fit, SampleOptions{Seed: 7, Calls: 3000}); same(one, other) {
			t.Error("the seed makes no difference")
		}
	}
}

func TestSampleCancelledKeepsWhatThereIs(t *testing.T) {
	p, _ := networkProblem(0.3)
	fit := solve(t, p, Options{})
	for _, after := range []int{0, 1, 30, 150, 400, 1500} {
		ctx, cancel := context.WithCancel(context.Background())
		if after == 0 {
			cancel()
		}
		post, err := Sample(ctx, p, fit, SampleOptions{Workers: 2, Progress: func(n, _ int) {
			if n == after {
				cancel()
			}
		}})
		cancel()
		if err != nil || post.Status != Cancelled {
			t.Fatalf("after %d: %v, %v", after, post.Status, err)
		}
		if (len(post.Draws) > 0) != (after >= 400) || (post.Cov != nil) != (after >= 400) {
			t.Errorf("after %d: %d draws, covariance %v", after, len(post.Draws), post.Cov != nil)
		}
		if s := post.Sentence(nil); !strings.Contains(s, "cancelled") {
			t.Errorf("after %d: %q", after, s)
		}
		_, _, _ = post.Confounded(0.9), post.Narrowed(), post.Quantile(0, 0.5) // no panic
	}
}

func TestSampleOutOfCallsSaysSo(t *testing.T) {
	p := valley(30)
	last := 0
	post := sample(t, p, solve(t, p, Options{}), SampleOptions{Calls: 1500, Progress: func(calls, expected int) {
		if calls != last+1 || expected < calls {
			t.Errorf("call %d of %d after %d", calls, expected, last)
		}
		last = calls
	}})
	if post.Status != CallLimit || post.Calls > 1500 || post.Calls != last {
		t.Errorf("%v after %d calls, %d told", post.Status, post.Calls, last)
	}
	if s := post.Sentence([]string{"gap", "power"}); !strings.HasPrefix(s, "not converged") || !strings.Contains(s, "provisional") {
		t.Errorf("%q", s)
	}
}

func TestUnusableTriesAreCountedOrAnError(t *testing.T) {
	ok, _, _ := linearModel(t, 3, 2, 7)
	fit := solve(t, ok, Options{})
	boom := errors.New("the grid has no cells")
	var calls atomic.Int64
	for _, tc := range []struct {
		name string
		bad  func(z []float64) bool
		err  error
		want string
	}{
		{"rarely", func(z []float64) bool { return z[2] > 2.2 }, nil, ""},
		{"everywhere", func([]float64) bool { return true }, nil, "no usable number about the mode"},
		{"often", func(z []float64) bool { return math.Mod(math.Abs(1e4*z[0]), 1) < 0.2 }, nil, "gave no usable number"},
		{"failing", func([]float64) bool { return calls.Add(1) > 900 }, boom, "no cells"},
	} {
		p := ok
		p.Residuals = func(ctx context.Context, z, dst []float64) error {
			if !tc.bad(z) {
				return ok.Residuals(ctx, z, dst)
			}
			dst[0] = math.Inf(1)
			return tc.err
		}
		post, err := Sample(context.Background(), p, fit, SampleOptions{})
		switch {
		case tc.want == "":
			if err != nil || post.Unusable == 0 || !strings.Contains(post.Sentence(nil), "no usable number") {
				t.Errorf("%s: %v, %s", tc.name, err, post.Sentence(nil))
			}
		case err == nil || !strings.Contains(err.Error(), tc.want):
			t.Errorf("%s: %v", tc.name, err)
		}
		if tc.err != nil && (!errors.Is(err, boom) || len(post.Draws) == 0) {
			t.Errorf("%s: %v and %d draws", tc.name, err, len(post.Draws))
		}
	}
}

func TestUnusableSampling(t *testing.T) {
	p, _, _ := linearModel(t, 3, 2, 7)
	other, _, _ := linearModel(t, 4, 2, 7)
	fit := solve(t, p, Options{})
	for _, tc := range []struct {
		p    Problem
		fit  *Result
		o    SampleOptions
		says string
	}{
		{p, nil, SampleOptions{}, "no posterior without a mode"},
		{p, &Result{Z: make([]float64, 3)}, SampleOptions{}, "no posterior without a mode"},
		{other, fit, SampleOptions{}, "belong together"},
		{Problem{N: 3, M: 2}, fit, SampleOptions{}, "no residual function"},
		{p, fit, SampleOptions{Walkers: 20}, "multiple of 8"},
		{p, fit, SampleOptions{Walkers: 8}, "at least 16"},
		{p, fit, SampleOptions{Calls: 20}, "at least two for each"},
		{p, fit, SampleOptions{Draws: -1}, "at least one"},
	} {
		if _, err := Sample(context.Background(), tc.p, tc.fit, tc.o); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%q: %v", tc.says, err)
		}
	}
}

// Each move by itself leaves the posterior as it is, so a sample by any of them alone has the closed mean and variance. Checked one step at
// a time: walkers drawn from the posterior itself are still so distributed after steps of that move only. A wrong factor in its
// probability would show as a drift.
func TestEachMoveLeavesThePosteriorUnchanged(t *testing.T) {
	p := valley(1.5)
	fit := solve(t, p, Options{Bound: 9})
	refs, err := references(fit, 1)
	if err != nil {
		t.Fatal(err)
	}
	e := newEvaluator(p, Options{})
	costOf := func(z []float64) float64 {
		r := make([]float64, 1)
		_ = p.Residuals(context.Background(), z, r)
		return e.cost(z, r)
	}
	rng := rand.New(rand.NewPCG(2, 5))
	exact := func() []float64 { // z₁ given z₀ is Gaussian: N(k²f/(1+k²), 1/(1+k²)); z₀ has density φ(z₀) exp(-½f²k²/(1+k²)), by refusing
		const k2 = 1.5 * 1.5
		for {
			z0 := rng.NormFloat64()
			f := 0.75*z0*z0 - 0.5
			if rng.Float64() < math.Exp(-f*f/2*k2/(1+k2)) {
				return []float64{z0, k2*f/(1+k2) + rng.NormFloat64()/math.Sqrt(1+k2)}
			}
		}
	}
	mean, cov := plane(p, 6)
	const walkers, steps = 12000, 6
	for only := range Move(moves) {
		places := make([][]float64, walkers)
		for w := range places {
			places[w] = exact()
		}
		for range steps {
			for half := range 2 {
				var others [][]float64
				for w := 1 - half; w < walkers; w += 2 {
					others = append(others, places[w])
				}
				for w := half; w < walkers; w += 2 {
					m, try, logRatio := propose(nearGaussian, places[w], others, refs, rng)
					for m != only {
						m, try, logRatio = propose(nearGaussian, places[w], others, refs, rng)
					}
					if costOf(try) <= costOf(places[w])+logRatio+rng.ExpFloat64() {
						places[w] = try
					}
				}
			}
		}
		for i := range 2 {
			var got, got2 []float64
			for _, z := range places {
				got, got2 = append(got, z[i]), append(got2, (z[i]-mean[i])*(z[i]-mean[i]))
			}
			m, _ := stat.MeanVariance(got, nil)
			v, vv := stat.MeanVariance(got2, nil)
			if math.Abs(m-mean[i]) > 4*math.Sqrt(cov[i][i]/walkers) || math.Abs(v-cov[i][i]) > 4*math.Sqrt(vv/walkers) {
				t.Errorf("%v: unknown %d has mean %.4f and variance %.4f, quadrature %.4f and %.4f", only, i, m, v, mean[i], cov[i][i])
			}
		}
	}
}

func TestConfoundedFromTheSample(t *testing.T) {
	for _, tc := range []struct {
		name string
		n    int
		rows [][]float64
		want []string
	}{
		{"sum of a pair", 3, [][]float64{{10, 10, 0}, {0, 0, 5}}, []string{"only the sum of A and B is known"}},
		{"three together and a pair", 6, [][]float64{{9, 9, 0, 9, 0, 0}, {0, 0, 9, 0, -9, 0}},
			[]string{"only the balance of C against E is known", "only the sum of A, B and D is known"}},
		{"two threes", 6, [][]float64{{9, 9, 9, 0, 0, 0}, {0, 0, 0, 9, 9, -9}},
			[]string{"only the sum of A, B and C is known", "only the balance of D and E against F is known"}},
		{"nothing seen", 5, [][]float64{{0, 0, 0, 0, 0}}, nil},
	} {
		a := mat.NewDense(len(tc.rows), tc.n, slices.Concat(tc.rows...))
		p := affine(a, make([]float64, len(tc.rows)))
		post := sample(t, p, solve(t, p, Options{}), SampleOptions{Seed: 9})
		var got []string
		for _, g := range post.Confounded(0.9) {
			got = append(got, g.Sentence(letters))
		}
		if !slices.Equal(got, tc.want) {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.want)
		}
	}
}
