package benchtest

import (
	"math"
	"sort"
)

// A fault is one bond whose resistance is worse than planned by a factor. At most one bond is at fault: two at once are rarer than what
// else can be wrong with a test.
const (
	// chances of a fault before the test. Common practice, no source.
	newFault, oldFault = 0.10, 0.02
	// factors that count as a fault, evenly on a log scale; below the least it is the planned doubt
	leastFactor, mostFactor = 1.5, 60.0
	factorSteps             = 24
)

// Suspicion is what a log says of one bond.
type Suspicion struct {
	Bond
	Chance float64 // that it is worse than planned, after the log
	// Factor is its resistance over the planned one if it is, 5 %, 50 % and 95 % points.
	Factor [3]float64
	// ShowsK is what resistance worse by ProbeFactor would do to the probe that shows it most, K, and AtSd how many standard
	// deviations of all doubt the whole log would then be off: below about 2 the test cannot see it.
	ShowsK, AtSd float64
	ShowsAt      string
	// LeastFactor is the mildest fault that the test shows beyond doubt; +Inf: none.
	LeastFactor float64
}

// clear is how many standard deviations a fault must put the readings off to be told from all as planned: 95 % each way.
const clear = 2 * z90

// ProbeFactor is the fault that plans look for: a bond with ten times the planned resistance. A film of 0.1 mm epoxy that is air instead
// has some thirty times, one wetted on a tenth of its face about ten.
const ProbeFactor = 10.0

// guess is one hypothesis: a bond (-1: all as planned) and its factor, with its probability.
type guess struct {
	bond   int
	factor float64
	share  float64
}

// weigh gives every hypothesis its probability. also multiplies in what else is known, as a likelihood; nil: nothing.
func (r *rig) weigh(w *network, readK []float64, also func(g guess) float64) (all []guess, best guess) {
	odds := func(p float64) float64 { return p / (1 - p) }
	all = append(all, guess{-1, 1, 1})
	for b := range r.bonds {
		p := odds(oldFault)
		if r.bonds[b].New {
			p = odds(newFault)
		}
		for k := range factorSteps {
			f := leastFactor * math.Pow(mostFactor/leastFactor, float64(k)/(factorSteps-1))
			all = append(all, guess{b, f, p / factorSteps})
		}
	}
	logs := make([]float64, len(all))
	top := math.Inf(-1)
	for i, g := range all {
		logs[i] = math.Log(g.share) - w.chi2(w.misfit(readK, g.bond, g.factor))/2
		if also != nil {
			logs[i] += math.Log(math.Max(1e-12, also(g)))
		}
		top = math.Max(top, logs[i])
	}
	sum := 0.0
	for i := range all {
		all[i].share = math.Exp(logs[i] - top)
		sum += all[i].share
	}
	for i := range all {
		all[i].share /= sum
	}
	best = all[0]
	// the likeliest bond first, then its middle factor: single factors share their bond's probability
	chance, likeliest := all[0].share, -1
	for b := range r.bonds {
		if c := chanceOf(all, b); c > chance {
			chance, likeliest = c, b
		}
	}
	if likeliest >= 0 {
		best = guess{likeliest, factorAt(all, likeliest, 0.5), chance}
	}
	return all, best
}

func chanceOf(all []guess, bond int) float64 {
	sum := 0.0
	for _, g := range all {
		if g.bond == bond {
			sum += g.share
		}
	}
	return sum
}

// factorAt is a quantile of a bond's factor, given that it is at fault.
func factorAt(all []guess, bond int, q float64) float64 {
	var of []guess
	sum := 0.0
	for _, g := range all {
		if g.bond == bond {
			of = append(of, g)
			sum += g.share
		}
	}
	if sum == 0 {
		return math.NaN()
	}
	sort.Slice(of, func(a, b int) bool { return of[a].factor < of[b].factor })
	at := 0.0
	for _, g := range of {
		if at += g.share / sum; at >= q {
			return g.factor
		}
	}
	return of[len(of)-1].factor
}

// seen is how far a bond that is worse by a factor puts the readings off, in standard deviations of all that is in doubt.
func (w *network) seen(bond int, factor float64) float64 {
	zero := make([]float64, len(w.readings))
	for i := range w.readings {
		zero[i] = w.readings[i].base
	}
	return math.Sqrt(w.chi2(w.misfit(zero, bond, factor)))
}

// leastSeen is the mildest fault of a bond that is clear; +Inf when none is.
func (w *network) leastSeen(bond int) float64 {
	for f := 2.0; f <= mostFactor; f = math.Ceil(f * 1.2) {
		if w.seen(bond, f) >= clear {
			return f
		}
	}
	return math.Inf(1)
}
