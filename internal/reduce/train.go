package reduce

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"

	"finwright/internal/heat"
	"finwright/internal/work"
)

// Device makes instances of one device, cut into one set of cells, under values of what is not known of it.
type Device interface {
	// Unknowns are what is not known, with the range of values that a reduced model is to hold for.
	Unknowns() []Range
	// At gives the device at standard scores, one per unknown; nil is the middle of all. It must be safe for concurrent use.
	At(scores []float64) (Drawn, error)
}

// Range is an unknown with the values between which a reduced model was made.
type Range struct {
	Name   string
	Lo, Hi float64
}

// Drawn is a device under drawn values, and the run it is to make: from one temperature everywhere, under constant powers.
type Drawn struct {
	Instance
	StartK float64
	PowerW []float64 // per source
	// Weights say how much a cell's temperature counts in the choice of modes (NewBasis).
	Weights []float64
	// Asked are the bodies whose mean and highest temperatures matter.
	Asked []Mean
}

// Options of Train; the zero value is good.
type Options struct {
	UntilS    float64 // length of the runs; 0: 90 min
	Pairs     int     // of opposite draws whose 3-D runs the modes are made of, beside the middle; 0: 60
	Instances int     // draws that tell how numbers depend on values; 0: 24
	Checks    int     // 3-D runs at other draws, to find out how far off the reduced model is; 0: 4
	Most      float64 // standard scores are drawn evenly from ± this; 0: 1.645, the ends of 90 % intervals
	TolK      float64 // error per step of reduced runs, K; 0: StepK
	Workers   int     // 3-D runs at the same time; 0: 2
	Seed      uint64
}

func (o Options) withDefaults() Options {
	or := func(p *int, v int) {
		if *p <= 0 {
			*p = v
		}
	}
	or(&o.Pairs, 60)
	or(&o.Instances, 24)
	or(&o.Checks, 4)
	or(&o.Workers, 2)
	if !(o.UntilS > 0) {
		o.UntilS = 90 * 60
	}
	if !(o.Most > 0) {
		o.Most = 1.645
	}
	if !(o.TolK > 0) {
		o.TolK = StepK
	}
	return o
}

// StepK is an error per step, K, with which a reduced run's steps add less to its error than its modes do.
const StepK = 0.1

const (
	// trainTolK is the error per step of the 3-D runs that only show what fields there are. A step that is off is off by a field
	// that these runs have.
	trainTolK = 1.5
	// snapshots lie at times of this ratio, from firstSnapshotS on, and at the end
	firstSnapshotS, snapshotRatio = 1.0, 2.3
	// checkTolK is the error per step of the 3-D runs that are taken as the truth.
	checkTolK = 0.02
)

