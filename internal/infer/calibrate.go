package infer

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Simulation-based calibration: unknowns are drawn from their prior, observations made from them, and learned back. If model and sampler
// are right, the truth's rank among independent posterior draws is even over 0 to the number of draws, for every quantity (Talts, Betancourt,
// Simpson, Vehtari & Gelman, "Validating Bayesian inference algorithms with simulation-based calibration", arXiv:1804.06788, 2018).

// Rank is how many draws lie below the truth, 0 to len(draws); draws equal to it are put below or above by chance, so that quantities that
// often take one value (ran until the battery was empty) stay even.
func Rank(truth float64, draws []float64, rng *rand.Rand) int {
	below, equal := 0, 0
	for _, v := range draws {
		if v < truth {
			below++
		} else if v == truth {
			equal++
		}
	}
	return below + rng.IntN(equal+1)
}

// Uniformity is how even ranks are.
type Uniformity struct {
	Counts    []int     // ranks in each bin
	Expected  []float64 // what they would be on average, if even
	Low, High []int     // band of each count: all of them lie inside with at least the probability asked for, if even
	Outside   int       // bins outside their band
	// ChiSquare is Pearson's Σ(count - expected)²/expected and P the probability of so large a one, if even, with one degree of freedom less
	// than bins. P is an approximation that wants five expected in each bin.
	ChiSquare, P float64
}

// Even tells that neither test objects: P at least 1 - inside, and no bin outside its band.
func (u *Uniformity) Even(inside float64) bool { return u.P >= 1-inside && u.Outside == 0 }

// RanksEven sorts ranks among so many draws into bins and tests whether they are even. inside (0.99, say) is the probability with which
// even ranks keep all counts within the bands, which are exact binomial quantiles shared out over the bins (Bonferroni).
func RanksEven(ranks []int, draws, bins int, inside float64) (*Uniformity, error) {
	switch {
	case draws < 1 || bins < 2 || bins > draws+1:
		return nil, fmt.Errorf("infer: %d bins for ranks among %d draws: take 2 to %d", bins, draws, draws+1)
	case !(inside > 0 && inside < 1):
		return nil, fmt.Errorf("infer: a band for probability %g: it must lie between 0 and 1", inside)
	case len(ranks) < 5*bins:
		return nil, fmt.Errorf("infer: %d ranks are too few for %d bins: five are needed for each", len(ranks), bins)
	}
	u := &Uniformity{Counts: make([]int, bins)}
	values := make([]int, bins) // ranks that fall into each bin
	for r := range draws + 1 {
		values[r*bins/(draws+1)]++
	}
	for _, r := range ranks {
		if r < 0 || r > draws {
			return nil, fmt.Errorf("infer: rank %d among %d draws", r, draws)
		}
		u.Counts[r*bins/(draws+1)]++
	}
	for b, v := range values {
		p := float64(v) / float64(draws+1)
		expected := p * float64(len(ranks))
		low, high := binomialBand(len(ranks), p, 1-(1-inside)/float64(bins))
		u.Expected, u.Low, u.High = append(u.Expected, expected), append(u.Low, low), append(u.High, high)
		if u.Counts[b] < low || u.Counts[b] > high {
			u.Outside++
		}
		u.ChiSquare += math.Pow(float64(u.Counts[b])-expected, 2) / expected
	}
	u.P = distuv.ChiSquared{K: float64(bins - 1)}.Survival(u.ChiSquare)
	return u, nil
}

// RanksSpread tests whether intervals are too narrow or too wide: each rank among so many draws, put back to a standard normal score
// Φ⁻¹((rank + ½)/(draws + 1)), squared, and summed, follows χ² with as many degrees of freedom as ranks if posteriors are right. ratio is
// that sum over its degrees of freedom, above 1 for posteriors that are too narrow, p the probability of so far an end of χ², either way.
// Few simulations tell more by it than by counts in bins (Cook, Gelman & Rubin, J. Comput. Graph. Stat. 15, 2006, §3). Ranks are discrete,
// which makes the sum come out a little small: by a share of about 1/(draws + 1), so that some forty draws are needed.
func RanksSpread(ranks []int, draws int) (ratio, p float64, err error) {
	if len(ranks) == 0 || draws < 1 {
		return 0, 0, fmt.Errorf("infer: %d ranks among %d draws: there must be some", len(ranks), draws)
	}
	sum := 0.0
	for _, r := range ranks {
		if r < 0 || r > draws {
			return 0, 0, fmt.Errorf("infer: rank %d among %d draws", r, draws)
		}
		z := mathext.NormalQuantile((float64(r) + 0.5) / float64(draws+1))
		sum += z * z
	}
	below := distuv.ChiSquared{K: float64(len(ranks))}.CDF(sum)
	return sum / float64(len(ranks)), 2 * min(below, 1-below), nil
}

// Coverage is how often the middle part of the posterior held the truth.
type Coverage struct {
	Nominal   float64 // share of the draws in the interval
	Share     float64 // of the truths that lay inside
	Low, High float64 // exact binomial band of Share, if the interval is right
}

// Right tells that the share lies in its band.
func (c Coverage) Right() bool { return c.Low <= c.Share && c.Share <= c.High }

// CentralCoverage counts, from ranks among so many draws, how often the truth lay in the central interval of about the nominal share: from
// the draw number k to the k-th last, which holds it with probability Nominal = (draws + 1 - 2k)/(draws + 1). Nominal is the nearest
// to the one asked for. inside (0.95, say) is the probability of the band.
func CentralCoverage(ranks []int, draws int, nominal, inside float64) (Coverage, error) {
	k := int(math.Round((1 - nominal) / 2 * float64(draws+1)))
	switch {
	case len(ranks) == 0:
		return Coverage{}, fmt.Errorf("infer: no ranks, no coverage")
	case !(nominal > 0 && nominal < 1) || !(inside > 0 && inside < 1):
		return Coverage{}, fmt.Errorf("infer: an interval of share %g with a band of %g: both must lie between 0 and 1", nominal, inside)
	case k < 1 || 2*k > draws:
		return Coverage{}, fmt.Errorf("infer: %d draws are too few for an interval of share %g", draws, nominal)
	}
	in := 0
	for _, r := range ranks {
		if r < 0 || r > draws {
			return Coverage{}, fmt.Errorf("infer: rank %d among %d draws", r, draws)
		}
		if r >= k && r <= draws-k {
			in++
		}
	}
	c := Coverage{Nominal: float64(draws+1-2*k) / float64(draws+1)}
	low, high := binomialBand(len(ranks), c.Nominal, inside)
	n := float64(len(ranks))
	c.Share, c.Low, c.High = float64(in)/n, float64(low)/n, float64(high)/n
	return c, nil
}

// binomialBand is the shortest equal-tailed band of counts: below low, and above high, lies at most half of 1 - inside each.
func binomialBand(n int, p, inside float64) (low, high int) {
	tail := (1 - inside) / 2
	for low < n && binomialCDF(low, n, p) <= tail {
		low++
	}
	high = low
	for high < n && 1-binomialCDF(high, n, p) > tail {
		high++
	}
	return low, high
}

// binomialCDF is the probability of at most k of n, by the regularised incomplete beta function I_{1-p}(n-k, k+1).
func binomialCDF(k, n int, p float64) float64 {
	if k >= n {
		return 1
	}
	return mathext.RegIncBeta(float64(n-k), float64(k+1), 1-p)
}
