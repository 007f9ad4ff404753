package infer

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/mat"
)

// SampleOptions steer the sampling of the posterior. The zero value is a sensible choice for a model of milliseconds.
type SampleOptions struct {
	Workers int // concurrent calls; zero takes 1. The result does not depend on it.
	Calls   int // calls of the residuals allowed; zero takes 20 000
	Walkers int // walkers, a multiple of 8; zero takes 2N + 2 rounded up, at least 24
	Draws   int // draws handed out; zero takes 400
	ESS     int // independent draws every unknown must be worth; zero takes 400
	// RHat must every unknown's be below; zero takes 1.01. Its own noise is about 1 + 2/ESS for each group of walkers, so that fewer
	// draws ask for a larger one.
	RHat float64
	Seed uint64
	// Progress, when set, is told after every call how many were made and about how many will be needed, never below calls. Calls of it
	// do not overlap.
	Progress func(calls, expected int)
}

func (o SampleOptions) withDefaults(n int) SampleOptions {
	o.Workers = max(1, o.Workers)
	if o.Calls == 0 {
		o.Calls = 20000
	}
	if o.Walkers == 0 {
		o.Walkers = max(24, (2*n+2+7)/8*8)
	}
	if o.Draws == 0 {
		o.Draws = 400
	}
	if o.ESS == 0 {
		o.ESS = 400
	}
	if o.RHat == 0 {
		o.RHat = goodRHat
	}
	return o
}

// Posterior is a sample of the posterior and how far it can be trusted. Mean, Cov and quantiles come from all states kept.
type Posterior struct {
	// Draws are states far apart in the sample, in random order, so that any first few are a fair sample too.
	Draws [][]float64
	Mean  []float64
	Cov   *mat.SymDense // nil when there is no sample

	// Status is Converged when every RHat is below, and every ESS at least, what was asked for; CallLimit or Cancelled when the calls or
	// the context ended before that.
	Status Status
	RHat   []float64 // of each unknown: rank-normalised split R-hat of four groups of walkers that began apart
	ESS    []float64 // of each unknown: independent draws the states are worth, for mean and spread (by Weigh: for the mean); NaN when it cannot be told

	Calls      int // calls of the residuals
	Walkers    int
	Steps      int // steps of every walker, those dropped from the start included
	Dropped    int // steps dropped from the start
	Modes      int // modes the walkers started from
	Tried      [moves]int
	Kept       [moves]int // by Move
	Unusable   int        // tries for which the model gave no usable number; they were refused
	Acceptance float64    // share of tries kept

	// ParetoK is the shape of the tail of Weigh's weights: below 0.7 they can be trusted. Zero for Sample.
	ParetoK float64

	states [][]float64 // step by step, all walkers of a step together, those dropped left out
	asked  int         // the ESS asked for
	rhat   float64     // the R-hat asked for
}

const (
	goodRHat    = 1.01 // Vehtari et al. (2021), §4
	groups      = 4
	droppedPart = 0.2 // of the steps, as walkers start from an approximation
	earlyCheck  = 8   // steps, after which walkers go on by mostlyFresh if manyFresh of the fresh draws are kept
	firstCheck  = 30  // steps
	manyFresh   = 0.5
	leastSteps  = 8   // for a sample at all
	checkGrowth = 1.2 // of the steps between checks
	mostOdd     = 0.05
	fewFresh    = 0.5 // of the fresh draws up to the first check: if fewer are kept, walkers go on by farFromIt
)

// Sample draws from the posterior of the problem itself, not linearised, for residuals quick enough to be called some thousand times:
// an ensemble of walkers that start from the draws about the modes of fit, widened a little, and go on by a mixture of moves (see
// Move) within the bounds of the search. The ensemble is in two halves; the walkers of one move at the same time, by the places of the
// other (Foreman-Mackey, Hogg, Lang & Goodman, PASP 125 (2013), §2). It ends when the sample is good, see Posterior.Status, or when
// the calls are used up. The first fifth of the steps is dropped, and all from before the shares of the moves were fixed.
//
// A try for which the model gives no usable number is refused and counted. It is an error when more than one in twenty is, and when
// the residual function fails; what there is comes with the error. A context that ends is no error.
func Sample(ctx context.Context, p Problem, fit *Result, opt SampleOptions) (*Posterior, error) {
	s, err := newSampler(p, fit, opt)
	if err != nil {
		return nil, err
	}
	err = s.run(ctx, fit)
	return s.posterior(), err
}

