package infer

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

func draw(t *testing.T, res *Result, n int, seed uint64, checks ...Check) [][]float64 {
	t.Helper()
	out, err := Draws(res, n, seed, checks...)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Mean and covariance of the draws against the Gaussian they come from. Tolerance: four Monte Carlo standard errors of plain draws,
// sd/√n for a mean and √((cᵢᵢcⱼⱼ + cᵢⱼ²)/n) for a covariance (Anderson, Introduction to Multivariate Statistical Analysis; from memory).
func TestDrawsHaveMeanAndCovariance(t *testing.T) {
	a := mat.NewDense(3, 3, []float64{2, 1, 0, 0, 1, -1, 1, 1, 1})
	res := solve(t, affine(a, []float64{1, 0.5, 2}), Options{Tol: 1e-12})
	const n = 4000
	draws := draw(t, res, n+1, 5)
	if !slices.Equal(draws[0], res.Z) {
		t.Errorf("first draw %v is not the mode %v", draws[0], res.Z)
	}
	x := mat.NewDense(n, 3, slices.Concat(draws[1:]...))
	var cov mat.SymDense
	stat.CovarianceMatrix(&cov, x, nil)
	for i := range 3 {
		ci := res.Cov.At(i, i)
		if mean := stat.Mean(mat.Col(nil, i, x), nil); math.Abs(mean-res.Z[i]) > 4*math.Sqrt(ci/n) {
			t.Errorf("mean %d: %g, mode %g", i, mean, res.Z[i])
		}
		for k := range 3 {
			ck, cik := res.Cov.At(k, k), res.Cov.At(i, k)
			if got := cov.At(i, k); math.Abs(got-cik) > 4*math.Sqrt((ci*ck+cik*cik)/n) {
				t.Errorf("cov %d %d: %g, Gaussian %g", i, k, got, cik)
			}
		}
	}
}

// A dozen draws are what a study can afford: their spread must be right even then. Plain draws would miss a variance by √(2/12) = 40 %
// at one standard error.
func TestFewDrawsAreEven(t *testing.T) {
	for _, count := range []int{2, 12, 100} {
		for seed := range uint64(5) {
			x := evenNormals(newRand(seed), count, 3)
			for a := range 3 {
				sum, sq := 0.0, 0.0
				seen := make([]int, count) // one in each equally likely part of the normal
				for _, p := range x {
					sum, sq = sum+p[a], sq+p[a]*p[a]
					seen[int(float64(count)*distuv.UnitNormal.CDF(p[a]))]++
				}
				if math.Abs(sum) > 1e-12 || math.Abs(sq/float64(count)-1) > 1e-12 {
					t.Errorf("%d points, seed %d, coordinate %d: mean %g, variance %g", count, seed, a, sum/float64(count), sq/float64(count))
				}
				if slices.Min(seen) != 1 {
					t.Errorf("%d points, seed %d, coordinate %d: strata %v", count, seed, a, seen)
				}
			}
		}
	}
}

func TestDrawsAreRepeatable(t *testing.T) {
	for _, limit := range []float64{0, -2} { // the Gaussian kind and the walk
		res := solve(t, limited(40, limit), Options{})
		a, b, other := draw(t, res, 9, 3), draw(t, res, 9, 3), draw(t, res, 9, 4)
		if !slices.EqualFunc(a, b, slices.Equal[[]float64]) {
			t.Errorf("limit %g: two calls differ", limit)
		}
		if slices.EqualFunc(a[1:], other[1:], slices.Equal[[]float64]) {
			t.Errorf("limit %g: the seed makes no difference", limit)
		}
	}
}

// limited has one free unknown and one that is known to lie below limit, softly over 1/steepness.
func limited(steepness, limit float64) Problem {
	return Problem{N: 2, M: 1, OneSided: []int{0}, Residuals: func(_ context.Context, z, dst []float64) error {
		dst[0] = steepness * (z[1] - limit)
		return nil
	}}
}

// softlyCut is mean and sd of the density φ(z) Φ(-k(z-b)), by the trapezoidal rule over ±9 in steps of 1e-4.
func softlyCut(k, b float64) (mean, sd float64) {
	var m0, m1, m2 float64
	for i := -90000; i <= 90000; i++ {
		z := float64(i) * 1e-4
		p := math.Exp(-z*z/2) * distuv.UnitNormal.CDF(-k*(z-b))
		m0, m1, m2 = m0+p, m1+p*z, m2+p*z*z
	}
	mean = m1 / m0
	return mean, math.Sqrt(m2/m0 - mean*mean)
}

// The posterior of z₁ is a normal cut at the limit, more or less softly. Steep limits at 3: hardly cut; 0: half; -2 and -3: rare, so that
// the walk has to find it, as for the soft one at -5. N(Z, Cov) alone would have sd 0.025 for the steep ones that cut. As a check of the
// reference: its mean is -k/√(1+k²) φ(h)/Φ(h), h = kb/√(1+k²) (O'Hagan & Leonard, Biometrika 63 (1976), 201-203; from memory).
func TestDrawsHonourOneSidedResiduals(t *testing.T) {
	for _, k := range []float64{1, 40} {
		for _, b := range []float64{-2, 0, 3} {
			h := k * b / math.Sqrt(1+k*k)
			want := -k / math.Sqrt(1+k*k) * distuv.UnitNormal.Prob(h) / distuv.UnitNormal.CDF(h)
			if mean, _ := softlyCut(k, b); math.Abs(mean-want) > 1e-6 {
				t.Fatalf("the reference is wrong: mean %g, want %g", mean, want)
			}
		}
	}
	const n = 3000
	for _, tc := range [][2]float64{{40, 3}, {40, 0}, {40, -2}, {40, -3}, {1, 0}, {1, -5}} {
		k, b := tc[0], tc[1]
		res := solve(t, limited(k, b), Options{Tol: 1e-10, Bound: 9})
		mean, sd := softlyCut(k, b)
		var z0, z1 []float64
		for _, z := range draw(t, res, n+1, 17)[1:] {
			z0, z1 = append(z0, z[0]), append(z1, z[1])
		}
		// Tolerance: four standard errors of plain draws; a cut normal's tail is near exponential, whose sd has standard error sd·√(2/n).
		if got := stat.Mean(z1, nil); math.Abs(got-mean) > 4*sd/math.Sqrt(n) {
			t.Errorf("steepness %g, limit %g: mean %.4f, quadrature %.4f", k, b, got, mean)
		}
		if got := stat.StdDev(z1, nil); math.Abs(got-sd) > 4*sd*math.Sqrt(2./n) {
			t.Errorf("steepness %g, limit %g: sd %.4f, quadrature %.4f", k, b, got, sd)
		}
		if got := stat.StdDev(z0, nil); math.Abs(got-1) > 4/math.Sqrt(2*n) {
			t.Errorf("steepness %g, limit %g: the free unknown has sd %.4f", k, b, got)
		}
		for _, v := range z1 {
			if v > b+8/k { // eight times the softness
				t.Fatalf("steepness %g, limit %g: a draw at %g", k, b, v)
			}
		}
	}
}

// At a bound the draws stay inside it.
func TestDrawsStayInBounds(t *testing.T) {
	res := solve(t, affine(mat.NewDense(1, 2, []float64{3, 0}), []float64{30}), Options{})
	if res.Z[0] != 4 {
		t.Fatalf("mode %v not on the bound", res.Z)
	}
	for _, z := range draw(t, res, 50, 2) {
		if math.Abs(z[0]) > 4 || math.Abs(z[1]) > 4 {
			t.Errorf("draw %v", z)
		}
	}
}

func TestChecksRefuseDraws(t *testing.T) {
	res := solve(t, affine(mat.NewDense(1, 2, []float64{1, 0}), []float64{0}), Options{})
	for _, z := range draw(t, res, 40, 2, func(z []float64) (bool, error) { return z[1] > 0, nil })[1:] {
		if z[1] <= 0 {
			t.Errorf("refused draw %v came through", z)
		}
	}
	out, err := Draws(res, 5, 2, func([]float64) (bool, error) { return false, nil })
	if !errors.Is(err, ErrFewDraws) || len(out) != 1 {
		t.Errorf("%d draws, %v", len(out), err)
	}
	boom := errors.New("no")
	if _, err := Draws(res, 5, 2, func([]float64) (bool, error) { return true, boom }); !errors.Is(err, boom) {
		t.Errorf("%v", err)
	}
	if _, err := Draws(res, 0, 2); err == nil {
		t.Error("no draws asked for, no error")
	}
	if _, err := Draws(nil, 3, 2); err == nil {
		t.Error("no result, no error")
	}
}
