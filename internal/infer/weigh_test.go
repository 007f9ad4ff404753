package infer

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Linear residuals: the posterior is the Gaussian (JᵀJ + I)⁻¹ itself (Gelman et al., Bayesian Data Analysis, 3rd ed., §14.8), so all means and
// spreads lie within four standard errors of it, and the weights, those of a Gaussian drawn a little too wide, are nearly even.
func TestWeighLinear(t *testing.T) {
	j := [][]float64{{3, 1, 0}, {0, 1, 2}}
	p := Problem{N: 3, M: 2, Residuals: func(_ context.Context, z, dst []float64) error {
		for i := range dst {
			dst[i] = -1
			for k := range z {
				dst[i] += j[i][k] * z[k]
			}
		}
		return nil
	}}
	fit, err := MAP(context.Background(), p, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, seed := range []uint64{3, 19} {
		post, err := Weigh(context.Background(), p, fit, SampleOptions{Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		if post.Status != Converged || post.Calls > 1000 || len(post.Draws) != 400 {
			t.Errorf("%v, %d draws", post.Sentence([]string{"a", "b", "c"}), len(post.Draws))
		}
		for i := range 3 {
			sd, n := math.Sqrt(fit.Cov.At(i, i)), post.ESS[i]
			if d := math.Abs(post.Mean[i] - fit.Z[i]); d > 4*sd/math.Sqrt(n) {
				t.Errorf("mean %d off by %g of sd %g", i, d, sd)
			}
			if d := math.Abs(math.Sqrt(post.Cov.At(i, i))/sd - 1); d > 4/math.Sqrt(2*n) {
				t.Errorf("spread %d off by %g", i, d)
			}
		}
	}
}

// One unknown that is known to lie below 0.5, softly: exp(-½z²) Φ(-10(z - ½)), by quadrature. And where the Gaussian is far from the
// posterior Weigh says so: a ridge on a narrow circle.
func TestWeighBeyondGaussians(t *testing.T) {
	soft := Problem{N: 1, M: 1, OneSided: []int{0}, Residuals: func(_ context.Context, z, dst []float64) error { dst[0] = 10 * (z[0] - 0.5); return nil }}
	fit, err := MAP(context.Background(), soft, Options{})
	if err != nil {
		t.Fatal(err)
	}
	post, err := Weigh(context.Background(), soft, fit, SampleOptions{Seed: 5})
	if err != nil {
		t.Fatal(err)
	}
	total, mean := 0.0, 0.0
	for x := -4.0; x <= 4; x += 1e-3 {
		w := math.Exp(-x*x/2) * distuv.UnitNormal.CDF(-10*(x-0.5))
		total, mean = total+w, mean+w*x
	}
	if post.Status != Converged || math.Abs(post.Mean[0]-mean/total) > 4*math.Sqrt(post.Cov.At(0, 0)/post.ESS[0]) {
		t.Errorf("%s; mean %g, by quadrature %g", post.Sentence(nil), post.Mean[0], mean/total)
	}

	ring := Problem{N: 2, M: 1, Residuals: func(_ context.Context, z, dst []float64) error {
		dst[0] = 200 * (math.Hypot(z[0]-0.3, z[1]) - 1)
		return nil
	}}
	if fit, err = MAP(context.Background(), ring, Options{From: []float64{0.9, 0.6}}); err != nil {
		t.Fatal(err)
	}
	if post, err = Weigh(context.Background(), ring, fit, SampleOptions{Seed: 5}); err != nil || post.Status == Converged {
		t.Errorf("%v, %v: a Gaussian does not do for a ring", err, post.Status)
	}
}

// Ten pairs of unknowns, each with one reading that bends a little, r = 3(z₁ + 0.12 z₀² - ½): each pair by quadrature over z₀, given which z₁ is
// Gaussian. Gaussians about the mode are worth little for all twenty together, a quadratic through their calls knows them all.
func TestWeighManyBentUnknowns(t *testing.T) {
	const pairs, a = 10, 3.0
	centre := func(z0 float64) float64 { return 0.5 - 0.12*z0*z0 }
	p := Problem{N: 2 * pairs, M: pairs, Residuals: func(_ context.Context, z, dst []float64) error {
		for i := range dst {
			dst[i] = a * (z[2*i+1] - centre(z[2*i]))
		}
		return nil
	}}
	fit, err := MAP(context.Background(), p, Options{Central: true})
	if err != nil {
		t.Fatal(err)
	}
	var total, mean1 float64 // z₁ given z₀: mean k c, variance 1/(1+a²), k = a²/(1+a²); z₀ by exp(-½z₀² - ½k c²)
	var squares [2]float64
	k := a * a / (1 + a*a)
	for x := -6.0; x <= 6; x += 1e-3 {
		c := centre(x)
		w := math.Exp(-x*x/2 - k*c*c/2)
		total, mean1 = total+w, mean1+w*k*c
		squares[0], squares[1] = squares[0]+w*x*x, squares[1]+w*(k*k*c*c+1/(1+a*a))
	}
	mean := [2]float64{0, mean1 / total}
	sd := [2]float64{math.Sqrt(squares[0] / total), math.Sqrt(squares[1]/total - mean[1]*mean[1])}
	const seed = 23
	post, err := Weigh(context.Background(), p, fit, SampleOptions{Seed: seed, ESS: 400})
	if err != nil {
		t.Fatal(err)
	}
	if post.Status != Converged || post.Calls > 2400 {
		t.Fatalf("%s", post.Sentence(nil))
	}
	for i := range p.N {
		if d := math.Abs(post.Mean[i] - mean[i%2]); d > 4*sd[i%2]/math.Sqrt(post.ESS[i]) {
			t.Errorf("mean of %d is %.4f, by quadrature %.4f, worth %.0f draws", i, post.Mean[i], mean[i%2], post.ESS[i])
		}
		// a variance's standard error is √((κ-1)/n) of it, κ about a normal's, 3
		if d := math.Abs(post.Cov.At(i, i)/(sd[i%2]*sd[i%2]) - 1); d > 5*math.Sqrt(2/post.ESS[i]) {
			t.Errorf("sd of %d is %.4f, by quadrature %.4f, worth %.0f draws", i, math.Sqrt(post.Cov.At(i, i)), sd[i%2], post.ESS[i])
		}
	}
}

// The shape fitted to exact quantiles of generalised Pareto distributions, x = ((1-q)^-k - 1)/k, is theirs but for the pull of the weak prior,
// (k n + 5)/(n + 10) towards ½.
func TestParetoShape(t *testing.T) {
	const n = 400
	for _, k := range []float64{-0.3, 0.2, 0.5, 0.9} {
		x := make([]float64, n)
		for i := range x {
			x[i] = (math.Pow(1-(float64(i)+0.5)/n, -k) - 1) / k
		}
		got, sigma := generalisedPareto(x)
		if want := (k*n + 5) / (n + 10); math.Abs(got-want) > 0.05 || math.Abs(sigma-1) > 0.1 {
			t.Errorf("shape %g, scale %g for %g and 1", got, sigma, want)
		}
	}
}

// Ranks made by scores of a wider normal than the draws' are told apart; right ones are not, at their rate.
func TestRanksSpread(t *testing.T) {
	rng := newRand(8)
	const draws, n = 39, 60
	odd := map[float64]int{}
	for range 200 {
		for _, sd := range []float64{1, 1.5} {
			var ranks []int
			for range n {
				u := distuv.UnitNormal.CDF(sd * rng.NormFloat64())
				ranks = append(ranks, min(draws, int(u*(draws+1))))
			}
			ratio, p, err := RanksSpread(ranks, draws)
			if err != nil {
				t.Fatal(err)
			}
			if p < 0.05 {
				odd[sd]++
			}
			if sd == 1.5 && ratio < 1 {
				t.Errorf("ratio %g for posteriors two thirds as wide as they should be", ratio)
			}
		}
	}
	// 10 of 200 expected; 24 lies beyond four standard deviations of a binomial
	if odd[1] > 24 || odd[1.5] < 180 {
		t.Errorf("of 200 sets of right ranks %d were doubted, of wrong ones %d", odd[1], odd[1.5])
	}
	if _, _, err := RanksSpread([]int{40}, draws); err == nil {
		t.Error("a rank beyond the draws")
	}
}
