package infer

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// normals is count draws of n standard normals.
func normals(seed uint64, count, n int) [][]float64 {
	rng := rand.New(rand.NewPCG(seed, 41))
	out := make([][]float64, count)
	for d := range out {
		for range n {
			out[d] = append(out[d], rng.NormFloat64())
		}
	}
	return out
}

// of is a function of the scores at every draw.
func of(draws [][]float64, f func(z []float64) float64) []float64 {
	var out []float64
	for _, z := range draws {
		out = append(out, f(z))
	}
	return out
}

// A linear Gaussian model has the same posterior variance whatever is read: that of the conjugate rule (JᵀJ/err² + I)⁻¹, here by gonum's
// inverse of the information, where the code uses the covariance of the readings.
func TestNarrowingOfLinearModelIsTheConjugateRule(t *testing.T) {
	draws := normals(3, 20000, 4)
	answer := func(z []float64) float64 { return 10 + 2*z[0] - z[1] + 0.5*z[2] }
	for _, tc := range []struct {
		name string
		rows [][]float64 // of the readings
		sd   []float64
	}{
		{"one, of the answer's largest part", [][]float64{{3, 0, 0, 0}}, []float64{1.5}},
		{"one, of everything", [][]float64{{2, 1, -1, 2}}, []float64{0.3}},
		{"one that has nothing to do with it", [][]float64{{0, 0, 0, 5}}, []float64{0.1}},
		{"three together", [][]float64{{1, 1, 0, 0}, {0, 20, 1, 0}, {1, 0, 0, 1}}, []float64{0.5, 30, 0.2}},
		{"twice the same", [][]float64{{1, 0, 0, 0}, {1, 0, 0, 0}}, []float64{1, 1}},
	} {
		h := mat.NewDense(4, 4, nil)
		var readings [][]float64
		for k, row := range tc.rows {
			readings = append(readings, of(draws, func(z []float64) float64 { return 300 + floats.Dot(row, z) }))
			for i := range 4 {
				for j := range 4 {
					h.Set(i, j, h.At(i, j)+row[i]*row[j]/(tc.sd[k]*tc.sd[k]))
				}
			}
		}
		for i := range 4 {
			h.Set(i, i, h.At(i, i)+1)
		}
		var post mat.Dense
		if err := post.Inverse(h); err != nil {
			t.Fatal(err)
		}
		a := mat.NewVecDense(4, []float64{2, -1, 0.5, 0})
		before, after := mat.Dot(a, a), mat.Inner(a, &post, a)
		got, err := ExpectedNarrowing(of(draws, answer), readings, tc.sd)
		if err != nil {
			t.Fatal(err)
		}
		if want := 1 - after/before; math.Abs(got.Part-want) > 4*got.PartSE+1e-3 || got.PartSE > 0.02 {
			t.Errorf("%s: part %.4f ± %.4f, conjugate rule %.4f", tc.name, got.Part, got.PartSE, want)
		}
		// The sd of a normal from n draws has standard error sd/√(2n).
		if math.Abs(got.BeforeSD/math.Sqrt(before)-1) > 4/math.Sqrt(2*20000) || math.Abs(got.AfterSD-got.BeforeSD*math.Sqrt(1-got.Part)) > 1e-12 {
			t.Errorf("%s: %+v, sd before %.4f", tc.name, got, math.Sqrt(before))
		}
	}
}

// With few draws the figure must not be larger for it: the mean over many small sets is that of one large one, also where there is nothing
// to learn (up to the cut at zero, half of the scatter 1/n).
func TestNarrowingFromFewDrawsIsNotTooHopeful(t *testing.T) {
	for _, tie := range []float64{0, 0.5, 0.9} {
		sum := 0.0
		const sets, count = 400, 60
		for seed := range uint64(sets) {
			draws := normals(100+seed, count, 4)
			answer := of(draws, func(z []float64) float64 { return z[0] })
			readings := [][]float64{
				of(draws, func(z []float64) float64 { return tie*z[0] + math.Sqrt(1-tie*tie)*z[1] }),
				of(draws, func(z []float64) float64 { return z[2] }),
				of(draws, func(z []float64) float64 { return z[3] }),
			}
			got, err := ExpectedNarrowing(answer, readings, []float64{0.1, 0.1, 0.1})
			if err != nil {
				t.Fatal(err)
			}
			sum += got.Part
		}
		want := tie * tie / 1.01
		if got := sum / sets; math.Abs(got-want) > 0.025 { // uncorrected: 3/60 = 0.05 too much at no tie
			t.Errorf("tie %g: mean part %.4f, closed form %.4f", tie, got, want)
		}
	}
}

