package forecast

import (
	"context"
	"math"
	"math/rand/v2"
	"sync"

	"gonum.org/v1/gonum/mat"

	"finwright/internal/infer"
	"finwright/internal/session"
	"finwright/internal/work"
)

// draw is one device with its run, and how it came about.
type draw struct {
	z   []float64
	run *Run // nil: the model gives none for these scores
	// logWeight is the log of prior over proposal, up to a constant.
	logWeight float64
	logTarget float64 // log of prior × likelihood, kept while draws are moved
	rng       *rand.Rand
}

// gaussian is a normal distribution of scores.
type gaussian struct {
	mean   []float64
	factor mat.TriDense // of the covariance
}

// at writes mean + scale · L ξ.
func (g *gaussian) at(dst, mean []float64, scale float64, rng *rand.Rand) {
	n := len(dst)
	xi := make([]float64, n)
	for i := range xi {
		xi[i] = rng.NormFloat64()
	}
	for i := range dst {
		sum := 0.0
		for k := 0; k <= i; k++ {
			sum += g.factor.At(i, k) * xi[k]
		}
		dst[i] = mean[i] + scale*sum
	}
}

// log is the log of the density at z, up to a constant.
func (g *gaussian) log(z []float64) float64 {
	x := make([]float64, len(z))
	sum := 0.0
	for i := range z {
		v := z[i] - g.mean[i]
		for k := 0; k < i; k++ {
			v -= g.factor.At(i, k) * x[k]
		}
		x[i] = v / g.factor.At(i, i)
		sum += x[i] * x[i]
	}
	return -sum / 2
}

// simulate makes the runs of draws that have none; a draw for which the model fails stays without one.
func (f *Forecast) simulate(ctx context.Context, draws []*draw) error {
	var mu sync.Mutex
	var jobs []func()
	for _, d := range draws {
		jobs = append(jobs, func() {
			run, err := f.dev.Run(ctx, d.z)
			if err == nil {
				d.run = run
			} else if ctx.Err() == nil {
				mu.Lock()
				f.failed, f.failure = f.failed+1, err
				mu.Unlock()
			}
			f.tell()
		})
	}
	if err := work.InParallel(ctx, f.opt.Workers, jobs); err != nil {
		return err
	}
	f.runs += len(draws)
	return nil
}

// logLikelihood is that of all readings so far. A run that would have ended before now is out.
func (f *Forecast) logLikelihood(run *Run) float64 {
	if run == nil || !f.possible(run) {
		return math.Inf(-1)
	}
	sum := 0.0
	var r [bins]float64
	for _, t := range f.seen {
		t.whiten(r[:len(t.timeS)], run)
		for _, x := range r[:len(t.timeS)] {
			sum -= x * x / 2
		}
	}
	return sum
}

// possible says whether a run may still be going on now.
func (f *Forecast) possible(run *Run) bool {
	return run.Own.AtS >= f.nowS || run.Own.Kind == session.TimeOver
}

// weigh renews the weights from all readings so far and tells how many equal draws they are worth (Kish; Liu, Monte Carlo
// Strategies in Scientific Computing, 2001, eq. 2.6).
func (f *Forecast) weigh() (effective float64) {
	top := math.Inf(-1)
	for i, d := range f.draws {
		f.weight[i] = d.logWeight + f.logLikelihood(d.run)
		top = math.Max(top, f.weight[i])
	}
	if math.IsInf(top, -1) {
		clear(f.weight)
		return 0
	}
	sum, squares := 0.0, 0.0
	for i := range f.weight {
		f.weight[i] = math.Exp(f.weight[i] - top)
		sum += f.weight[i]
	}
	for i := range f.weight {
		f.weight[i] /= sum
		squares += f.weight[i] * f.weight[i]
	}
	return 1 / squares
}

// residuals of the search for the likeliest values: all readings, and that the run has not ended yet. The last one is soft, or
// the search would see no way back.
func (f *Forecast) residuals() infer.Problem {
	m := 0
	for _, t := range f.seen {
		m += len(t.timeS)
	}
	return infer.Problem{N: f.dev.Unknowns(), M: m + 1, OneSided: []int{m}, Residuals: func(ctx context.Context, z, dst []float64) error {
		run, err := f.dev.Run(ctx, z)
		if err != nil {
			return err
		}
		at := 0
		for _, t := range f.seen {
			t.whiten(dst[at:at+len(t.timeS)], run)
			at += len(t.timeS)
		}
		dst[at] = -1
		if run.Own.Kind != session.TimeOver {
			dst[at] = (f.nowS - run.Own.AtS) / (softEnd*f.nowS + 30)
		}
		return nil
	}}
}

