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

// perDraw is how many draws are weighed for each independent draw asked for, at first; mostWeighed is in how many rounds at most.
const (
	perDraw     = 2
	mostWeighed = 4
)

// Weigh samples the posterior in a small part of the calls that Sample takes: draws of something near to it are weighed by how much more or
// less the posterior itself has there (importance sampling: Hammersley & Handscomb, Monte Carlo Methods, 1964, §5.4), and drawn again by
// their weights. First they are fresh draws of the modes' Gaussians, a little wider than these; where that does not do, of the posterior that
// a quadratic through all calls so far would have (see standIn), which knows how it bends, and of one through more calls. Where weights are
// so uneven that their tail cannot be trusted (Posterior.ParetoK), or that they are not worth the independent draws asked for, the status
// is CallLimit, and Sample with its walkers is the way to go on. The calls allowed are those of opt.
func Weigh(ctx context.Context, p Problem, fit *Result, opt SampleOptions) (*Posterior, error) {
	s, err := newSampler(p, fit, opt)
	if err != nil {
		return nil, err
	}
	o := s.o
	var known, residuals [][]float64 // all calls that gave numbers
	batch := perDraw * o.ESS
	s.e.expected = batch
	out := &Posterior{Status: CallLimit, Modes: len(s.refs), asked: o.ESS, rhat: o.RHat, ParetoK: math.NaN()}
	for round := range mostWeighed {
		if batch = min(batch, o.Calls-s.e.calls); batch < 2*p.N+10 {
			break
		}
		tries, logs, err := s.near(fit, known, residuals, batch, round)
		if err != nil {
			break // there is no stand-in
		}
		costs, seen, err := s.look(ctx, tries)
		if err != nil {
			if cancelled(ctx, err) {
				out.Status, err = Cancelled, nil
			}
			out.Calls = s.e.calls
			return out, err
		}
		var places [][]float64
		var weights []float64 // logs
		for i, c := range costs {
			if !math.IsInf(c, 1) {
				places, weights = append(places, tries[i]), append(weights, -c-logs[i])
				known, residuals = append(known, tries[i]), append(residuals, seen[i])
			}
		}
		out.Calls, out.Unusable = s.e.calls, s.odd
		if s.odd > o.Walkers && float64(s.odd) > mostOdd*float64(s.e.calls) {
			return out, s.oddError()
		}
		if len(places) < 2*p.N+10 {
			break
		}
		out.weighed(places, weights, o, s.rng)
		if out.ParetoK < goodParetoK && slices.Min(out.ESS) >= float64(o.ESS) {
			out.Status = Converged
			return out, nil
		}
		if round > 0 { // as many as these would take, within reason; the first say nothing of those by a stand-in
			batch = min(2*batch, max(batch, int(1.2*float64(o.ESS)/slices.Min(out.ESS)*float64(len(places)))))
		}
		s.e.expect(s.e.calls + batch)
	}
	return out, nil
}

// near draws from something near the posterior, with its log density but for a constant: the modes' Gaussians at first, then the posterior of
// a stand-in; an error where there is none.
func (s *sampler) near(fit *Result, known, residuals [][]float64, count, round int) (tries [][]float64, logs []float64, err error) {
	if round == 0 {
		tries, logs = s.fresh(count)
		return tries, logs, nil
	}
	quick, err := newStandIn(fit, known, residuals)
	if err != nil {
		return nil, nil, err
	}
	r := make([]float64, s.e.p.M)
	cost := func(z []float64) float64 {
		for _, v := range z {
			if !(math.Abs(v) <= s.e.o.Bound) {
				return math.Inf(1)
			}
		}
		quick.residuals(z, r)
		return s.e.cost(z, r)
	}
	many, shares := s.fresh(standInDraws * count)
	for i, z := range many {
		shares[i] = -cost(z) - shares[i]
	}
	top, sum := slices.Max(shares), 0.0
	for i, l := range shares {
		shares[i] = math.Exp(l - top)
		sum += shares[i]
	}
	for i := range shares {
		shares[i] /= sum
	}
	logs = make([]float64, count)
	for i, d := range again(shares, count, s.rng) {
		z, c := s.slices(many[d], cost)
		tries, logs[i] = append(tries, z), -c
	}
	return tries, logs, nil
}

// slices moves a place by some steps that leave the distribution of a cost as it is: each draws an ellipse through the place, by the
// Gaussian of the nearest mode, and takes a point of it whose likelihood beyond that Gaussian beats a random share of the present one
// (elliptical slices: Murray, Adams & MacKay 2010), so that places drawn again by uneven weights come apart (Gilks & Berzuini, J. R. Stat.
// Soc. B 63, 2001).
func (s *sampler) slices(z []float64, cost func(z []float64) float64) ([]float64, float64) {
	ref := &s.refs[0]
	for k := range s.refs {
		if s.refs[k].logDensity(z) > ref.logDensity(z) {
			ref = &s.refs[k]
		}
	}
	c := cost(z)
	try := make([]float64, len(z))
	for range standInSteps {
		beyond := -c - ref.logDensity(z)
		floor := beyond - s.rng.ExpFloat64()
		nu := ref.noise(s.rng)
		angle := 2 * math.Pi * s.rng.Float64()
		lo, hi := angle-2*math.Pi, angle
		for range 100 { // the bracket halves about each time: beyond this the place stays
			sin, cos := math.Sincos(angle)
			for i, m := range ref.mean {
				try[i] = m + (z[i]-m)*cos + nu[i]*sin
			}
			if got := cost(try); -got-ref.logDensity(try) > floor {
				z, c = slices.Clone(try), got
				break
			}
			if angle < 0 {
				lo = angle
			} else {
				hi = angle
			}
			angle = lo + (hi-lo)*s.rng.Float64()
		}
	}
	return z, c
}

// fresh are draws of the modes' Gaussians with their log density.
func (s *sampler) fresh(count int) (tries [][]float64, logs []float64) {
	tries, logs = make([][]float64, count), make([]float64, count)
	for i := range tries {
		ref := &s.refs[pick(s.refs, s.rng)]
		tries[i] = ref.noise(s.rng)
		for k, m := range ref.mean {
			tries[i][k] += m
		}
		logs[i] = logMixture(s.refs, tries[i])
	}
	return tries, logs
}

// What drawing from a stand-in takes, at some ten microseconds for each of its calls: so many fresh draws for each draw, weighed, and so many
// steps from there.
const (
	standInDraws = 10
	standInSteps = 20
)

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
