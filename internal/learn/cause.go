package learn

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/unit"
	"finwright/internal/work"
)

// Cause is the evidence for and against the stop being a temperature.
type Cause struct {
	// Log10Odds is how much more probable what was seen is if a temperature stops the device than if it stops after the same time whatever
	// the conditions (a time account, a battery that sags), as a power of ten: 1 is ten to one for heat, -1 ten to one against.
	Log10Odds float64
	Odds      string // the same in words: "20 to one for heat"
	// Reference is the stock run whose stop the others are held against, ReferenceSeen what was seen in it.
	Reference, ReferenceSeen string
	Runs                     []CauseRun // those that say something, in the file's order
}

// CauseRun is what one run says of the cause, in words.
type CauseRun struct {
	Run, Seen string
	ByHeat    string // when a stop by temperature would have come: "after 12 min to 15 min", "never"
	Log10Odds float64
	Odds      string
}

// causeDraws is how many devices are drawn from the priors for what a stop by temperature would look like.
const causeDraws = 300

// leastWeight is the share of all weight below which a device drawn says nothing of what other runs would have shown.
const leastWeight = 1e-6

// doubtHeat is the evidence, as a power of ten, from which it is told. Ten to one is "strong" in Kass & Raftery, J. Am. Stat. Assoc. 90
// (1995), §3.2.
const doubtHeat = 1.0

// cause weighs two explanations of the stops seen: a temperature (the model, over the priors) or a fixed running time. One run with a
// stop is the reference; devices drawn from the priors are weighted by how well they meet it, and what they would then do in each other
// run is held against what was seen there, beside the reference's own time once more. nil where no two runs can be compared.
func (s *study) cause(ctx context.Context) (*Cause, error) {
	first := -1
	others := 0
	for i := range s.runs {
		r := s.runs[i].spec
		switch {
		case s.runs[i].reduced == nil:
			return nil, nil
		case r.StopsAfter.Given() && first < 0:
			first = i
		case r.StopsAfter.Given() || r.RunningAfter.Given():
			others++
		}
	}
	if first < 0 || others == 0 {
		return nil, nil
	}
	costs := make([][]float64, len(s.runs)) // ½ r² of the stop or of still running, per run and draw
	times := make([][]float64, len(s.runs))
	rng := rand.New(rand.NewPCG(s.opt.Seed, 0xca05e))
	draws := make([]device.Values, causeDraws)
	for k := range draws {
		z := make([]float64, len(s.unknowns))
		for i := range z {
			z[i] = math.Max(-reach, math.Min(reach, rng.NormFloat64()))
		}
		draws[k] = s.values(z)
	}
	var mu sync.Mutex
	var firstErr error
	ends := func(i, k int) func() {
		return func() {
			var err error
			costs[i][k], times[i][k], err = s.runs[i].ending(ctx, draws[k])
			s.tell(1)
			if err != nil {
				mu.Lock()
				if firstErr == nil {
					firstErr = err
				}
				mu.Unlock()
			}
		}
	}
	costs[first], times[first] = make([]float64, causeDraws), make([]float64, causeDraws)
	var jobs []func()
	for k := range draws {
		jobs = append(jobs, ends(first, k))
	}
	if err := work.InParallel(ctx, s.opt.Workers, jobs); err != nil {
		return nil, err
	}
	if firstErr != nil {
		return nil, firstErr
	}
	weights := make([]float64, causeDraws)
	sum := 0.0
	for k := range weights {
		weights[k] = math.Exp(-costs[first][k])
		sum += weights[k]
	}
	if sum < 1e-6*causeDraws { // hardly any device of this description stops then: a surprise, and told as one
		return nil, nil
	}
	jobs = nil
	for i := range s.runs {
		if r := s.runs[i].spec; i == first || mode(s.runs[i].file, r) != mode(s.runs[first].file, s.runs[first].spec) || !r.StopsAfter.Given() && !r.RunningAfter.Given() {
			continue
		}
		costs[i], times[i] = make([]float64, causeDraws), make([]float64, causeDraws)
		for k, w := range weights {
			if w < leastWeight*sum { // all such together are nothing
				weights[k] = 0
				continue
			}
			jobs = append(jobs, ends(i, k))
		}
	}
	if err := work.InParallel(ctx, s.opt.Workers, jobs); err != nil {
		return nil, err
	}
	if firstErr != nil {
		return nil, firstErr
	}
	ref := s.runs[first].spec.StopsAfter
	out := &Cause{Reference: s.runs[first].name, ReferenceSeen: "stopped after " + ref.Text}
	for i := range s.runs {
		o := &s.runs[i]
		if i == first || costs[i] == nil {
			continue
		}
		heat, timed, seen := 0.0, 0.0, ""
		for k, w := range weights {
			heat += w / sum * math.Exp(-costs[i][k])
		}
		if q := o.spec.StopsAfter; q.Given() {
			heat /= math.Sqrt(2*math.Pi) * timeSigmaS(q)
			timed = distuv.Normal{Mu: ref.Mid, Sigma: math.Hypot(timeSigmaS(ref), timeSigmaS(q))}.Prob(q.Mid)
			seen = "stopped after " + q.Text
		} else {
			q := o.spec.RunningAfter
			timed = distuv.Normal{Mu: ref.Mid, Sigma: timeSigmaS(ref)}.Survival(q.Mid)
			seen = "still running after " + q.Text
		}
		// no single pair is taken for more than a thousand to one: descriptions are incomplete
		log10 := math.Max(-3, math.Min(3, math.Log10(math.Max(heat, 1e-30)/math.Max(timed, 1e-30))))
		if math.Abs(log10) < 0.3 {
			continue // says nothing either way
		}
		out.Log10Odds += log10
		out.Runs = append(out.Runs, CauseRun{o.name, seen, expectedWords(times[i], weights), log10, oddsWords(log10)})
	}
	if len(out.Runs) == 0 {
		return nil, nil
	}
	out.Odds = oddsWords(math.Max(-3, math.Min(3, out.Log10Odds)))
	return out, nil
}

