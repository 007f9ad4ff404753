package forecast

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"sync/atomic"

	"finwright/internal/session"
)

// Options steer a forecast. The zero value is good.
type Options struct {
	Draws   int // zero takes 400
	Workers int // runs at the same time; zero takes two
	Seed    uint64
	// NarrowFrac is the half-width of the end's interval, as a share of its middle, at which the answer counts as known; zero takes 0.05.
	NarrowFrac float64
	// Progress, when set, is told how many runs were made so far.
	Progress func(runs int)
}

// Forecast follows one test.
type Forecast struct {
	dev    Device
	probes []Probe
	opt    Options

	draws  []*draw
	weight []float64 // of each draw, together 1
	seen   []*thinned
	nowS   float64

	rng     *rand.Rand // of resampling
	mode    []float64  // where the last search ended
	rounds  int
	moved   int
	runs    int
	done    atomic.Int64
	failed  int
	failure error
}

// Interval is a 90 % interval with its middle (the median).
type Interval struct{ Lo, Mid, Hi float64 }

// HalfWidth is half of the interval as a share of its middle.
func (i Interval) HalfWidth() float64 { return (i.Hi - i.Lo) / 2 / i.Mid }

// Chance is how probable one kind of ending is, and when it would come if it does.
type Chance struct {
	Kind  session.EndKind
	Share float64
	AtS   Interval
}

// State is what is known at one time of the test.
type State struct {
	NowS    float64
	EndS    Interval // of the device's own end, however it comes
	Ways    []Chance // how it may end, the likeliest first
	Lasts   float64  // chance that it keeps full power until the battery is empty or the time asked for is over
	FullS   Interval // of the time at full power
	Curves  []Curve  // per probe
	Decided bool
	Why     string // in words: what is decided, or what is not yet
	// MisfitScore is the root mean square of what the best draw leaves of the readings, in standard deviations: about 1 or less where the
	// description fits, above 3 where it does not.
	MisfitScore float64
	Effective   float64 // how many equal draws the weights are worth
	Runs        int     // runs made so far
}

// Curve is what a faultless probe would read, over the whole run: 90 % of the draws still possible lie between Lo and Hi. Times at
// which fewer than half of them still run are left out.
type Curve struct {
	Probe          string
	TimeS          []float64
	LoK, MidK, HiK []float64
	NowS, NowK     float64 // last mean of the readings; NaN before there is one
}

// New draws from the prior and makes the runs.
func New(ctx context.Context, dev Device, probes []Probe, opt Options) (*Forecast, error) {
	if opt.Draws <= 0 {
		opt.Draws = 400
	}
	if opt.Workers <= 0 {
		opt.Workers = 2
	}
	if !(opt.NarrowFrac > 0) {
		opt.NarrowFrac = 0.05
	}
	f := &Forecast{dev: dev, opt: opt, weight: make([]float64, opt.Draws), rng: rand.New(rand.NewPCG(opt.Seed, math.MaxUint64))}
	for _, p := range probes {
		f.probes = append(f.probes, p.withDefaults())
	}
	n := dev.Unknowns()
	for i := range opt.Draws {
		d := &draw{z: make([]float64, n), rng: rand.New(rand.NewPCG(opt.Seed, uint64(i)))}
		for k := range d.z {
			d.z[k] = math.Max(-farthest, math.Min(farthest, d.rng.NormFloat64()))
		}
		f.draws = append(f.draws, d)
	}
	f.mode = make([]float64, n)
	if err := f.simulate(ctx, f.draws); err != nil {
		return nil, err
	}
	if f.failed > opt.Draws/2 {
		return nil, fmt.Errorf("most draws of what is not known give no run: %w", f.failure)
	}
	f.weigh()
	return f, nil
}

// farthest is the largest score that is drawn: values beyond are no longer what the range was meant for.
const farthest = 3.0

func (f *Forecast) tell() {
	n := f.done.Add(1)
	if f.opt.Progress != nil {
		f.opt.Progress(int(n))
	}
}

// ErrImpossible is returned when no draw agrees with a device that still runs now: State is then that of the last time.
var ErrImpossible = errors.New("the device runs longer than anything that the description allows: check powers, battery and stop temperature in the device file, and whether this is the design that is on the bench")

// Update weighs all readings so far: one Readings per probe, empty where there are none yet. nowS is the time up to which the device
// is known to run. It makes new draws where few of those it has agree with the readings.
func (f *Forecast) Update(ctx context.Context, readings []Readings, nowS float64) (*State, error) {
	if len(readings) != len(f.probes) {
		return nil, fmt.Errorf("forecast: readings of %d probes for %d", len(readings), len(f.probes))
	}
	var seen []*thinned
	for i, r := range readings {
		if err := r.check(f.probes[i].Name); err != nil {
			return nil, err
		}
		t, err := thin(i, f.probes[i], r, nowS)
		if err != nil {
			return nil, err
		}
		if t != nil {
			seen = append(seen, t)
		}
	}
	f.seen, f.nowS = seen, nowS
	effective := f.weigh()
	if effective < fewest*float64(f.opt.Draws) {
		if err := f.renew(ctx); err != nil {
			return nil, err
		}
		effective = 0
		sum := 0.0
		for _, w := range f.weight {
			effective += w * w
			sum += w
		}
		if sum == 0 {
			return nil, ErrImpossible
		}
		effective = math.Min(1/effective, f.distinct())
	}
	return f.state(effective), nil
}

