package infer

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// conjugate learns back one quantity z ~ N(0,1) from y = z + N(0, s²): the posterior is N(y/(1+s²), s²/(1+s²)). width is what the learner makes
// of its sd, shift what it adds to its mean, in sd.
func conjugate(count, draws int, width, shift float64) []int {
	rng := rand.New(rand.NewPCG(31, 8))
	const s = 0.8
	var ranks []int
	for range count {
		z := rng.NormFloat64()
		y := z + s*rng.NormFloat64()
		sd := s / math.Sqrt(1+s*s)
		x := make([]float64, draws)
		for i := range x {
			x[i] = y/(1+s*s) + shift*sd + width*sd*rng.NormFloat64()
		}
		ranks = append(ranks, Rank(z, x, rng))
	}
	return ranks
}

// The right posterior passes, wrong ones fail: overconfident and timid ones by both bands and coverage, a shifted one by the bands.
func TestCalibrationOfConjugateGaussian(t *testing.T) {
	for _, tc := range []struct {
		name         string
		width, shift float64
		even         bool
		right        [2]bool // coverage of the 90 and the 50 % interval
	}{
		{"right", 1, 0, true, [2]bool{true, true}},
		{"overconfident: sd too small by 0.6", 0.6, 0, false, [2]bool{false, false}},
		{"timid: sd too large by 1.5", 1.5, 0, false, [2]bool{false, false}},
		{"shifted by half an sd", 1, 0.5, false, [2]bool{false, false}},
	} {
		for _, draws := range []int{99, 102} { // the second does not share out evenly over 10 bins
			ranks := conjugate(2000, draws, tc.width, tc.shift)
			u, err := RanksEven(ranks, draws, 10, 0.99)
			if err != nil {
				t.Fatal(err)
			}
			if u.Even(0.99) != tc.even {
				t.Errorf("%s, %d draws: even %v: P %.4g, counts %v, bands %v to %v", tc.name, draws, u.Even(0.99), u.P, u.Counts, u.Low, u.High)
			}
			for k, nominal := range []float64{0.9, 0.5} {
				c, err := CentralCoverage(ranks, draws, nominal, 0.99)
				if err != nil {
					t.Fatal(err)
				}
				if c.Right() != tc.right[k] {
					t.Errorf("%s, %d draws: %+v", tc.name, draws, c)
				}
				if math.Abs(c.Nominal-nominal) > 0.012 {
					t.Errorf("%d draws: nominal %g for %g", draws, c.Nominal, nominal)
				}
			}
		}
	}
}

// The whole of it, small: search and sampler learn back linear problems drawn from their own prior, a one-sided observation among them.
func TestCalibrationOfSearchAndSampler(t *testing.T) {
	const problems, draws = 100, 99
	rng := rand.New(rand.NewPCG(37, 2))
	ranks := make([][]int, 2)
	for seed := range uint64(problems) {
		truth := []float64{rng.NormFloat64(), rng.NormFloat64()}
		level := truth[0] + 0.5*truth[1] + 0.4*rng.NormFloat64()
		// Either above 0.3 or below is seen, by a doubt of 0.02, too little for the shape of its edge to matter.
		sign := 1.0
		if truth[1]+0.02*rng.NormFloat64() > 0.3 {
			sign = -1
		}
		p := Problem{N: 2, M: 2, OneSided: []int{1}, Residuals: func(_ context.Context, z, dst []float64) error {
			dst[0] = (z[0] + 0.5*z[1] - level) / 0.4
			dst[1] = sign * (z[1] - 0.3) / 0.02
			return nil
		}}
		post := sample(t, p, solve(t, p, Options{}), SampleOptions{Seed: seed, Draws: draws, Calls: 6000})
		for i := range ranks {
			var x []float64
			for _, z := range post.Draws {
				x = append(x, z[i])
			}
			ranks[i] = append(ranks[i], Rank(truth[i], x, rng))
		}
	}
	for i := range ranks {
		u, err := RanksEven(ranks[i], draws, 10, 0.99)
		if err != nil {
			t.Fatal(err)
		}
		if !u.Even(0.99) {
			t.Errorf("unknown %d: P %.4g, counts %v, bands %v to %v", i, u.P, u.Counts, u.Low, u.High)
		}
	}
}

