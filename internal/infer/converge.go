package infer

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// RHat is the rank-normalised split R-hat of chains of one quantity, each in order of time: near 1 when the chains agree with each
// other, and each one's first half with its second. Below 1.01 is good. It is the larger of the one for the values (do the chains lie
// at the same place?) and the one for their distance to the median (do they spread alike?). It is +Inf where a value is not finite,
// or chains stand still at different places, and 1 when all values are the same; NaN with fewer than four values in a chain.
//
// Source: Vehtari, Gelman, Simpson, Carpenter & Bürkner, "Rank-normalization, folding, and localization: an improved R-hat for
// assessing convergence of MCMC", Bayesian Analysis 16 (2021), eqs. 1-4 and 14.
func RHat(chains [][]float64) float64 {
	var halves [][]float64
	var all []float64
	for _, c := range chains {
		h := len(c) / 2
		if h < 2 {
			return math.NaN()
		}
		halves = append(halves, c[:h], c[len(c)-h:]) // the middle one of an odd number belongs to neither
		all = append(all, c...)
	}
	if len(all) == 0 {
		return math.NaN()
	}
	for _, v := range all {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return math.Inf(1)
		}
	}
	slices.Sort(all)
	median := (all[(len(all)-1)/2] + all[len(all)/2]) / 2
	folded := make([][]float64, len(halves))
	for i, c := range halves {
		for _, v := range c {
			folded[i] = append(folded[i], math.Abs(v-median))
		}
	}
	return max(betweenWithin(rankNormal(halves)), betweenWithin(rankNormal(folded)))
}

// rankNormal replaces each value by the normal score of its rank among all, ties sharing their mean rank: Φ⁻¹((rank - 3/8)/(S + 1/4)),
// Vehtari et al. (2021) eq. 14.
func rankNormal(chains [][]float64) [][]float64 {
	type place struct {
		v    float64
		c, i int
	}
	var all []place
	out := make([][]float64, len(chains))
	for c, x := range chains {
		out[c] = make([]float64, len(x))
		for i, v := range x {
			all = append(all, place{v: v, c: c, i: i})
		}
	}
	slices.SortFunc(all, func(a, b place) int { return cmp.Compare(a.v, b.v) })
	for from := 0; from < len(all); {
		to := from
		for to < len(all) && all[to].v == all[from].v {
			to++
		}
		rank := float64(from+1+to) / 2
		score := distuv.UnitNormal.Quantile((rank - 0.375) / (float64(len(all)) + 0.25))
		for _, p := range all[from:to] {
			out[p.c][p.i] = score
		}
		from = to
	}
	return out
}

// betweenWithin is √(((n-1)/n W + B/n)/W) with W the mean of the chains' variances and B/n the variance of their means; Vehtari et al.
// (2021) eqs. 1-4. Chains have the same length or nearly: n is their mean length.
func betweenWithin(chains [][]float64) float64 {
	n, w := 0.0, 0.0
	means := make([]float64, len(chains))
	for i, c := range chains {
		mean, variance := stat.MeanVariance(c, nil)
		means[i] = mean
		n += float64(len(c)) / float64(len(chains))
		w += variance / float64(len(chains))
	}
	_, between := stat.MeanVariance(means, nil)
	total := (n-1)/n*w + between
	if total == 0 {
		return 1
	}
	return math.Sqrt(total / w)
}

// sokalWindow is how many autocorrelation times the sum runs over.
const sokalWindow = 5

// AutocorrelationTime is how many steps of a chain are worth one independent draw, τ = 1 + 2 Σ ρ(t), at least 1, for chains (all of
// one length) of one quantity that share one distribution: ρ is about their common mean, so that a chain that stays by itself counts as
// slow. The sum ends at the least window M >= 5 τ(M) (Sokal, "Monte Carlo methods in statistical mechanics", 1996, §3). enough is false
// when the chains are shorter than ten times that window's τ: τ is then a lower guess.
// All the chains together weigh as much as chains·steps/τ independent draws, so far as chains are independent of each other.
func AutocorrelationTime(chains [][]float64) (tau float64, enough bool) {
	if len(chains) == 0 || len(chains[0]) < 2 {
		return math.NaN(), false
	}
	n := len(chains[0])
	mean, count := 0.0, float64(n*len(chains))
	for _, c := range chains {
		for _, v := range c {
			mean += v / count
		}
	}
	moved := make([][]float64, len(chains))
	variance := 0.0
	for i, c := range chains {
		moved[i] = make([]float64, n)
		for t, v := range c {
			moved[i][t] = v - mean
			variance += (v - mean) * (v - mean) / count
		}
	}
	if variance == 0 {
		return math.NaN(), false
	}
	tau = 1
	for lag := 1; lag < n; lag++ {
		sum := 0.0
		for _, c := range moved {
			for t, v := range c[:n-lag] {
				sum += v * c[t+lag]
			}
		}
		tau += 2 * sum / (float64(len(chains)*(n-lag)) * variance)
		if float64(lag) >= sokalWindow*tau {
			return max(1, tau), float64(n) >= 10*tau
		}
	}
	return max(1, tau), false
}
