package infer

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Move is a way a walker tries to go on. Each leaves the posterior unchanged, so any mixture of fixed shares does.
type Move int

// The moves.
const (
	// Stretch goes along the line to another walker: z' = zⱼ + s(z - zⱼ), density of s ∝ 1/√s on [½, 2], kept with probability
	// s^(N-1) π(z')/π(z). Goodman & Weare, Comm. App. Math. Comp. Sci. 5 (2010), eqs. 7-10.
	Stretch Move = iota
	// Differential goes along the difference of two others: z' = z + γ(zⱼ - zₖ) + ε, γ about 2.38/√(2N), every tenth time 1, which
	// leaps between modes. ter Braak, Statistics and Computing 16 (2006), eq. 2.
	Differential
	// Nearby mixes the place with a draw from a mode's Gaussian N(m, C), z' = m + √(1-β²)(z - m) + β ξ: it would keep every try if the
	// posterior were that Gaussian. Cotter, Roberts, Stuart & White, Statistical Science 28 (2013), with C for the prior.
	Nearby
	// Afresh draws from the mixture of the modes' Gaussians, wherever the walker is (Hastings, Biometrika 57 (1970), §2.5).
	Afresh
	moves int = iota
)

func (m Move) String() string {
	return [...]string{"stretch", "differential", "nearby", "afresh"}[m]
}

// nearGaussian are the shares of tries that walkers start with, farFromIt those they go on with when few fresh draws are kept in the
// first steps: Gaussians are then mostly wasted, and the other walkers know the shape better. Of fresh draws curved valleys kept 0.1 to
// 0.3 and took fewer calls by the second, linear, one-sided and two-mode problems kept 0.7 and took two to four times as many.
// mostlyFresh are those they go on with when, before that, most fresh draws are kept: such draws are independent at once, and the others only
// guard what the Gaussians may miss.
var (
	mostlyFresh  = [moves]float64{Stretch: 0.05, Differential: 0.1, Nearby: 0.1, Afresh: 0.75}
	nearGaussian = [moves]float64{Stretch: 0.15, Differential: 0.3, Nearby: 0.2, Afresh: 0.35}
	farFromIt    = [moves]float64{Stretch: 0.3, Differential: 0.55, Nearby: 0.05, Afresh: 0.1}
)

const (
	stretchLimit = 2.0
	leapEvery    = 10
	jitter       = 1e-4 // of the Gaussian's spread, so that walkers in a plane can leave it
	leastNearby  = 0.1  // β is spread log-evenly from here to 1
	widened      = 0.3  // the Gaussians are 1 + widened/√N times the mode's: tails a little wider than the posterior's
	leastShare   = 0.05 // of the walkers and fresh draws, for a mode whose own share is not below oddMode
	oddMode      = 1e-4
)

// reference is the Gaussian about one mode that the moves draw from.
type reference struct {
	share float64 // of fresh draws
	mean  []float64
	l     *mat.TriDense // L Lᵀ is its covariance
	logD  float64       // log det L
}

// references describes the modes of a fit. For one that one-sided residuals or bounds cut, the Gaussian has mean and covariance of its
// linearised draws.
func references(fit *Result, seed uint64) ([]reference, error) {
	var out []reference
	total := 0.0
	shares := fit.ModeShares()
	for k, r := range slices.Concat([]*Result{fit}, fit.Others) {
		if shares[k] < oddMode {
			continue
		}
		n := len(r.Z)
		g, limited, err := newGaussian(r)
		if err != nil {
			return nil, err
		}
		mean, l := g.mean, &g.l
		if limited {
			draws, err := Draws(r, 20*n+500, seed)
			if err != nil {
				return nil, err
			}
			var cov *mat.SymDense
			mean, cov = meanCov(draws[1:])
			var chol mat.Cholesky
			if !chol.Factorize(cov) {
				return nil, errors.New("infer: the covariance is not positive: no posterior")
			}
			l = &mat.TriDense{}
			chol.LTo(l)
		}
		ref := reference{share: max(shares[k], leastShare), mean: mean, l: l}
		ref.l.ScaleTri(1+widened/math.Sqrt(float64(n)), ref.l)
		for a := range n {
			ref.logD += math.Log(ref.l.At(a, a))
		}
		out = append(out, ref)
		total += ref.share
	}
	for k := range out {
		out[k].share /= total
	}
	return out, nil
}