// newSampler checks what Sample and Weigh are asked and gets ready.
func newSampler(p Problem, fit *Result, opt SampleOptions) (*sampler, error) {
	switch {
	case fit == nil || fit.Cov == nil:
		return nil, errors.New("infer: no posterior without a mode and its covariance: the search did not get that far")
	case len(fit.Z) != p.N || len(fit.oneSided) != p.M:
		return nil, fmt.Errorf("infer: the mode has %d unknowns and %d residuals, the problem %d and %d: they must belong together",
			len(fit.Z), len(fit.oneSided), p.N, p.M)
	case p.Residuals == nil:
		return nil, errors.New("infer: the problem has no residual function")
	}
	o := opt.withDefaults(p.N)
	switch {
	case o.Walkers < 2*p.N || o.Walkers < 16 || o.Walkers%(2*groups) != 0:
		return nil, fmt.Errorf("infer: %d walkers for %d unknowns: take a multiple of %d, at least 16 and twice the unknowns", o.Walkers, p.N, 2*groups)
	case o.Calls < 2*o.Walkers:
		return nil, fmt.Errorf("infer: %d calls for %d walkers: allow at least two for each", o.Calls, o.Walkers)
	case o.Draws < 1 || o.ESS < 1 || !(o.RHat > 1):
		return nil, fmt.Errorf("infer: %d draws worth %d with an R-hat of %g: ask for at least one, and for an R-hat above 1", o.Draws, o.ESS, o.RHat)
	}
	refs, err := references(fit, o.Seed)
	if err != nil {
		return nil, err
	}
	e := newEvaluator(p, Options{Workers: o.Workers, Bound: fit.bound, Progress: o.Progress})
	e.expected = o.Calls
	return &sampler{e: e, o: o, rng: newRand(o.Seed), refs: refs, shares: nearGaussian}, nil
}

// walker is a place and its cost.
type walker struct {
	z    []float64
	cost float64
}

type sampler struct {
	e       *evaluator
	o       SampleOptions
	rng     *rand.Rand
	refs    []reference
	shares  [moves]float64
	settled int           // steps made before the shares were fixed
	walkers []walker      // even ones are one half of the ensemble, odd ones the other; in order of where they began
	history [][][]float64 // step, walker
	status  Status
	tried   [moves]int
	kept    [moves]int
	odd     int   // tries without a usable number
	oddest  error // the first of them
	rhat    []float64
	ess     []float64
}

// run moves the walkers until the sample is good. It returns nil with the status set, or the error that ended it.
func (s *sampler) run(ctx context.Context, fit *Result) error {
	s.status = Cancelled
	ended := func(err error) error {
		if cancelled(ctx, err) {
			return nil
		}
		return err
	}
	if err := s.begin(ctx, fit); err != nil {
		return ended(err)
	}
	check := firstCheck
	for step := 1; ; step++ {
		if s.e.calls+s.o.Walkers > s.o.Calls {
			s.status = CallLimit
			return nil
		}
		for half := range 2 {
			if err := s.move(ctx, half); err != nil {
				return ended(err)
			}
		}
		places := make([][]float64, len(s.walkers))
		for w := range s.walkers {
			places[w] = s.walkers[w].z
		}
		s.history = append(s.history, places)
		if total := s.e.calls; s.odd > s.o.Walkers && float64(s.odd) > mostOdd*float64(total) {
			return s.oddError()
		}
		if step == earlyCheck && float64(s.kept[Afresh]) >= manyFresh*float64(s.tried[Afresh]) {
			s.shares, s.settled = mostlyFresh, step
			continue
		}
		if step == firstCheck && s.settled == 0 && s.o.Calls >= 4*s.e.calls && float64(s.kept[Afresh]) < fewFresh*float64(s.tried[Afresh]) {
			s.shares, s.settled = farFromIt, step
			check = 2 * firstCheck
			continue
		}
		if step == check {
			s.judge()
			if s.good() {
				s.status = Converged
				return nil
			}
			s.e.expect(s.forecast())
			check = max(check+1, int(checkGrowth*float64(check)))
		}
	}
}