// ending is ½ r² of a run's stop with the part of flat curves, or -ln of the probability of its still running, and when the model would stop, s.
func (o *observed) ending(ctx context.Context, v device.Values) (cost, stopS float64, err error) {
	m, h, err := o.model(v)
	if err != nil {
		return 0, 0, err
	}
	defer o.reduced.idle.Put(h)
	q := o.spec.StopsAfter
	running := !q.Given()
	if running {
		q = o.spec.RunningAfter
	}
	res, err := o.simulate(ctx, m, h, v, q.Mid, false)
	if err != nil {
		return 0, 0, err
	}
	score, flat, stopS := crossing(res, q, "trip", 0)
	if running {
		over, _ := highestOver(res, q.Mid)
		cost, _, _ = infer.NotPassed(over / modelSigmaK)
		return cost, stopS, nil
	}
	return (score*score + flat*flat) / 2, stopS, nil
}

// expectedWords is the weighted 90 % interval of when the model would stop.
func expectedWords(times, weights []float64) string {
	order := make([]int, len(times))
	sum := 0.0
	for i := range order {
		order[i] = i
		sum += weights[i]
	}
	sort.SliceStable(order, func(a, b int) bool { return times[order[a]] < times[order[b]] })
	at := func(share float64) float64 {
		w := 0.0
		for _, i := range order {
			if w += weights[i] / sum; w >= share {
				return times[i]
			}
		}
		return times[order[len(order)-1]]
	}
	lo, hi := at(0.05), at(0.95)
	switch {
	case math.IsInf(lo, 1) || lo > 24*3600:
		return "never"
	case math.IsInf(hi, 1) || hi > 24*3600:
		return "after " + unit.Format(lo, unit.Time) + " or later, or never"
	}
	return "after " + unit.Format(lo, unit.Time) + " to " + unit.Format(hi, unit.Time)
}

// oddsWords tells a power of ten as odds.
func oddsWords(log10 float64) string {
	side := "for heat"
	if log10 < 0 {
		side = "against heat"
	}
	odds := math.Pow(10, math.Abs(log10))
	switch {
	case odds >= 999:
		return "a thousand to one or more " + side
	case odds >= 9.5:
		return fmt.Sprintf("%.0f to one %s", math.Round(odds/10)*10, side)
	}
	return fmt.Sprintf("%.0f to one %s", odds, side)
}

// drainedShare is from which part of its energy on, given at the moment of the stop, a battery may be what stops the device.
// Common practice, no source.
const drainedShare = 0.85

// warnings are what the evidence and the battery say against heat.
func (s *study) causeWarnings(c *Cause, best device.Values) []string {
	var out []string
	if c != nil && c.Log10Odds <= -doubtHeat {
		text := fmt.Sprintf("Heat may not be what stops it: taken together, what was seen speaks %s.", c.Odds)
		for _, r := range c.Runs {
			if r.Log10Odds < 0 {
				text += fmt.Sprintf(" %s: %s. A stop by temperature would have come %s, a time limit as in %s, which %s (%s).", r.Run, r.Seen, r.ByHeat, c.Reference, c.ReferenceSeen, r.Odds)
			}
		}
		out = append(out, text+" Look for a time limit, low voltage or a cracked joint before cutting metal.")
	}
	for i := range s.runs {
		o := &s.runs[i]
		q := o.spec.StopsAfter
		if !q.Given() {
			continue
		}
		m, err := o.shape.At(best, &o.spec.Conditions, o.spec.Mode)
		if err != nil || m.Battery == nil || !m.Battery.Discharges {
			continue
		}
		if share := electricW(m) * q.Mid / m.Battery.EnergyJ; share > drainedShare {
			out = append(out, fmt.Sprintf("Heat may not be what stops it: in %s, when it stopped after %s, its battery had given about %.0f %% of its energy. It may have stopped for low voltage: repeat the run on outside power, or with a fresh pack, before cutting metal.", o.name, q.Text, 100*math.Min(share, 1)))
		}
	}
	return out
}
