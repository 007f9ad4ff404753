package infer

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// goodParetoK is the greatest shape of the weights' tail with which an importance sample may be trusted: Vehtari, Simpson, Gelman, Yao &
// Gabry, "Pareto smoothed importance sampling", J. Machine Learning Research 25 (2024), §3.
const goodParetoK = 0.7

// hopelessParetoK is from where on more draws would not mend it: the weights have no mean.
const hopelessParetoK = 1.0

// perDraw is how many fresh draws are weighed for each independent draw asked for, at first; mostWeighed is how often so many are added
// before it is given up.
const (
	perDraw     = 2
	mostWeighed = 4
)

// Weigh samples the posterior, where it is nearly Gaussian about its modes, in a small part of the calls that Sample takes: fresh draws
// of the modes' Gaussians, a little wider than these, are weighed by how much more or less the posterior itself has there (importance
// sampling: Hammersley & Handscomb, Monte Carlo Methods, 1964, §5.4), and drawn again by their weights. Where weights are so uneven
// that their tail cannot be trusted (Posterior.ParetoK), or that they are not worth the independent draws asked for, the status is
// CallLimit, and Sample with its walkers is the way to go on. The calls allowed are those of opt.
func Weigh(ctx context.Context, p Problem, fit *Result, opt SampleOptions) (*Posterior, error) {
	s, err := newSampler(p, fit, opt)
	if err != nil {
		return nil, err
	}
	o := s.o
	var places [][]float64
	var logs []float64 // log weights
	batch := perDraw * o.ESS
	s.e.expected = batch
	out := &Posterior{Status: CallLimit, Modes: len(s.refs), asked: o.ESS, rhat: o.RHat, ParetoK: math.NaN()}
	for range mostWeighed {
		if batch = min(batch, o.Calls-s.e.calls); batch < 1 {
			break
		}
		tries := make([][]float64, batch)
		for i := range tries {
			ref := &s.refs[pick(s.refs, s.rng)]
			tries[i] = ref.noise(s.rng)
			for k, m := range ref.mean {
				tries[i][k] += m
			}
		}
		costs, err := s.costs(ctx, tries)
		if err != nil {
			if cancelled(ctx, err) {
				out.Status, err = Cancelled, nil
			}
			out.Calls = s.e.calls
			return out, err
		}
		for i, c := range costs {
			if !math.IsInf(c, 1) {
				places, logs = append(places, tries[i]), append(logs, -c-logMixture(s.refs, tries[i]))
			}
		}
		out.Calls, out.Unusable = s.e.calls, s.odd
		if s.odd > o.Walkers && float64(s.odd) > mostOdd*float64(s.e.calls) {
			return out, s.oddError()
		}
		if len(places) < 2*p.N+10 {
			continue
		}
		out.weighed(places, logs, o, s.rng)
		if out.ParetoK < goodParetoK && slices.Min(out.ESS) >= float64(o.ESS) {
			out.Status = Converged
			return out, nil
		}
		if !(out.ParetoK < hopelessParetoK) {
			return out, nil // more of the same would not help
		}
		// at least as many again: the tail's shape is known to about 1/√(its length)
		batch = max(len(places), int(1.2*float64(o.ESS)/slices.Min(out.ESS)*float64(len(places)))-len(places))
		s.e.expect(s.e.calls + max(0, batch))
	}
	return out, nil
}

// weighed fills in what places with log weights tell.
func (p *Posterior) weighed(places [][]float64, logs []float64, o SampleOptions, rng *rand.Rand) {
	n := len(places[0])
	weights, k := paretoSmoothed(logs)
	p.ParetoK = k
	p.ESS = make([]float64, n)
	for i := range n {
		mean, spread := 0.0, 0.0
		for d, z := range places {
			mean += weights[d] * z[i]
		}
		for d, z := range places {
			spread += weights[d] * (z[i] - mean) * (z[i] - mean)
		}
		// what a mean by equal draws would vary by, over what that by weights does
		ofMean := 0.0
		for d, z := range places {
			ofMean += weights[d] * weights[d] * (z[i] - mean) * (z[i] - mean)
		}
		p.ESS[i] = spread / ofMean
	}
	// Equal states in the places' order: four for each place on average, so that what they tell is that of the weights.
	p.states = nil
	for _, d := range again(weights, 4*len(places), rng) {
		p.states = append(p.states, places[d])
	}
	p.Mean, p.Cov = meanCov(p.states)
	p.RHat = make([]float64, n)
	for i := range n {
		chains := make([][]float64, groups)
		for s, z := range p.states {
			g := s * groups / len(p.states)
			chains[g] = append(chains[g], z[i])
		}
		p.RHat[i] = RHat(chains)
	}
	p.Draws = nil
	for _, d := range again(weights, o.Draws, rng) {
		p.Draws = append(p.Draws, slices.Clone(places[d]))
	}
	rng.Shuffle(len(p.Draws), func(a, b int) { p.Draws[a], p.Draws[b] = p.Draws[b], p.Draws[a] })
}

