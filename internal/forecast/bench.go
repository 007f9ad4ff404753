package forecast

import (
	"context"
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"

	"finwright/internal/device"
	"finwright/internal/heat"
	"finwright/internal/model"
	"finwright/internal/reduce"
	"finwright/internal/session"
)

// BenchOptions say what stands on the bench. The zero value takes the file's own conditions and mode.
type BenchOptions struct {
	Conditions *device.Conditions
	Mode       string
	Places     []string        // where the probes are
	UntilS     float64         // time asked for; 0: until the battery is empty, or four hours without one
	Learned    []device.Values // draws of what was learned from stock runs, the likeliest first; nil: the priors alone
	Fineness   model.Fineness  // cells of the reduced model; zero takes about 12 000
	Workers    int
	Seed       uint64
	Pairs      int // of 3-D runs that the reduced model is made of; zero: reduce.Train's own
}

// Bench is a Device made of a device file: its runs go through a reduced model.
type Bench struct {
	// Warnings say what the forecast leaves out.
	Warnings []string
	// OffK is the error that the reduced model is expected to make, K.
	OffK float64

	opt      BenchOptions
	shape    *model.Shape
	unknowns []model.Unknown
	trips    []trip
	mean     []float64    // of the scores of the unknowns …
	factor   mat.TriDense // … and the factor of their covariance
	model    *reduce.Model
	idle     sync.Pool // of *hand
}

// trip is a temperature at which a sensor acts. Each gets an error of its own, on top of the file's doubt: what the model misses
// between sensor and probes.
type trip struct {
	path string
	q    device.Q
}

// hand is one simulation's tools: they are made once and used by one simulation at a time.
type hand struct {
	partial *model.Partial
	stepper *reduce.Stepper
}

// fineness of the cells that the reduced model is made at.
var fineness = model.Fineness{TargetCells: 12_000, Across: 1}

// widest is how far the reduced model's own draws go, in standard scores: readings may turn out far from the middle.
const widest = 2.2

// NewBench makes the reduced model of a design under the test's conditions. It takes some ten seconds.
func NewBench(ctx context.Context, f *device.File, opt BenchOptions) (*Bench, error) {
	if opt.Fineness == (model.Fineness{}) {
		opt.Fineness = fineness
	}
	b := &Bench{opt: opt}
	var best device.Values
	if len(opt.Learned) > 0 {
		best = opt.Learned[0]
	}
	var err error
	if b.shape, err = model.NewShape(f, best, opt.Fineness); err != nil {
		return nil, err
	}
	draws, err := b.shape.Draws(opt.Conditions, opt.Mode)
	if err != nil {
		return nil, err
	}
	middle, err := b.shape.At(best, opt.Conditions, opt.Mode)
	if err != nil {
		return nil, err
	}
	for _, place := range opt.Places {
		if _, err := middle.Probe(place); err != nil {
			return nil, fmt.Errorf("a probe at %q: %w", place, err)
		}
	}
	if err := session.Ready(middle, best); err != nil {
		return nil, err
	}
	drawn := map[string]bool{}
	for _, r := range draws.Unknowns() {
		drawn[r.Name] = true
	}
	for _, u := range middle.Unknowns {
		if drawn[u.Path] {
			b.unknowns = append(b.unknowns, u)
		}
	}
	if sizes := len(middle.Unknowns) - len(b.unknowns); sizes > 0 {
		b.Warnings = append(b.Warnings, fmt.Sprintf("%d sizes in doubt are taken at their middles", sizes))
	}
	for i := range f.Sensors {
		s := &f.Sensors[i]
		if s.StopsAt.Given() {
			b.trips = append(b.trips, trip{s.StopsAt.Path, s.StopsAt})
		}
		for k := range s.Steps {
			b.trips = append(b.trips, trip{s.Steps[k].Above.Path, s.Steps[k].Above})
		}
	}
	b.prior(opt.Learned)
	if b.model, err = reduce.Train(ctx, draws, reduce.Options{UntilS: b.trainS(middle), Most: widest, Workers: opt.Workers, Seed: opt.Seed, Pairs: opt.Pairs}); err != nil {
		return nil, err
	}
	b.OffK = b.model.EstimateK(0)
	return b, nil
}