// meanCov are mean and covariance (n-1 in its denominator) of points.
func meanCov(points [][]float64) ([]float64, *mat.SymDense) {
	n := len(points[0])
	mean := make([]float64, n)
	for _, z := range points {
		for i, v := range z {
			mean[i] += v / float64(len(points))
		}
	}
	sum := make([]float64, n*n)
	for _, z := range points {
		for i, v := range z {
			for k := i; k < n; k++ {
				sum[i*n+k] += (v - mean[i]) * (z[k] - mean[k])
			}
		}
	}
	cov := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			cov.SetSym(i, k, sum[i*n+k]/float64(len(points)-1))
		}
	}
	return mean, cov
}

// noise returns L·ξ, ξ standard normal.
func (r *reference) noise(rng *rand.Rand) []float64 {
	n := len(r.mean)
	xi, out := make([]float64, n), make([]float64, n)
	for i := range xi {
		xi[i] = rng.NormFloat64()
		for k := range i + 1 {
			out[i] += r.l.At(i, k) * xi[k]
		}
	}
	return out
}

// logDensity is that of N(mean, L Lᵀ), but for the constant.
func (r *reference) logDensity(z []float64) float64 {
	x := make([]float64, len(z)) // L⁻¹(z - mean)
	sum := 0.0
	for i := range x {
		x[i] = z[i] - r.mean[i]
		for k := range i {
			x[i] -= r.l.At(i, k) * x[k]
		}
		x[i] /= r.l.At(i, i)
		sum += x[i] * x[i]
	}
	return -sum/2 - r.logD
}

// pick chooses a mode by its share.
func pick(refs []reference, rng *rand.Rand) int {
	u := rng.Float64()
	for k := range refs[:len(refs)-1] {
		if u -= refs[k].share; u < 0 {
			return k
		}
	}
	return len(refs) - 1
}

// logMixture is the log density of fresh draws.
func logMixture(refs []reference, z []float64) float64 {
	logs := make([]float64, len(refs))
	for k := range refs {
		logs[k] = math.Log(refs[k].share) + refs[k].logDensity(z)
	}
	top := slices.Max(logs)
	sum := 0.0
	for _, l := range logs {
		sum += math.Exp(l - top)
	}
	return top + math.Log(sum)
}

// propose makes a try from z with the walkers of the other half, by a move of these shares. The try is kept with probability
// min(1, exp(logRatio) π(try)/π(z)).
func propose(shares [moves]float64, z []float64, others [][]float64, refs []reference, rng *rand.Rand) (m Move, try []float64, logRatio float64) {
	n := len(z)
	u := rng.Float64()
	for m = 0; int(m) < moves-1 && u >= shares[m]; m++ {
		u -= shares[m]
	}
	try = slices.Clone(z)
	switch m {
	case Stretch:
		from := others[rng.IntN(len(others))]
		// √s is even between √½ and √2: the density of s is then ∝ 1/√s.
		lo, hi := 1/math.Sqrt(stretchLimit), math.Sqrt(stretchLimit)
		s := lo + (hi-lo)*rng.Float64()
		s *= s
		for i := range try {
			try[i] = from[i] + s*(z[i]-from[i])
		}
		logRatio = float64(n-1) * math.Log(s)
	case Differential:
		a := rng.IntN(len(others))
		b := rng.IntN(len(others) - 1)
		if b >= a {
			b++
		}
		scale := 2.38 / math.Sqrt(2*float64(n)) * math.Exp(0.3*rng.NormFloat64())
		if rng.IntN(leapEvery) == 0 {
			scale = 1
		}
		little := refs[pick(refs, rng)].noise(rng)
		for i := range try {
			try[i] += scale*(others[a][i]-others[b][i]) + jitter*little[i]
		}
	case Nearby:
		ref := &refs[pick(refs, rng)]
		beta := math.Pow(leastNearby, rng.Float64())
		stay := math.Sqrt(1 - beta*beta)
		for i, v := range ref.noise(rng) {
			try[i] = ref.mean[i] + stay*(z[i]-ref.mean[i]) + beta*v
		}
		logRatio = ref.logDensity(z) - ref.logDensity(try)
	case Afresh:
		ref := &refs[pick(refs, rng)]
		for i, v := range ref.noise(rng) {
			try[i] = ref.mean[i] + v
		}
		logRatio = logMixture(refs, z) - logMixture(refs, try)
	}
	return m, try, logRatio
}