// begin puts the walkers about the modes.
func (s *sampler) begin(ctx context.Context, fit *Result) error {
	var all []*Result
	shares := fit.ModeShares()
	for k, r := range slices.Concat([]*Result{fit}, fit.Others) {
		if shares[k] >= oddMode {
			all = append(all, r)
		}
	}
	left := s.o.Walkers
	rest := 1.0 // of the shares
	for k, r := range all {
		count := int(math.Round(float64(left) * s.refs[k].share / rest))
		left, rest = left-count, rest-s.refs[k].share
		walkers, err := s.around(ctx, r, &s.refs[k], count)
		if err != nil {
			return err
		}
		s.walkers = append(s.walkers, walkers...)
	}
	return nil
}

// around is count walkers about a mode, in order along its widest direction.
func (s *sampler) around(ctx context.Context, r *Result, ref *reference, count int) ([]walker, error) {
	_, limited, err := newGaussian(r)
	if err != nil {
		return nil, err
	}
	var out []walker
	for round := uint64(0); len(out) < count; round++ {
		if round == 10 {
			return nil, fmt.Errorf("infer: the model gives no usable number about the mode: %w", s.oddest)
		}
		// The mode itself, first among the draws, is left out.
		draws, err := Draws(r, max(count-len(out), leastBatch)+1, s.rng.Uint64())
		if err != nil {
			return nil, err
		}
		tries := draws[1 : 1+count-len(out)]
		if !limited { // the draws know where a limit cuts, so they are widened only without
			for _, z := range tries {
				for i := range z {
					z[i] = clamp(r.Z[i]+1.2*(z[i]-r.Z[i]), s.e.o.Bound)
				}
			}
		}
		costs, err := s.costs(ctx, tries)
		if err != nil {
			return nil, err
		}
		for i, c := range costs {
			if !math.IsInf(c, 1) {
				out = append(out, walker{tries[i], c})
			}
		}
	}
	var cov mat.SymDense
	cov.SymOuterK(1, ref.l)
	var eig mat.EigenSym
	if eig.Factorize(&cov, true) {
		var v mat.Dense
		eig.VectorsTo(&v)
		widest := mat.Col(nil, len(r.Z)-1, &v)
		along := func(z []float64) float64 {
			sum := 0.0
			for i, w := range widest {
				sum += w * z[i]
			}
			return sum
		}
		slices.SortStableFunc(out, func(a, b walker) int { return cmp.Compare(along(a.z), along(b.z)) })
	}
	return out, nil
}

// costs evaluates places, shared out to the workers. Outside the bounds, and where there is no usable number, the cost is +Inf.
func (s *sampler) costs(ctx context.Context, places [][]float64) ([]float64, error) {
	costs, _, err := s.look(ctx, places)
	return costs, err
}

// look is costs with the residuals: nil where there are none.
func (s *sampler) look(ctx context.Context, places [][]float64) (costs []float64, residuals [][]float64, err error) {
	costs, residuals = make([]float64, len(places)), make([][]float64, len(places))
	errs := make([]error, len(places))
	var next atomic.Int64
	var stop atomic.Bool
	var wg sync.WaitGroup
	for range min(s.o.Workers, len(places)) {
		wg.Go(func() {
			for !stop.Load() {
				i := int(next.Add(1)) - 1
				if i >= len(places) {
					return
				}
				if costs[i], residuals[i], errs[i] = s.cost(ctx, places[i]); errs[i] != nil {
					var bad *ResidualError
					if !errors.As(errs[i], &bad) {
						stop.Store(true) // places are begun in order: all before this one are finished
					}
				}
			}
		})
	}
	wg.Wait()
	for i, err := range errs {
		if err == nil {
			continue
		}
		var bad *ResidualError
		if !errors.As(err, &bad) {
			return nil, nil, err
		}
		costs[i] = math.Inf(1)
		if s.odd++; s.oddest == nil {
			s.oddest = err
		}
	}
	return costs, residuals, nil
}

func (s *sampler) cost(ctx context.Context, z []float64) (float64, []float64, error) {
	for _, v := range z {
		if !(math.Abs(v) <= s.e.o.Bound) {
			return math.Inf(1), nil, nil
		}
	}
	r, err := s.e.at(ctx, z)
	if err != nil {
		return 0, nil, err
	}
	return s.e.cost(z, r), r, nil
}

