package infer

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// byUnknown puts shares in the order of the unknowns.
func byUnknown(s *Shares) []Share {
	out := slices.Clone(s.Of)
	slices.SortFunc(out, func(a, b Share) int { return a.Unknown - b.Unknown })
	return out
}

func TestVarianceSharesAgainstClosedForms(t *testing.T) {
	normal := func(rng *rand.Rand, z []float64) {
		for i := range z {
			z[i] = rng.NormFloat64()
		}
	}
	const rho = 0.8
	// For the tied pair y = z₀ + z₁ with correlation ρ, Var = 2(1+ρ): E[y|z₀] = (1+ρ)z₀, so First = (1+ρ)/2; Var(z₀|z₁) = 1-ρ², so
	// Total = (1-ρ)/2. By hand.
	for _, tc := range []struct {
		name         string
		n            int
		draw         func(rng *rand.Rand, z []float64)
		answer       func(z []float64) float64
		first, total []float64
		slack        float64 // beyond four standard errors, for what the terms cannot follow
		overlap      bool
	}{
		{"linear: a²/Σa²", 4, normal, func(z []float64) float64 { return 3*z[0] - 2*z[1] + z[2] },
			[]float64{9. / 14, 4. / 14, 1. / 14, 0}, []float64{9. / 14, 4. / 14, 1. / 14, 0}, 0.005, false},
		{"product: only together", 3, normal, func(z []float64) float64 { return z[0] * z[1] },
			[]float64{0, 0, 0}, []float64{1, 1, 0}, 0.01, true},
		// z² has variance 2, ½z 1/4, z₀z₂ 1: by hand.
		{"square, line and product", 3, normal, func(z []float64) float64 { return z[0]*z[0] + z[1]/2 + z[0]*z[2] },
			[]float64{2 / 3.25, 0.25 / 3.25, 0}, []float64{3 / 3.25, 0.25 / 3.25, 1 / 3.25}, 0.01, true},
		{"tied pair", 3, func(rng *rand.Rand, z []float64) {
			normal(rng, z)
			z[1] = rho*z[0] + math.Sqrt(1-rho*rho)*z[1]
		}, func(z []float64) float64 { return z[0] + z[1] },
			[]float64{(1 + rho) / 2, (1 + rho) / 2, 0}, []float64{(1 - rho) / 2, (1 - rho) / 2, 0}, 0.005, true},
		// Ishigami function, a = 7, b = 0.1: first-order 0.3139, 0.4424, 0, total 0.5576, 0.4424, 0.2437 (Ishigami & Homma, ISUMA'90, 1990;
		// figures as in Saltelli et al., Global Sensitivity Analysis: The Primer, 2008).
		{"Ishigami", 3, func(rng *rand.Rand, z []float64) {
			for i := range z {
				z[i] = math.Pi * (2*rng.Float64() - 1)
			}
		}, func(z []float64) float64 {
			return math.Sin(z[0]) + 7*math.Pow(math.Sin(z[1]), 2) + 0.1*math.Pow(z[2], 4)*math.Sin(z[0])
		}, []float64{0.3139, 0.4424, 0}, []float64{0.5576, 0.4424, 0.2437}, 0.03, true},
	} {
		for _, count := range []int{400, 4000} {
			rng := rand.New(rand.NewPCG(19, uint64(count)))
			draws, answer := make([][]float64, count), make([]float64, count)
			for d := range draws {
				draws[d] = make([]float64, tc.n)
				tc.draw(rng, draws[d])
				answer[d] = tc.answer(draws[d])
			}
			s, err := VarianceShares(draws, answer, 3)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.IsSortedFunc(s.Of, func(a, b Share) int { return int(math.Copysign(1, b.First-a.First)) }) {
				t.Errorf("%s, %d draws: not ranked: %+v", tc.name, count, s.Of)
			}
			if s.Overlap != tc.overlap {
				t.Errorf("%s, %d draws: overlap %v", tc.name, count, s.Overlap)
			}
			for i, of := range byUnknown(s) {
				if tol := 4*of.FirstSE + tc.slack; math.Abs(of.First-tc.first[i]) > tol {
					t.Errorf("%s, %d draws: first-order share of %d is %.4f, closed form %.4f ± %.4f", tc.name, count, i, of.First, tc.first[i], tol)
				}
				if tol := 4*of.TotalSE + tc.slack; math.Abs(of.Total-tc.total[i]) > tol {
					t.Errorf("%s, %d draws: total share of %d is %.4f, closed form %.4f ± %.4f", tc.name, count, i, of.Total, tc.total[i], tol)
				}
				if count == 4000 && max(of.FirstSE, of.TotalSE) > 0.05 {
					t.Errorf("%s: standard errors %.3f and %.3f test nothing", tc.name, of.FirstSE, of.TotalSE)
				}
			}
		}
	}
}