// trainS is how long the runs that the reduced model is made of are: for as long as the device may run, but no longer than what
// still changes.
func (b *Bench) trainS(m *model.Model) float64 {
	const least, most = 90 * 60, 4 * 3600.0
	s := b.opt.UntilS
	if bat := m.Battery; s <= 0 && bat != nil && bat.Discharges {
		drawW := bat.OtherW
		for i := range m.Sources {
			if !m.Sources[i].Cell {
				drawW += m.Sources[i].FullW
			}
		}
		s = 1.3 * bat.EnergyJ / drawW
	}
	return math.Min(math.Max(s, least), most)
}

// prior is the Gaussian of the scores: that of the learned draws where there are enough of them to tell, else the priors.
func (b *Bench) prior(learned []device.Values) {
	n := len(b.unknowns)
	b.mean = make([]float64, n)
	cov := mat.NewSymDense(n, nil)
	for i := 0; i < n; i++ {
		cov.SetSym(i, i, 1)
	}
	if len(learned) > 1 {
		var known []int
		for i, u := range b.unknowns {
			if _, ok := learned[0][u.Path]; ok {
				known = append(known, i)
			}
		}
		draws := learned[1:] // the first are the likeliest values, not a draw
		z := make([][]float64, len(draws))
		for d, v := range draws {
			z[d] = make([]float64, len(known))
			for k, i := range known {
				z[d][k] = b.unknowns[i].Prior.Score(v[b.unknowns[i].Path])
				b.mean[i] += z[d][k] / float64(len(draws))
			}
		}
		if few := len(draws) < 2*len(known)+10; few {
			// correlations of so few draws would be mere noise: the spreads alone
			for k, i := range known {
				sum := 0.0
				for d := range z {
					sum += (z[d][k] - b.mean[i]) * (z[d][k] - b.mean[i])
				}
				cov.SetSym(i, i, math.Max(sum/float64(max(len(draws)-1, 1)), leastVariance))
			}
		} else {
			for k, i := range known {
				for l, j := range known[:k+1] {
					sum := 0.0
					for d := range z {
						sum += (z[d][k] - b.mean[i]) * (z[d][l] - b.mean[j])
					}
					sum /= float64(len(draws) - 1)
					if i == j {
						sum += leastVariance
					}
					cov.SetSym(i, j, sum)
				}
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		panic("forecast: the covariance of draws is not positive") // a sum of squares and a positive diagonal
	}
	chol.LTo(&b.factor)
}

// leastVariance of a score: no more is known of anything.
const leastVariance = 1e-4

// Unknowns makes Bench a Device: the file's unknowns, and one error for each temperature at which a sensor acts.
func (b *Bench) Unknowns() int { return len(b.unknowns) + len(b.trips) }

// Values are the numbers at scores.
func (b *Bench) Values(z []float64) device.Values {
	n := len(b.unknowns)
	v := make(device.Values, len(z))
	for path, x := range b.base() {
		v[path] = x
	}
	for i, u := range b.unknowns {
		s := b.mean[i]
		for k := 0; k <= i; k++ {
			s += b.factor.At(i, k) * z[k]
		}
		v[u.Path] = u.Prior.At(s)
	}
	for i, t := range b.trips {
		at := t.q.At(v)
		v[t.path] = at + z[n+i]*math.Hypot(misfitK, misfitFrac*math.Max(0, at-b.startK(v)))
	}
	return v
}

// base are learned values of what is no unknown here, such as sizes.
func (b *Bench) base() device.Values {
	if len(b.opt.Learned) > 0 {
		return b.opt.Learned[0]
	}
	return nil
}

func (b *Bench) startK(v device.Values) float64 {
	c := b.opt.Conditions
	if c == nil || !c.Ambient.Given() {
		c = &b.shape.File.Conditions
	}
	if c.Ambient.Given() {
		return c.Ambient.At(v)
	}
	return device.DefaultAmbientK
}

// reducedTolK is the error per step of reduced runs.
const reducedTolK = 0.03

// Run makes Bench a Device.
func (b *Bench) Run(ctx context.Context, z []float64) (*Run, error) {
	h, _ := b.idle.Get().(*hand)
	if h == nil {
		p, err := b.shape.Partial(b.model, b.opt.Conditions, b.opt.Mode, b.opt.Places)
		if err != nil {
			return nil, err
		}
		h = &hand{partial: p}
	}
	defer b.idle.Put(h)
	v := b.Values(z)
	m, err := h.partial.At(v)
	if err != nil {
		return nil, err
	}
	in := reduce.Instance{Heat: m.Heat, Air: m.Air()}
	if h.stepper == nil {
		h.stepper, err = b.model.Stepper(in, reducedTolK)
	} else {
		err = h.stepper.Take(in)
	}
	if err != nil {
		return nil, err
	}
	return watchRun(ctx, m, v, h.stepper, b.opt, reducedTolK)
}

// watchRun makes a session through any stepper and looks at the probes' places on the way.
func watchRun(ctx context.Context, m *model.Model, v device.Values, st session.Thermal, opt BenchOptions, tolK float64) (*Run, error) {
	w := &onlooker{Thermal: st, field: make([]float64, len(m.Heat.CapJK)), run: &Run{ReadK: make([][]float64, len(opt.Places))}}
	for _, place := range opt.Places {
		p, err := m.Probe(place)
		if err != nil {
			return nil, err
		}
		w.probes = append(w.probes, p)
		w.cells = append(w.cells, p.Places...)
	}
	res, err := session.Run(ctx, m, session.Spec{Values: v, UntilS: opt.UntilS, Bare: true, Watch: opt.Places, TolK: tolK, Workers: 1, Thermal: w})
	if err != nil {
		return nil, err
	}
	w.look(res.Own.AtS)
	w.run.Own = res.Own
	w.run.FullS = res.End.AtS
	return w.run, nil
}

// onlooker passes a stepper through and keeps what the probes see.
type onlooker struct {
	session.Thermal
	probes []*model.Probe
	cells  []int32
	field  []float64
	run    *Run
	nextS  float64
}

// Focus hands on which cells are looked at, where the stepper wants to know.
func (w *onlooker) Focus(cells []int32) {
	if f, ok := w.Thermal.(interface{ Focus([]int32) }); ok {
		f.Focus(cells)
	}
}

// Init starts a run.
func (w *onlooker) Init(tK []float64, tS float64) error {
	if err := w.Thermal.Init(tK, tS); err != nil {
		return err
	}
	for _, c := range w.cells {
		w.field[c] = tK[c]
	}
	w.keep(0)
	return nil
}

// SetPower changes the powers: the step before it must be looked at first.
func (w *onlooker) SetPower(powerW []float64) error {
	w.look(w.Thermal.Time())
	return w.Thermal.SetPower(powerW)
}

// Advance takes a step. What is seen in it is kept only when the next one begins: the session may go back to where a sensor acted.
func (w *onlooker) Advance(ctx context.Context, untilS float64) (heat.Step, error) {
	w.look(w.Thermal.Time())
	return w.Thermal.Advance(ctx, untilS)
}

// look keeps the probes' temperatures up to a time within the last step.
func (w *onlooker) look(toS float64) {
	for w.nextS <= toS && toS > 0 {
		w.Thermal.At(w.field, w.nextS, w.cells)
		w.keep(w.nextS)
	}
}

func (w *onlooker) keep(tS float64) {
	w.run.TimeS = append(w.run.TimeS, tS)
	for i, p := range w.probes {
		w.run.ReadK[i] = append(w.run.ReadK[i], p.Read(w.field, w.films))
	}
	w.nextS = tS + math.Max(leastSampleS, tS/40)
}

// leastSampleS is the time between samples at first; later they lie further apart.
const leastSampleS = 10.0

func (w *onlooker) films(surface int) heat.Film { return w.Thermal.SurfaceState(surface).Film }