// EndedAs is how probable each kind of ending is, now that the device has ended at a time: by the draws that would have ended about then.
func (f *Forecast) EndedAs(atS float64) []Chance {
	kinds := map[session.EndKind]float64{}
	sum := 0.0
	for i, d := range f.draws {
		if f.weight[i] == 0 || d.run.Own.Kind == session.TimeOver {
			continue
		}
		x := (d.run.Own.AtS - atS) / (0.02*atS + 30)
		w := f.weight[i] * math.Exp(-x*x/2)
		kinds[d.run.Own.Kind] += w
		sum += w
	}
	var out []Chance
	for _, kind := range []session.EndKind{session.Stopped, session.BatteryEmpty} {
		if w := kinds[kind]; w > 1e-6*sum && sum > 1e-12 {
			out = append(out, Chance{kind, w / sum, Interval{atS, atS, atS}})
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Share > out[b].Share })
	return out
}

// state sums the draws up.
func (f *Forecast) state(effective float64) *State {
	s := &State{NowS: f.nowS, Effective: effective, Runs: f.runs}
	kinds := map[session.EndKind][]weighted{}
	var own, full []weighted
	best, bestAt := math.Inf(-1), -1
	for i, d := range f.draws {
		w := f.weight[i]
		if w == 0 {
			continue
		}
		own = append(own, weighted{d.run.Own.AtS, w})
		full = append(full, weighted{d.run.FullS, w})
		kinds[d.run.Own.Kind] = append(kinds[d.run.Own.Kind], weighted{d.run.Own.AtS, w})
		if d.run.Own.Kind != session.Stopped && d.run.FullS >= d.run.Own.AtS {
			s.Lasts += w
		}
		if l := f.logLikelihood(d.run); l > best {
			best, bestAt = l, i
		}
	}
	s.EndS, s.FullS = interval(own), interval(full)
	for _, kind := range []session.EndKind{session.Stopped, session.BatteryEmpty, session.TimeOver} {
		if list := kinds[kind]; len(list) > 0 {
			c := Chance{Kind: kind, AtS: interval(list)}
			for _, x := range list {
				c.Share += x.w
			}
			s.Ways = append(s.Ways, c)
		}
	}
	sort.SliceStable(s.Ways, func(a, b int) bool { return s.Ways[a].Share > s.Ways[b].Share })
	if bestAt >= 0 && len(f.seen) > 0 {
		n := 0
		for _, t := range f.seen {
			n += len(t.timeS)
		}
		s.MisfitScore = math.Sqrt(math.Max(0, -2*best) / float64(n))
	}
	for p := range f.probes {
		s.Curves = append(s.Curves, f.curve(p))
	}
	f.decide(s)
	return s
}

// sure is the chance above which (or below one minus which) the way of the end counts as known.
const sure = 0.95

// decide says whether more readings are needed.
func (f *Forecast) decide(s *State) {
	switch {
	case len(f.seen) == 0 || s.MisfitScore > misfits:
		s.Why = "not decided"
	case s.Lasts > sure:
		s.Decided, s.Why = true, "it lasts"
	case s.Lasts < 1-sure:
		s.Decided, s.Why = true, "it does not last"
	case s.EndS.HalfWidth() < f.opt.NarrowFrac:
		s.Decided, s.Why = true, "the end is known closely enough"
	default:
		s.Why = "not decided"
	}
}

// misfits is the MisfitScore above which nothing is decided: the readings are not those of the device described.
const misfits = 3.0

// curve is the band of one probe.
func (f *Forecast) curve(probe int) Curve {
	c := Curve{Probe: f.probes[probe].Name, NowS: math.NaN(), NowK: math.NaN()}
	longest := 0.0
	for i, d := range f.draws {
		if f.weight[i] > 0 {
			longest = math.Max(longest, d.run.Own.AtS)
		}
	}
	const points = 60
	for k := 0; k <= points; k++ {
		tS := longest * float64(k) / points
		var all []weighted
		running := 0.0
		for i, d := range f.draws {
			if f.weight[i] > 0 && d.run.Own.AtS >= tS {
				at := 0
				running += f.weight[i]
				all = append(all, weighted{d.run.read(probe, tS, &at), f.weight[i]})
			}
		}
		if running < 0.5 {
			break
		}
		b := interval(all)
		c.TimeS, c.LoK, c.MidK, c.HiK = append(c.TimeS, tS), append(c.LoK, b.Lo), append(c.MidK, b.Mid), append(c.HiK, b.Hi)
	}
	for _, t := range f.seen {
		if t.probe == probe {
			c.NowS, c.NowK = t.timeS[len(t.timeS)-1], t.meanK[len(t.meanK)-1]
		}
	}
	return c
}

type weighted struct{ x, w float64 }

// interval is the 5 %, 50 % and 95 % point of weighted values, straight between the middles of their shares.
func interval(all []weighted) Interval {
	if len(all) == 0 {
		return Interval{math.NaN(), math.NaN(), math.NaN()}
	}
	all = append([]weighted(nil), all...)
	sort.Slice(all, func(a, b int) bool { return all[a].x < all[b].x })
	sum := 0.0
	for _, a := range all {
		sum += a.w
	}
	point := func(q float64) float64 {
		below, lastX, lastQ := 0.0, all[0].x, 0.0
		for _, a := range all {
			here := (below + a.w/2) / sum
			if here >= q {
				if here == lastQ {
					return a.x
				}
				return lastX + (a.x-lastX)*(q-lastQ)/(here-lastQ)
			}
			below += a.w
			lastX, lastQ = a.x, here
		}
		return all[len(all)-1].x
	}
	return Interval{point(0.05), point(0.5), point(0.95)}
}