// Train makes 3-D runs of the device at draws over all its unknowns, the reduced model from what they showed, and 3-D runs at other
// draws that say how far to trust it.
func Train(ctx context.Context, dev Device, opt Options) (*Model, error) {
	opt = opt.withDefaults()
	unknowns := dev.Unknowns()
	rng := rand.New(rand.NewPCG(opt.Seed, 0x7a11))
	draw := func() []float64 {
		z := make([]float64, len(unknowns))
		for i := range z {
			z[i] = opt.Most * (2*rng.Float64() - 1)
		}
		return z
	}
	points := [][]float64{nil}
	for range opt.Pairs {
		z := draw()
		back := make([]float64, len(z))
		for i := range z {
			back[i] = -z[i]
		}
		points = append(points, z, back)
	}
	seen := make([][][]float64, len(points))
	err := concurrently(ctx, opt.Workers, len(points), func(i int) error {
		d, err := dev.At(points[i])
		if err != nil {
			return err
		}
		next := firstSnapshotS
		return solve3D(ctx, d, opt.UntilS, heat.Options{TolK: trainTolK, Workers: 1}, func(tS float64, tK []float64) error {
			if tS >= next || tS >= opt.UntilS {
				seen[i] = append(seen[i], append([]float64(nil), tK...))
				next = snapshotRatio * tS
			}
			return nil
		})
	})
	if err != nil {
		return nil, err
	}
	var all [][]float64
	for _, run := range seen {
		all = append(all, run...)
	}
	middle, err := dev.At(nil)
	if err != nil {
		return nil, err
	}
	b, err := NewBasis(all, middle.Weights, middle.StartK)
	if err != nil {
		return nil, err
	}
	in := []Instance{middle.Instance}
	for len(in) < opt.Instances {
		d, err := dev.At(draw())
		if err != nil {
			return nil, err
		}
		in = append(in, d.Instance)
	}
	m, err := Build(b, in)
	if err != nil {
		return nil, err
	}
	m.Ranges = unknowns
	checks := make([]Checked, opt.Checks)
	tries := make([][]float64, opt.Checks)
	for i := range tries {
		tries[i] = draw()
	}
	err = concurrently(ctx, opt.Workers, len(tries), func(i int) error {
		d, err := dev.At(tries[i])
		if err == nil {
			checks[i], err = m.Check(ctx, d, opt.UntilS, opt.TolK)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	m.Trust(checks)
	return m, nil
}

// concurrently does n jobs, some at a time, and returns the first error in their order.
func concurrently(ctx context.Context, workers, n int, job func(i int) error) error {
	errs := make([]error, n)
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	jobs := make([]func(), n)
	for i := range jobs {
		jobs[i] = func() {
			if errs[i] = job(i); errs[i] != nil {
				stop() // the others are of no use then
			}
		}
	}
	end := work.InParallel(ctx, workers, jobs)
	for _, err := range errs {
		if err != nil && !errors.Is(err, context.Canceled) {
			return err
		}
	}
	return end
}

// solve3D makes a 3-D run and shows every step.
func solve3D(ctx context.Context, d Drawn, untilS float64, opt heat.Options, visit func(tS float64, tK []float64) error) error {
	st, err := heat.NewStepper(d.Heat, opt)
	if err == nil {
		err = st.InitUniform(d.StartK, 0)
	}
	if err == nil {
		err = st.SetPower(d.PowerW)
	}
	for err == nil && st.Time() < untilS {
		if _, err = st.Advance(ctx, untilS); err == nil {
			err = visit(st.Time(), st.TK())
		}
	}
	return err
}

// startRun is a stepper at the start of a drawn run, on the leading r modes.
func (m *Model) startRun(d Drawn, tolK float64, r int) (*Stepper, error) {
	st, err := m.stepper(d.Instance, tolK, r)
	if err != nil {
		return nil, err
	}
	st.start(d.StartK, 0)
	return st, st.SetPower(d.PowerW)
}

// Checked is a run made in 3-D and by the reduced model.
type Checked struct {
	OffK   float64 // largest difference of what is asked, K: means and highest temperatures of bodies, at all steps of the 3-D run
	RiseK  float64 // largest rise among them
	ApartK float64 // what Apart says of the same run
}

// Check makes a drawn run both in 3-D and reduced.
func (m *Model) Check(ctx context.Context, d Drawn, untilS, tolK float64) (Checked, error) {
	var out Checked
	var err error
	if out.ApartK, err = m.Apart(ctx, d, untilS, tolK); err != nil {
		return out, err
	}
	st, err := m.startRun(d, tolK, m.R)
	if err != nil {
		return out, err
	}
	field := make([]float64, m.N)
	err = solve3D(ctx, d, untilS, heat.Options{TolK: checkTolK, Workers: 1}, func(tS float64, tK []float64) error {
		for st.Time() < tS {
			if _, err := st.Advance(ctx, untilS); err != nil {
				return err
			}
		}
		st.At(field, tS, nil)
		for i := range d.Asked {
			mean, top := d.Asked[i].of(tK)
			got, gotTop := d.Asked[i].of(field)
			out.OffK = max(out.OffK, max(math.Abs(got-mean), math.Abs(gotTop-top)))
			out.RiseK = max(out.RiseK, top-d.StartK)
		}
		return nil
	})
	return out, err
}

// of is the mean of a field, and its highest value there.
func (m *Mean) of(tK []float64) (mean, top float64) {
	top = math.Inf(-1)
	for i, c := range m.Cells {
		mean += m.Share[i] * tK[c]
		top = max(top, tK[c])
	}
	return mean, top
}

// fewerModes is the share of the modes that the second run of Apart makes do with.
const fewerModes = 0.7

// Apart makes a drawn run twice, on all modes and on the leading ones only, and tells how far the two come apart, K. What the
// missing modes would have done is of the size of what the last ones do: a hierarchical estimate (Bank & Weiser, Math. Comp.
// 44, 1985; from memory). EstimateK compares it with those of runs that were checked against 3-D.
func (m *Model) Apart(ctx context.Context, d Drawn, untilS, tolK float64) (float64, error) {
	all, err := m.startRun(d, tolK, m.R)
	if err != nil {
		return 0, err
	}
	few, err := m.startRun(d, tolK, max(1, int(fewerModes*float64(m.R))))
	if err != nil {
		return 0, err
	}
	apart := 0.0
	for all.Time() < untilS {
		if _, err := all.Advance(ctx, untilS); err != nil {
			return 0, err
		}
		for few.Time() < all.Time() {
			if _, err := few.Advance(ctx, untilS); err != nil {
				return 0, err
			}
		}
		x := few.inside(all.Time())
		for i := range m.look {
			v := m.lookV[i*m.R : i*m.R+m.R]
			apart = max(apart, math.Abs(dot(v, all.x)-dot(v, x)))
		}
	}
	return apart, nil
}

// Trust takes what checks at other draws than those of training have shown.
func (m *Model) Trust(checks []Checked) {
	m.Checked = append(m.Checked, checks...)
	for _, c := range checks {
		m.worstK, m.apartK = max(m.worstK, c.OffK), max(m.apartK, c.ApartK)
	}
}

// trustMore is what others than those that were checked may do worse.
const trustMore = 1.5

// EstimateK is the error expected of a run for which Apart gave apartK; NaN before any check. No run is expected to do better than
// the worst of those checked, for their errors are not of missing modes alone; one whose last modes do more than those of any
// checked run is worse in that proportion.
func (m *Model) EstimateK(apartK float64) float64 {
	if len(m.Checked) == 0 {
		return math.NaN()
	}
	return trustMore * m.worstK * max(1, apartK/max(m.apartK, 1e-9))
}

// Outside names the unknowns whose values lie outside of what the model was made for; those it does not know are not named.
func (m *Model) Outside(values map[string]float64) (names []string) {
	for _, r := range m.Ranges {
		v, ok := values[r.Name]
		if slack := 1e-9 * (math.Abs(r.Lo) + math.Abs(r.Hi)); ok && !(v >= r.Lo-slack && v <= r.Hi+slack) {
			names = append(names, r.Name)
		}
	}
	return names
}

// BeyondK is how far the present temperatures lie outside of all that the snapshots showed, K, where they do so most; 0 within.
func (st *Stepper) BeyondK() float64 {
	m, far := st.m, 0.0
	for i := range m.look {
		t := dot(m.lookV[i*m.R:i*m.R+m.R], st.x)
		far = max(far, max(m.lookLo[i]-t, t-m.lookHi[i]))
	}
	return far
}