// move tries one step for each walker of a half.
func (s *sampler) move(ctx context.Context, half int) error {
	var others [][]float64
	for w := 1 - half; w < len(s.walkers); w += 2 {
		others = append(others, s.walkers[w].z)
	}
	count := len(s.walkers) / 2
	tries := make([][]float64, count)
	kinds := make([]Move, count)
	threshold := make([]float64, count) // the try's cost must not be above
	for i := range count {
		at := s.walkers[half+2*i]
		var logRatio float64
		kinds[i], tries[i], logRatio = propose(s.shares, at.z, others, s.refs, s.rng)
		threshold[i] = at.cost + logRatio + s.rng.ExpFloat64()
	}
	costs, err := s.costs(ctx, tries)
	if err != nil {
		return err
	}
	for i, c := range costs {
		s.tried[kinds[i]]++
		if c <= threshold[i] && !math.IsInf(c, 1) {
			s.kept[kinds[i]]++
			s.walkers[half+2*i] = walker{tries[i], c}
		}
	}
	return nil
}

// after is the history without the steps dropped: those from before the shares were fixed are, too, as soon as enough came since.
func (s *sampler) after() [][][]float64 {
	from := int(droppedPart * float64(len(s.history)))
	if len(s.history)-s.settled >= leastSteps {
		from = max(from, s.settled)
	}
	return s.history[from:]
}

// judge measures convergence.
func (s *sampler) judge() {
	steps := s.after()
	n := s.e.p.N
	s.rhat, s.ess = make([]float64, n), make([]float64, n)
	per := s.o.Walkers / groups
	for i := range n {
		pooled := make([][]float64, groups)
		chains := make([][]float64, s.o.Walkers)
		for _, places := range steps {
			for w, z := range places {
				pooled[w/per] = append(pooled[w/per], z[i])
				chains[w] = append(chains[w], z[i])
			}
		}
		s.rhat[i] = RHat(pooled)
		s.ess[i] = effective(chains)
	}
}

// effective is the number of independent draws chains are worth, the lesser of those for the mean and for the spread: NaN when the
// chains are too short to tell.
func effective(chains [][]float64) float64 {
	mean, count := 0.0, 0
	for _, c := range chains {
		for _, v := range c {
			mean, count = mean+v, count+1
		}
	}
	mean /= float64(count)
	spread := make([][]float64, len(chains))
	for w, c := range chains {
		spread[w] = make([]float64, len(c))
		for t, v := range c {
			spread[w][t] = (v - mean) * (v - mean)
		}
	}
	ess := math.Inf(1)
	for _, q := range [][][]float64{chains, spread} {
		tau, enough := AutocorrelationTime(q)
		if !enough {
			return math.NaN()
		}
		ess = min(ess, float64(count)/tau)
	}
	return ess
}

func (s *sampler) good() bool {
	for i := range s.rhat {
		if !(s.rhat[i] < s.o.RHat && s.ess[i] >= float64(s.o.ESS)) {
			return false
		}
	}
	return true
}

// forecast is about how many calls a good sample will take: R-hat - 1 and 1/ESS both fall about as 1/steps.
func (s *sampler) forecast() int {
	factor := 1.0
	for i := range s.rhat {
		more := max((s.rhat[i]-1)/(s.o.RHat-1), float64(s.o.ESS)/s.ess[i])
		if math.IsNaN(more) || math.IsInf(more, 0) {
			return s.o.Calls
		}
		factor = max(factor, more)
	}
	return min(s.o.Calls, int(factor*float64(s.e.calls)))
}

// posterior gathers what there is.
func (s *sampler) posterior() *Posterior {
	p := &Posterior{Status: s.status, Calls: s.e.calls, Walkers: s.o.Walkers, Steps: len(s.history), Modes: len(s.refs),
		Tried: s.tried, Kept: s.kept, Unusable: s.odd, asked: s.o.ESS, rhat: s.o.RHat}
	tried, kept := 0, 0
	for m := range moves {
		tried, kept = tried+s.tried[m], kept+s.kept[m]
	}
	if tried > 0 {
		p.Acceptance = float64(kept) / float64(tried)
	}
	if len(s.history) < leastSteps { // too few to drop a part and split the rest
		return p
	}
	s.judge()
	p.RHat, p.ESS = s.rhat, s.ess
	steps := s.after()
	p.Dropped = len(s.history) - len(steps)
	p.states = slices.Concat(steps...)
	p.Mean, p.Cov = meanCov(p.states)
	order := s.rng.Perm(s.o.Walkers)
	count := min(s.o.Draws, len(p.states))
	for d := range count {
		t := d * len(steps) / count
		p.Draws = append(p.Draws, slices.Clone(steps[t][order[d%len(order)]]))
	}
	s.rng.Shuffle(count, func(a, b int) { p.Draws[a], p.Draws[b] = p.Draws[b], p.Draws[a] })
	return p
}