// The bootstrap's standard error against the scatter of the shares over independent sets of draws.
func TestShareErrorsAreTheScatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(23, 5))
	var first, claimed []float64
	for range 60 {
		draws, answer := make([][]float64, 200), make([]float64, 200)
		for d := range draws {
			draws[d] = []float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
			answer[d] = 2*draws[d][0] + draws[d][1] + 0.3*draws[d][2]*draws[d][2]
		}
		s, err := VarianceShares(draws, answer, 3)
		if err != nil {
			t.Fatal(err)
		}
		of := byUnknown(s)[0]
		first, claimed = append(first, of.First), append(claimed, of.FirstSE)
	}
	_, variance := stat.MeanVariance(first, nil)
	mean, _ := stat.MeanVariance(claimed, nil)
	// 60 sets give the scatter to about 9 %; the bootstrap has its own 9 %, mostly averaged out: three times the first, and a little.
	if ratio := mean / math.Sqrt(variance); math.Abs(ratio-1) > 0.3 {
		t.Errorf("claimed error is %.2f of the scatter", ratio)
	}
}

// Many unknowns, few draws: those that say nothing must not get a share by luck, nor the one that does lose it.
func TestSharesOfManyUnknowns(t *testing.T) {
	rng := rand.New(rand.NewPCG(29, 7))
	const n, count = 40, 400
	draws, answer := make([][]float64, count), make([]float64, count)
	for d := range draws {
		for range n {
			draws[d] = append(draws[d], rng.NormFloat64())
		}
		answer[d] = 100 + 5*draws[d][7] + 3*draws[d][21]*draws[d][21] + 2*draws[d][3]*draws[d][30]
	}
	s, err := VarianceShares(draws, answer, 3)
	if err != nil {
		t.Fatal(err)
	}
	want := map[int][2]float64{7: {25. / 47, 25. / 47}, 21: {18. / 47, 18. / 47}, 3: {0, 4. / 47}, 30: {0, 4. / 47}} // variances 25, 9·2, 4
	for _, of := range s.Of {
		w := want[of.Unknown]
		if math.Abs(of.First-w[0]) > 4*of.FirstSE+0.03 || math.Abs(of.Total-w[1]) > 4*of.TotalSE+0.03 {
			t.Errorf("unknown %d: first %.3f ± %.3f, total %.3f ± %.3f, closed form %.3f, %.3f", of.Unknown, of.First, of.FirstSE, of.Total, of.TotalSE, w[0], w[1])
		}
	}
	if s.Of[0].Unknown != 7 || s.Of[1].Unknown != 21 {
		t.Errorf("ranked %v", s.Of[:2])
	}
	names := make([]string, n)
	names[7], names[21] = "the power", "the gap"
	got := s.Sentence("the minutes", names)
	for _, part := range []string{"of the variance of the minutes comes", "from the power", "from the gap"} {
		if !strings.Contains(got, part) {
			t.Errorf("%q lacks %q", got, part)
		}
	}
}

func TestUnusableDrawsForShares(t *testing.T) {
	draws := make([][]float64, 40)
	answer := make([]float64, 40)
	for d := range draws {
		draws[d] = []float64{float64(d), 5}
	}
	s, err := VarianceShares(draws, answer, 1)
	if err != nil || s.SD != 0 || s.Of[0].First != 0 || !strings.Contains(s.Sentence("the minutes", nil), "no doubt") {
		t.Errorf("constant answer: %+v, %v", s, err)
	}
	for d := range answer {
		answer[d] = 2 * draws[d][0]
	}
	if s, err = VarianceShares(draws, answer, 1); err != nil || math.Abs(s.Of[0].First-1) > 1e-6 || s.Of[1].First != 0 || s.Of[1].Total != 0 {
		t.Errorf("one unknown constant: %+v, %v", s, err)
	}
	for _, tc := range []struct {
		draws  [][]float64
		answer []float64
		says   string
	}{
		{draws[:10], answer[:10], "too few"},
		{draws, answer[:39], "one for each"},
		{draws, append(slices.Clone(answer[:39]), math.NaN()), "draw 40"},
		{append(slices.Clone(draws[:39]), []float64{1}), answer, "draw 40"},
		{append(slices.Clone(draws[:39]), []float64{1, math.Inf(1)}), answer, "unknown 2"},
	} {
		if _, err := VarianceShares(tc.draws, tc.answer, 1); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%q: %v", tc.says, err)
		}
	}
}