// softEnd is by what share of the time the search may have the run end too early.
const softEnd = 0.02

// renew draws anew about the likeliest values: importance sampling from the Gaussian there, and where that is not enough, resampling
// and moves that leave the distribution as it is (Gilks & Berzuini, J. R. Statist. Soc. B 63, 2001; the move is that of Cotter,
// Roberts, Stuart & White, Statistical Science 28, 2013, about that Gaussian).
func (f *Forecast) renew(ctx context.Context) error {
	fit, err := infer.MAP(ctx, f.residuals(), infer.Options{Workers: f.opt.Workers, Seed: f.opt.Seed, From: f.mode, MaxIter: 12})
	if err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	f.runs += fit.Calls
	if fit.Cov == nil {
		return nil
	}
	var chol mat.Cholesky
	if !chol.Factorize(fit.Cov) {
		return nil // the draws there are stay
	}
	f.mode = fit.Z
	g := &gaussian{mean: fit.Z}
	chol.LTo(&g.factor)
	f.rounds++
	fresh := make([]*draw, f.opt.Draws)
	for i := range fresh {
		rng := rand.New(rand.NewPCG(f.opt.Seed, uint64(f.rounds)<<32|uint64(i)))
		d := &draw{z: make([]float64, len(fit.Z)), rng: rng}
		g.at(d.z, fit.Z, 1, rng)
		d.logWeight = logPrior(d.z) - g.log(d.z)
		fresh[i] = d
	}
	if err := f.simulate(ctx, fresh); err != nil {
		return err
	}
	old := f.draws
	f.draws = fresh
	effective := f.weigh()
	if effective == 0 { // none of them is possible: those there were are better than nothing
		f.draws = old
		f.weigh()
		return nil
	}
	for range mostMoves {
		if effective >= enough*float64(f.opt.Draws) {
			break
		}
		f.resample()
		if err := f.move(ctx, g); err != nil {
			return err
		}
		effective = f.distinct()
	}
	return nil
}

const (
	// fewest is the share of the draws that their weights must be worth; below it new ones are made
	fewest = 0.25
	// enough is the same for new ones: with less they are moved, up to mostMoves times by a step of moveBy
	enough    = 0.4
	mostMoves = 4
	moveBy    = 0.6
)

func logPrior(z []float64) float64 {
	sum := 0.0
	for _, x := range z {
		sum -= x * x / 2
	}
	return sum
}

// resample makes copies of draws in proportion to their weights, by one even comb (systematic resampling; Kitagawa, J. Comput.
// Graph. Stat. 5, 1996).
func (f *Forecast) resample() {
	n := len(f.draws)
	rng := f.rng
	at, sum := 0, f.weight[0]
	out := make([]*draw, n)
	first := rng.Float64()
	for i := range out {
		u := (first + float64(i)) / float64(n)
		for sum < u && at < n-1 {
			at++
			sum += f.weight[at]
		}
		d := *f.draws[at]
		d.rng = rand.New(rand.NewPCG(rng.Uint64(), rng.Uint64()))
		out[i] = &d
	}
	f.draws = out
}

// move tries one step for each of the resampled draws, which then stand for the distribution with equal weights as of now: what
// they carry on is one over the likelihood so far.
func (f *Forecast) move(ctx context.Context, g *gaussian) error {
	tries := make([]*draw, len(f.draws))
	for i, d := range f.draws {
		d.logTarget = logPrior(d.z) + f.logLikelihood(d.run)
		t := &draw{z: make([]float64, len(d.z)), rng: d.rng}
		back := make([]float64, len(d.z))
		for k := range back {
			back[k] = g.mean[k] + math.Sqrt(1-moveBy*moveBy)*(d.z[k]-g.mean[k])
		}
		g.at(t.z, back, moveBy, d.rng)
		tries[i] = t
	}
	if err := f.simulate(ctx, tries); err != nil {
		return err
	}
	for i, t := range tries {
		d := f.draws[i]
		t.logTarget = logPrior(t.z) + f.logLikelihood(t.run)
		if math.Log(d.rng.Float64()) < t.logTarget-d.logTarget+g.log(d.z)-g.log(t.z) {
			f.draws[i], d = t, t
			f.moved++
		}
		d.logWeight = -f.logLikelihood(d.run)
		f.weight[i] = 1 / float64(len(f.draws))
	}
	return nil
}

// distinct is how many different draws there are after resampling.
func (f *Forecast) distinct() float64 {
	seen := map[*Run]float64{}
	for _, d := range f.draws {
		seen[d.run]++
	}
	squares := 0.0
	for _, n := range seen {
		squares += n * n
	}
	return float64(len(f.draws)*len(f.draws)) / squares
}