// States are all places kept, step by step and in a step walker by walker, Walkers of them: not to be changed. Nil without a sample.
func (p *Posterior) States() [][]float64 { return p.states }

// Quantile is the value of unknown i below which a share of the sample lies, 0 <= share <= 1; NaN without a sample.
func (p *Posterior) Quantile(i int, share float64) float64 {
	if len(p.states) == 0 {
		return math.NaN()
	}
	x := make([]float64, len(p.states))
	for s, z := range p.states {
		x[s] = z[i]
	}
	slices.Sort(x)
	return Quantile(x, share)
}

// Quantile of sorted values, at least one, is straight between them: the first has share 0, the last 1. Infinite values stay so.
func Quantile(sorted []float64, share float64) float64 {
	at := min(max(share, 0), 1) * float64(len(sorted)-1)
	lo := int(at)
	if lo == len(sorted)-1 || sorted[lo] == sorted[lo+1] || math.IsInf(sorted[lo], 0) {
		return sorted[lo]
	}
	if math.IsInf(sorted[lo+1], 0) {
		return sorted[lo+1]
	}
	return sorted[lo] + (at-float64(lo))*(sorted[lo+1]-sorted[lo])
}

// Narrowed tells for each unknown how much of its doubt the data took away: 1 - posterior sd / prior sd, at least 0. Nil without a sample.
func (p *Posterior) Narrowed() []float64 {
	if p.Cov == nil {
		return nil
	}
	return narrowed(p.Cov)
}

// Sentence tells in words whether the sample can be trusted, and what is worst about it. The names are the unknowns'.
func (p *Posterior) Sentence(names []string) string {
	odd := ""
	if p.Unusable > 0 {
		odd = fmt.Sprintf("; the model gave no usable number for %d of the calls, and those tries were refused", p.Unusable)
	}
	if p.Cov == nil {
		return fmt.Sprintf("%v after %d calls: too few for a sample%s", p.Status, p.Calls, odd)
	}
	slow, apart := 0, 0
	for i := range p.ESS {
		if math.IsNaN(p.ESS[i]) || p.ESS[i] < p.ESS[slow] {
			slow = i
		}
		if !(p.RHat[i] <= p.RHat[apart]) {
			apart = i
		}
	}
	worth := fmt.Sprintf("worth %.0f independent draws or more of each unknown", p.ESS[slow])
	if math.IsNaN(p.ESS[slow]) {
		worth = fmt.Sprintf("too short to tell how many independent draws of %s it is worth", nameOf(names, slow))
	}
	rhat := fmt.Sprintf("parts of the sample agree (R-hat %.3f at worst)", p.RHat[apart])
	if !(p.RHat[apart] < p.rhat) {
		rhat = fmt.Sprintf("parts of the sample disagree about %s (R-hat %.3f, should be below %.2f)", nameOf(names, apart), p.RHat[apart], p.rhat)
	}
	if p.Walkers == 0 {
		uneven := fmt.Sprintf("their weights' tail has shape %.2f (good below %.1f)", p.ParetoK, goodParetoK)
		if p.Status == Converged {
			return fmt.Sprintf("converged after %d weighed draws: %s, %s%s", p.Calls, worth, uneven, odd)
		}
		return fmt.Sprintf("not converged, %v after %d weighed draws: %s, %s; intervals from it are provisional%s", p.Status, p.Calls, worth, uneven, odd)
	}
	if p.Status == Converged {
		return fmt.Sprintf("converged after %d calls: %s, %s%s", p.Calls, worth, rhat, odd)
	}
	short := ""
	if p.ESS[slow] < float64(p.asked) {
		short = fmt.Sprintf(" (least for %s; %d were asked for)", nameOf(names, slow), p.asked)
	}
	return fmt.Sprintf("not converged, %v after %d calls: %s%s, %s; intervals from it are provisional%s", p.Status, p.Calls, worth, short, rhat, odd)
}
