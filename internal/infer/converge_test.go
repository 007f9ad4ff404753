package infer

import (
	"math"
	"math/rand/v2"
	"testing"
)

// series is chains of a sum of sines, long enough to be awkward and short enough to be worked out elsewhere.
func series(chains, steps int, f func(k, t float64) float64) [][]float64 {
	out := make([][]float64, chains)
	for k := range out {
		for t := range steps {
			out[k] = append(out[k], f(float64(k), float64(t)))
		}
	}
	return out
}

// The reference figures are the published formulas (Vehtari et al. 2021, eqs. 1-4 and 14) worked out with numpy and the normal quantile
// of Python's standard library, outside this program.
func TestRHatAgreesWithPublishedFormulas(t *testing.T) {
	for _, tc := range []struct {
		name   string
		chains [][]float64
		want   float64
	}{
		{"at different places", series(4, 12, func(k, t float64) float64 { return math.Sin(1.7*t+k) + 0.2*k }), 1.024012954203},
		{"of different spread", series(4, 12, func(k, t float64) float64 { return (1 + k) * math.Sin(1.7*t+k) }), 1.113136846000},
		{"with ties", series(3, 12, func(k, t float64) float64 { return math.RoundToEven(2 * math.Sin(1.7*t+k)) }), 0.948472470167},
		{"of odd length, drifting", series(2, 13, func(k, t float64) float64 { return math.Sin(1.7*t+k) + 0.05*t }), 0.959639608251},
	} {
		if got := RHat(tc.chains); math.Abs(got-tc.want) > 1e-9 { // the quantiles' own rounding
			t.Errorf("%s: %.12f, reference %.12f", tc.name, got, tc.want)
		}
	}
}

func TestRHatOfUnusableChains(t *testing.T) {
	for _, tc := range []struct {
		name   string
		chains [][]float64
		want   float64
	}{
		{"too short", [][]float64{{1, 2, 3}, {1, 2, 3}}, math.NaN()},
		{"none", nil, math.NaN()},
		{"one value not finite", [][]float64{{1, 2, 3, 4}, {1, 2, math.NaN(), 4}}, math.Inf(1)},
		{"all the same", [][]float64{{1, 1, 1, 1}, {1, 1, 1, 1}}, 1},
		{"standing still apart", [][]float64{{1, 1, 1, 1}, {2, 2, 2, 2}}, math.Inf(1)},
	} {
		if got := RHat(tc.chains); got != tc.want && !(math.IsNaN(got) && math.IsNaN(tc.want)) {
			t.Errorf("%s: %g, want %g", tc.name, got, tc.want)
		}
	}
}

// Heavy tails have no variance, but ranks have: chains of a Cauchy distribution agree when they share it, and not when one is wider.
func TestRHatSeesSpreadInHeavyTails(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	cauchy := func(wide float64) [][]float64 {
		return series(4, 1000, func(k, _ float64) float64 {
			if k == 0 {
				return wide * math.Tan(math.Pi*(rng.Float64()-0.5))
			}
			return math.Tan(math.Pi * (rng.Float64() - 0.5))
		})
	}
	if got := RHat(cauchy(1)); got > goodRHat {
		t.Errorf("alike: %.4f", got)
	}
	if got := RHat(cauchy(3)); got < 1.02 {
		t.Errorf("one three times as wide: %.4f", got)
	}
}

// x' = a x + √(1-a²) ξ has ρ(t) = a^t, τ = (1+a)/(1-a). The window of 5τ leaves out about e^-10 of the sum; tolerance: four standard
// errors τ √(2(2M+1)/n), M = 5τ (Sokal 1996, eq. 3.19).
func TestAutocorrelationTimeOfFirstOrderChain(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 11))
	for _, a := range []float64{0, 0.5, 0.9} {
		const chains, steps = 20, 5000
		x := make([]float64, chains)
		for k := range x {
			x[k] = rng.NormFloat64()
		}
		tau, enough := AutocorrelationTime(series(chains, steps, func(k, _ float64) float64 {
			x[int(k)] = a*x[int(k)] + math.Sqrt(1-a*a)*rng.NormFloat64()
			return x[int(k)]
		}))
		want := (1 + a) / (1 - a)
		if tol := 4 * want * math.Sqrt(2*(10*want+1)/(chains*steps)); !enough || math.Abs(tau-want) > tol {
			t.Errorf("a = %g: τ = %.3f (enough: %v), closed form %.3f ± %.3f", a, tau, enough, want, tol)
		}
	}
}

func TestAutocorrelationTimeOfUnusableChains(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 13))
	for _, tc := range []struct {
		name   string
		chains [][]float64
	}{
		{"none", nil},
		{"one value", [][]float64{{1}}},
		{"all the same", [][]float64{{1, 1, 1}, {1, 1, 1}}},
		// Each chain by itself is white; that they stay apart is the slow part.
		{"each at its own place", series(4, 200, func(k, _ float64) float64 { return 20*k + rng.NormFloat64() })},
		{"drifting", series(4, 200, func(_, t float64) float64 { return t + rng.NormFloat64() })},
	} {
		if tau, enough := AutocorrelationTime(tc.chains); enough {
			t.Errorf("%s: τ = %g passes as known", tc.name, tau)
		}
	}
}
