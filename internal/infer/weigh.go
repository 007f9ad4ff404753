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

// mildlyBent is what a fresh draw must be worth, as a share for each unknown, for a quadratic to be asked: many unknowns that each bend a
// little are what it is for. A narrow curved valley in two or three would look straight to it, and the weights would not tell.
const mildlyBent = 0.8

// perDraw is how many draws are weighed for each independent draw asked for, at first; mostWeighed is in how many rounds at most.
const (
	perDraw     = 2
	mostWeighed = 5
)

// Weigh samples the posterior in a small part of the calls that Sample takes: draws of something near to it are weighed by how much more or
// less the posterior itself has there (importance sampling: Hammersley & Handscomb, Monte Carlo Methods, 1964, §5.4), and drawn again by
// their weights. First they are fresh draws of the modes' Gaussians, a little wider than these. Where these are not worth enough, and the
// unknowns many, they go on by draws of the posterior that a quadratic through all calls so far would have (see standIn), which knows how it
// bends, and of one through more calls. Where weights are so uneven that their tail cannot be trusted (Posterior.ParetoK), or that they
// are not worth the independent draws asked for, the status is CallLimit, and Sample with its walkers is the way to go on. The calls
// allowed are those of opt.
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
	var places [][]float64
	var weights []float64 // logs
	bent := false         // draws are of a stand-in
	for range mostWeighed {
		if batch = min(batch, o.Calls-s.e.calls); batch < 2*p.N+10 {
			break
		}
		var tries [][]float64
		var logs []float64
		if !bent {
			tries, logs = s.fresh(batch)
		} else if tries, logs = s.bent(fit, known, residuals, batch); tries == nil {
			break
		} else {
			places, weights = nil, nil
		}
		costs, seen, err := s.look(ctx, tries)
		if err != nil {
			if cancelled(ctx, err) {
				out.Status, err = Cancelled, nil
			}
			out.Calls = s.e.calls
			return out, err
		}
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
			continue
		}
		out.weighed(places, weights, o, s.rng)
		trusted := out.ParetoK < goodParetoK
		if trusted && slices.Min(out.ESS) >= float64(o.ESS) {
			out.Status = Converged
			return out, nil
		}
		switch {
		case bent: // as many as these would take, within reason
			batch = min(2*batch, max(batch, int(1.2*float64(o.ESS)/slices.Min(out.ESS)*float64(len(places)))))
		case slices.Min(out.ESS) >= math.Pow(mildlyBent, float64(p.N))*float64(len(places)):
			bent, batch = true, perDraw*o.ESS
		case !(out.ParetoK < hopelessParetoK):
			return out, nil
		default: // at least as many again: the tail's shape is known to about 1/√(its length)
			batch = max(len(places), int(1.2*float64(o.ESS)/slices.Min(out.ESS)*float64(len(places)))-len(places))
		}
		s.e.expect(s.e.calls + batch)
	}
	return out, nil
}

// bent draws from the posterior of a stand-in, with its log density but for a constant: nil where there is none.
func (s *sampler) bent(fit *Result, known, residuals [][]float64, count int) (tries [][]float64, logs []float64) {
	quick, err := newStandIn(fit, known, residuals)
	if err != nil {
		return nil, nil
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
	if tries = s.towards(cost, count); tries == nil {
		return nil, nil
	}
	logs = make([]float64, count)
	for i, z := range tries {
		logs[i] = -cost(z)
	}
	return tries, logs
}

// towards draws from the distribution of a cost that is quick to tell: fresh draws of the modes' Gaussians go there in stages, π ∝ G^(1-t) e^(-t
// cost), each so far that half the draws' worth is left, are drawn again by their weights and moved at that stage (a sequential Monte
// Carlo sampler: Del Moral, Doucet & Jasra, J. R. Stat. Soc. B 68, 2006, §3). nil where that takes too many stages.
func (s *sampler) towards(cost func(z []float64) float64, count int) [][]float64 {
	places, logs := s.fresh(count)
	beyond, weights := make([]float64, count), make([]float64, count)
	for stage, t := 0, 0.0; t < 1; stage++ {
		if stage == mostStages {
			return nil
		}
		for i, z := range places {
			if stage > 0 {
				logs[i] = logMixture(s.refs, z)
			}
			beyond[i] = -cost(z) - logs[i]
		}
		top := slices.Max(beyond)
		worth := func(dt float64) float64 {
			sum, squares := 0.0, 0.0
			for i, l := range beyond {
				weights[i] = math.Exp(dt * (l - top))
				sum, squares = sum+weights[i], squares+weights[i]*weights[i]
			}
			for i := range weights {
				weights[i] /= sum
			}
			return sum * sum / squares
		}
		lo, hi := 0.0, 1-t
		for range 30 {
			if worth(hi) >= float64(count)/2 {
				break
			}
			if mid := (lo + hi) / 2; worth(mid) >= float64(count)/2 {
				lo = mid
			} else {
				hi = mid
			}
		}
		worth(hi)
		t = min(1, t+hi)
		steps := stageSteps
		if 1-t < 1e-9 {
			t, steps = 1, lastSteps
		}
		var next [][]float64
		for _, d := range again(weights, count, s.rng) {
			next = append(next, s.slices(places[d], steps, func(z []float64) float64 {
				if t == 1 {
					return -cost(z)
				}
				return (1-t)*logMixture(s.refs, z) - t*cost(z)
			}))
		}
		places = next
	}
	return places
}

// Stages of drawing from a stand-in, and steps at each and at the last.
const (
	mostStages = 12
	stageSteps = 10
	lastSteps  = 80
)

// slices moves a place by some steps that leave a distribution as it is: each draws an ellipse through the place, by the Gaussian of the
// nearest mode, and takes a point of it whose density beyond that Gaussian's beats a random share of the present one (elliptical slices:
// Murray, Adams & MacKay 2010).
func (s *sampler) slices(z []float64, steps int, logDensity func(z []float64) float64) []float64 {
	ref := &s.refs[0]
	for k := range s.refs {
		if s.refs[k].logDensity(z) > ref.logDensity(z) {
			ref = &s.refs[k]
		}
	}
	beyond := func(z []float64) float64 { return logDensity(z) - ref.logDensity(z) }
	l := beyond(z)
	try := make([]float64, len(z))
	for range steps {
		floor := l - s.rng.ExpFloat64()
		nu := ref.noise(s.rng)
		angle := 2 * math.Pi * s.rng.Float64()
		lo, hi := angle-2*math.Pi, angle
		for range 100 { // the bracket halves about each time: beyond this the place stays
			sin, cos := math.Sincos(angle)
			for i, m := range ref.mean {
				try[i] = m + (z[i]-m)*cos + nu[i]*sin
			}
			if got := beyond(try); got > floor {
				z, l = slices.Clone(try), got
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
	return z
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