// expectedVariance is E[Var(answer | reading)] of one standard-normal unknown by the nested sums themselves: over a fine grid of what could be
// read, the posterior on a fine grid of the unknown and its variance of the answer.
func expectedVariance(answer, reading func(z float64) float64, errorSD float64) (before, after float64) {
	const dz = 0.02
	var zs, prior []float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for z := -6.0; z <= 6; z += dz {
		zs, prior = append(zs, z), append(prior, math.Exp(-z*z/2)*dz/math.Sqrt(2*math.Pi))
		lo, hi = min(lo, reading(z)), max(hi, reading(z))
	}
	variance := func(w []float64) (total, v float64) {
		var s1, s2 float64
		for i, z := range zs {
			a := answer(z)
			total, s1, s2 = total+w[i], s1+w[i]*a, s2+w[i]*a*a
		}
		return total, s2/total - s1/total*s1/total
	}
	_, before = variance(prior)
	dy := errorSD / 10
	w := make([]float64, len(zs))
	for y := lo - 6*errorSD; y <= hi+6*errorSD; y += dy {
		for i, z := range zs {
			e := (y - reading(z)) / errorSD
			w[i] = prior[i] * math.Exp(-e*e/2) / (errorSD * math.Sqrt(2*math.Pi))
		}
		if p, v := variance(w); p > 1e-12 {
			after += p * v * dy
		}
	}
	return before, after
}

// Against the nested expectation: equal where all is linear, near it where it bends a little, and never below it.
func TestNarrowingAgainstNestedSums(t *testing.T) {
	draws := normals(7, 40000, 1)
	for _, tc := range []struct {
		name            string
		answer, reading func(z float64) float64
		errorSD, loose  float64
	}{
		{"linear", func(z float64) float64 { return 3 * z }, func(z float64) float64 { return 2*z + 1 }, 1, 0},
		{"minutes that bend", func(z float64) float64 { return 24 * math.Exp(0.25*z) }, func(z float64) float64 { return 60 - 8*z }, 6, 0.02},
		{"both bend", func(z float64) float64 { return math.Exp(0.3 * z) }, func(z float64) float64 { return 40 * math.Exp(-0.4*z) }, 10, 0.06},
	} {
		before, after := expectedVariance(tc.answer, tc.reading, tc.errorSD)
		want := 1 - after/before
		got, err := ExpectedNarrowing(of(draws, func(z []float64) float64 { return tc.answer(z[0]) }),
			[][]float64{of(draws, func(z []float64) float64 { return tc.reading(z[0]) })}, []float64{tc.errorSD})
		if err != nil {
			t.Fatal(err)
		}
		tol := 4*got.PartSE + 1e-3
		if got.Part > want+tol || got.Part < want-tol-tc.loose {
			t.Errorf("%s: part %.4f ± %.4f, nested %.4f", tc.name, got.Part, got.PartSE, want)
		}
	}
	if before, after := expectedVariance(func(z float64) float64 { return 3 * z }, func(z float64) float64 { return 2*z + 1 }, 1); math.Abs(before-9) > 1e-6 || math.Abs(after-9./5) > 1e-6 {
		t.Errorf("the nested sums are wrong: %g, %g; conjugate rule 9, 9/(1+4)", before, after)
	}
}

func TestUnusableReadings(t *testing.T) {
	a := of(normals(1, 40, 1), func(z []float64) float64 { return z[0] })
	still := make([]float64, 40)
	if got, err := ExpectedNarrowing(still, [][]float64{a}, []float64{1}); err != nil || got.Part != 0 || got.AfterSD != 0 {
		t.Errorf("an answer without doubt: %+v, %v", got, err)
	}
	if got, err := ExpectedNarrowing(a, [][]float64{still}, []float64{1}); err != nil || got.Part != 0 || got.AfterSD != got.BeforeSD {
		t.Errorf("a reading that is always the same: %+v, %v", got, err)
	}
	for _, tc := range []struct {
		answer   []float64
		readings [][]float64
		sd       []float64
		says     string
	}{
		{a, nil, nil, "at least one"},
		{a, [][]float64{a}, []float64{1, 1}, "one error for each"},
		{a, [][]float64{a}, []float64{0}, "must be positive"},
		{a, [][]float64{a[:39]}, []float64{1}, "reading 1"},
		{a[:20], [][]float64{a[:20]}, []float64{1}, "too few"},
		{a, [][]float64{a, a, a, a, a}, []float64{1, 1, 1, 1, 1}, "ten for each"},
		{append(slices.Clone(a[:39]), math.Inf(1)), [][]float64{a}, []float64{1}, "draw 40"},
	} {
		if _, err := ExpectedNarrowing(tc.answer, tc.readings, tc.sd); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%q: %v", tc.says, err)
		}
	}
}