// A posterior whose sd is a fifth too small, learned with 200 draws each. After 1000 simulations every test objects, whatever the seed.
// After 200 no test can be sure: the central 90 % interval then holds the truth with 2Φ(0.8·1.645) - 1 = 0.81, and the share of seeds for
// which CentralCoverage objects must be the binomial probability of that; both tests together object in most. The right one keeps its level.
// The reference sums gonum's binomial probabilities one by one; binomialCDF has a continued fraction.
func TestCalibrationSeesAFifthTooNarrow(t *testing.T) {
	const draws, inside, runs = 200, 0.99, 60
	rng := rand.New(rand.NewPCG(53, 4))
	rejected := func(width float64, count int) (ranks, coverage, either int) {
		for range runs {
			r := make([]int, count)
			for i := range r {
				truth := rng.NormFloat64()
				x := make([]float64, draws)
				for k := range x {
					x[k] = width * rng.NormFloat64()
				}
				r[i] = Rank(truth, x, rng)
			}
			u, err := RanksEven(r, draws, 10, inside)
			if err != nil {
				t.Fatal(err)
			}
			c, err := CentralCoverage(r, draws, 0.9, inside)
			if err != nil {
				t.Fatal(err)
			}
			if !u.Even(inside) {
				ranks++
			}
			if !c.Right() {
				coverage++
			}
			if !u.Even(inside) || !c.Right() {
				either++
			}
		}
		return ranks, coverage, either
	}
	if ranks, coverage, _ := rejected(0.8, 1000); ranks < runs-1 || coverage < runs-1 { // each misses less than one in 200
		t.Errorf("too narrow, 1000 simulations: even ranks refused in %d, coverage in %d of %d", ranks, coverage, runs)
	}
	ranks, coverage, either := rejected(0.8, 200)
	if either < runs*3/4 {
		t.Errorf("too narrow, 200 simulations: even ranks refused in %d, coverage in %d, either in %d of %d", ranks, coverage, either, runs)
	}
	low, high := binomialBand(200, 1-20./201, inside)
	held := distuv.Binomial{N: 200, P: 2*distuv.UnitNormal.CDF(0.8*distuv.UnitNormal.Quantile(1-10./201)) - 1}
	power := 1.0
	for k := low; k <= high; k++ {
		power -= held.Prob(float64(k))
	}
	if got := float64(coverage) / runs; math.Abs(got-power) > 4*math.Sqrt(power*(1-power)/runs) {
		t.Errorf("coverage refused in %.2f of the seeds, closed form %.2f", got, power)
	}
	// Even objects with at most 0.01 for each of its two tests, coverage with 0.01: 0.03 of 60, more than 8 of which come about once in 10 000.
	if _, _, either := rejected(1, 200); either > 8 {
		t.Errorf("right, 200 simulations: refused in %d of %d", either, runs)
	}
}

// The chance that even ranks keep within all bands is at least what was asked for, and P is even: by simulation.
func TestUniformityTestKeepsItsLevel(t *testing.T) {
	rng := rand.New(rand.NewPCG(43, 6))
	const runs = 2000
	inside, small := 0, 0
	for range runs {
		ranks := make([]int, 200)
		for i := range ranks {
			ranks[i] = rng.IntN(100)
		}
		u, err := RanksEven(ranks, 99, 10, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if u.Outside == 0 {
			inside++
		}
		if u.P < 0.05 {
			small++
		}
	}
	se := math.Sqrt(0.05 * 0.95 / runs)
	if got := float64(inside) / runs; got < 0.95-4*se || got > 0.995 {
		t.Errorf("all bins inside in %.3f of the runs, 0.95 asked for", got)
	}
	if got := float64(small) / runs; math.Abs(got-0.05) > 4*se+0.005 { // 0.005: the approximation at 20 expected
		t.Errorf("P below 0.05 in %.3f of the runs", got)
	}
}

// Binomial tables: for n = 20, p = 0.5, P(X <= 5) = 0.0207 and P(X <= 4) = 0.0059, P(X <= 6) = 0.0577 (standard table; also
// Σ C(20,k)/2^20 by hand: 21700/1048576). So the equal-tailed 95 % band is 6 to 14.
func TestBinomialBand(t *testing.T) {
	if got := binomialCDF(5, 20, 0.5); math.Abs(got-21700./1048576) > 1e-12 {
		t.Errorf("P(X <= 5) = %.6f", got)
	}
	if low, high := binomialBand(20, 0.5, 0.95); low != 6 || high != 14 {
		t.Errorf("band %d to %d, table 6 to 14", low, high)
	}
	if low, high := binomialBand(3, 0.5, 0.99); low != 0 || high != 3 { // 1/8 in each end
		t.Errorf("band %d to %d of 3", low, high)
	}
}

func TestTiedRanksAreEven(t *testing.T) {
	rng := rand.New(rand.NewPCG(47, 1))
	var ranks []int
	for range 1000 { // a quantity that is 90 in four of ten cases, else below
		v := func() float64 { return min(90, 150*rng.Float64()) }
		draws := make([]float64, 19)
		for i := range draws {
			draws[i] = v()
		}
		ranks = append(ranks, Rank(v(), draws, rng))
	}
	if u, err := RanksEven(ranks, 19, 20, 0.99); err != nil || !u.Even(0.99) {
		t.Errorf("%v: %+v", err, u)
	}
}

func TestUnusableRanks(t *testing.T) {
	ranks := conjugate(100, 9, 1, 0)
	for _, tc := range []struct {
		ranks       []int
		draws, bins int
		inside      float64
		says        string
	}{
		{ranks, 9, 11, 0.9, "2 to 10"},
		{ranks, 9, 1, 0.9, "2 to 10"},
		{ranks, 9, 5, 1, "between 0 and 1"},
		{ranks[:20], 9, 5, 0.9, "too few"},
		{ranks, 5, 5, 0.9, "among 5 draws"},
	} {
		if _, err := RanksEven(tc.ranks, tc.draws, tc.bins, tc.inside); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%q: %v", tc.says, err)
		}
	}
	for _, tc := range []struct {
		ranks           []int
		draws           int
		nominal, inside float64
		says            string
	}{
		{nil, 9, 0.9, 0.9, "no ranks"},
		{ranks, 9, 1, 0.9, "between 0 and 1"},
		{ranks, 9, 0.99, 0.9, "too few"},
		{ranks, 3, 0.5, 0.9, "among 3 draws"},
	} {
		if _, err := CentralCoverage(tc.ranks, tc.draws, tc.nominal, tc.inside); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%q: %v", tc.says, err)
		}
	}
}