// again draws count indices by weights that sum to 1, ascending and as even as can be: an index of weight w comes ⌊count·w⌋ or one more times
// (systematic resampling; Kitagawa, J. Comput. Graph. Stat. 5, 1996).
func again(weights []float64, count int, rng *rand.Rand) []int {
	out := make([]int, 0, count)
	u, sum := rng.Float64(), 0.0
	for d, w := range weights {
		sum += w * float64(count)
		for len(out) < count && float64(len(out))+u < sum {
			out = append(out, d)
		}
	}
	for len(out) < count { // rounding
		out = append(out, len(weights)-1)
	}
	return out
}

// paretoSmoothed turns log weights into weights that sum to 1, with the largest replaced by the expected order statistics of a
// generalised Pareto distribution fitted to them, and gives its shape k. Vehtari et al. (2024), §2.2 and appendix; the tail is
// min(n/5, 3√n) long.
func paretoSmoothed(logs []float64) (weights []float64, k float64) {
	n := len(logs)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(logs[a], logs[b]) })
	top := logs[order[n-1]]
	weights = make([]float64, n)
	for i, l := range logs {
		weights[i] = math.Exp(l - top)
	}
	tail := min(n/5, int(3*math.Sqrt(float64(n))))
	k = math.Inf(-1)
	if tail >= 5 {
		cut := weights[order[n-tail-1]]
		over := make([]float64, tail)
		for i := range over {
			over[i] = weights[order[n-tail+i]] - cut
		}
		if over[tail-1] > 1e-10 { // else all are the same: nothing to smooth
			var sigma float64
			k, sigma = generalisedPareto(over)
			for i := range over {
				q := (float64(i) + 0.5) / float64(tail)
				x := -sigma * math.Log1p(-q)
				if math.Abs(k) > 1e-12 {
					x = sigma / k * (math.Pow(1-q, -k) - 1)
				}
				weights[order[n-tail+i]] = min(1, cut+x)
			}
		}
	}
	sum := 0.0
	for _, w := range weights {
		sum += w
	}
	for i := range weights {
		weights[i] /= sum
	}
	return weights, k
}

// generalisedPareto fits shape and scale to sorted values above zero: Zhang & Stephens, Technometrics 51 (2009), with the weak prior on
// the shape of Vehtari et al. (2024), appendix C.
func generalisedPareto(x []float64) (k, sigma float64) {
	n := len(x)
	m := 30 + int(math.Sqrt(float64(n)))
	quarter := x[int(float64(n)/4+0.5)-1]
	if !(quarter > 0) {
		quarter = x[n-1] / float64(n)
	}
	theta, like := make([]float64, m), make([]float64, m)
	shape := func(t float64) float64 {
		sum := 0.0
		for _, v := range x {
			sum += math.Log1p(-t * v)
		}
		return sum / float64(n)
	}
	top := math.Inf(-1)
	for j := range theta {
		theta[j] = 1/x[n-1] + (1-math.Sqrt(float64(m)/(float64(j)+0.5)))/(3*quarter)
		s := shape(theta[j])
		like[j] = float64(n) * (math.Log(-theta[j]/s) - s - 1)
		top = max(top, like[j])
	}
	mean, total := 0.0, 0.0
	for j := range theta {
		w := math.Exp(like[j] - top)
		if math.IsNaN(w) {
			continue
		}
		mean, total = mean+w*theta[j], total+w
	}
	mean /= total
	k = shape(mean)
	sigma = -k / mean
	k = (k*float64(n) + 5) / (float64(n) + 10)
	return k, sigma
}

// oddError tells of too many tries without a usable number.
func (s *sampler) oddError() error {
	return fmt.Errorf("infer: %d of %d calls gave no usable number; the first: %w", s.odd, s.e.calls, s.oddest)
}
