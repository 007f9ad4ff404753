package benchtest

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"finwright/internal/device"
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
	"finwright/internal/work"
)

const zeroC = 273.15

// z90 is the standard score of a 90 % interval's end.
const z90 = 1.6448536269514722

// Setting is where and how a test takes place. Zeros leave it to the device's file, but sun and sky are shut out.
type Setting struct {
	RoomK      float64 // air temperature on the bench
	RoomErrorK float64 // half width of its 90 % interval; zero takes RoomErrorK
	WindMS     float64 // air speed; zero is still air
	SunWm2     float64 // direct sun on faces square to it, from the worst side; zero is none
	StartK     float64 // temperature of the device at the start; zero takes the room's
	Mode       string  // the mode it runs in; empty: the file's
	// Under are the conditions of a run that the file knows, sun and all; nil: on a bench. RoomK is the air's temperature in both.
	Under *device.Conditions
}

// RoomErrorK is how wrong a room probe that hangs well may be, half width of the 90 % interval, K. Common practice, no source.
const RoomErrorK = 0.5

// roomFor is the room's temperature where nothing is said: the file's ambient when that is a room's, else 23 °C (common practice, no source).
func roomFor(f *device.File) float64 {
	if a := f.Conditions.Ambient; a.Given() && a.Mid > zeroC+14 && a.Mid < zeroC+31 {
		return a.Mid
	}
	return zeroC + 23
}

// bench puts a design on the bench, with no sun, no sky, and the room's air; or under the conditions of its run.
func bench(f *device.File, at Setting) (*device.File, Setting) {
	if at.RoomK == 0 {
		at.RoomK = roomFor(f)
	}
	if at.RoomErrorK == 0 {
		at.RoomErrorK = RoomErrorK
	}
	ambient := device.Q{Quantity: unit.Quantity{Dim: unit.Temperature, Kind: unit.Range, Lo: at.RoomK - at.RoomErrorK, Mid: at.RoomK, Hi: at.RoomK + at.RoomErrorK}, Path: roomPath}
	var g *device.File
	if at.Under != nil {
		g = f.During(at.Under, ambient)
	} else if g = f.OnBench(ambient, at.WindMS); at.SunWm2 > 0 {
		g.Conditions.Sun, g.Conditions.SkyLight = device.Q{Quantity: unit.ExactSI(at.SunWm2, unit.HeatFlux)}, device.Q{}
	}
	if at.Mode != "" {
		g.Mode = at.Mode
	}
	return g, at
}

const roomPath = "conditions.ambient"

// Bond is one joint whose fault is looked for.
type Bond struct {
	Name, A, B string
	What       string  // its filler, in words
	HWm2K      float64 // as planned, or as learned
	LoWm2K     float64 // 90 % of what was planned lies between
	HiWm2K     float64
	AreaM2     float64
	New        bool // the retrofit made it

	path string
	sdLn float64 // standard deviation of ln HWm2K, as planned
}

// unknown is one doubtful figure that moves the readings.
type unknown struct {
	model.Unknown
	score float64 // its expected value, in scores of its prior
}

// rig is one design in one setting, ready for runs at changed values.
type rig struct {
	file     *device.File
	at       Setting
	shape    *model.Shape
	mid      *model.Model
	base     device.Values
	unknowns []unknown
	cov      [][]float64 // of the unknowns, in scores
	bonds    []Bond
	untilS   float64
	workers  int
	fine     model.Fineness
	anchor   model.Fineness
	biasK    map[string]float64 // by sensor: how much warmer the coarser cells have it than the anchor's
	tell     func(weight int)
}

// Options steer a plan or a verdict.
type Options struct {
	Retrofit string // the design under test; "" is the device as it is
	Setting  Setting
	Learned  *learn.Result  // from the stock runs; may be nil
	UntilS   float64        // longest run; zero: until the battery is empty, or four hours
	Fineness model.Fineness // cells of the runs that show how things move; zero takes model.Coarse
	Anchor   model.Fineness // cells of the run that shows where they are; zero takes model.Fine
	Workers  int            // runs at the same time; zero takes two
	Draws    int            // of the doubt, for forecasts; zero takes 16
	Seed     uint64
	Progress func(done, expected int)
}

// longestS is the longest test of a device that is fed from outside, s.
const longestS = 4 * 3600.0

// newRig builds a design for the bench.
func newRig(f *device.File, opt Options) (*rig, error) {
	v, _, err := f.Variant(opt.Retrofit)
	if err != nil {
		return nil, err
	}
	r := &rig{base: device.Values{}, workers: opt.Workers, fine: opt.Fineness}
	if r.workers <= 0 {
		r.workers = 2
	}
	if r.fine == (model.Fineness{}) {
		r.fine = model.Coarse
	}
	if r.anchor = opt.Anchor; r.anchor == (model.Fineness{}) {
		r.anchor = model.Fine
	}
	var planned *device.File
	planned, r.at = bench(v, opt.Setting)
	if opt.Learned != nil {
		for p, x := range opt.Learned.Best {
			r.base[p] = x
		}
	}
	r.base[roomPath] = r.at.RoomK
	if r.shape, err = model.NewShape(planned, r.base, r.fine); err != nil {
		return nil, err
	}
	if err := r.bondsOf(f, planned, opt.Retrofit); err != nil {
		return nil, err
	}
	r.file = r.free(planned)
	if r.shape, err = model.NewShape(r.file, r.base, r.fine); err != nil {
		return nil, err
	}
	if r.mid, err = r.shape.At(r.base, nil, ""); err != nil {
		return nil, err
	}
	if err := session.Ready(r.mid, r.base); err != nil {
		return nil, err
	}
	r.gather(opt.Learned)
	r.untilS = opt.UntilS
	if r.untilS <= 0 {
		r.untilS = longestS
		if e := emptyS(r.mid); !math.IsInf(e, 1) {
			r.untilS = e
		}
	}
	return r, nil
}

// emptyS is when the battery is empty at full power, s; +Inf when fed from outside.
func emptyS(m *model.Model) float64 {
	b := m.Battery
	if b == nil || !b.Discharges {
		return math.Inf(1)
	}
	drawW := b.OtherW
	for i := range m.Sources {
		if !m.Sources[i].Cell {
			drawW += m.Sources[i].FullW
		}
	}
	if drawW <= 0 {
		return math.Inf(1)
	}
	return b.EnergyJ / drawW
}

// bondsOf lists the joints that may be at fault: those that the retrofit made; of the device as it is all that the file names.
// What was planned of each comes from the doubtful figures behind it, to first order.
func (r *rig) bondsOf(f, planned *device.File, retrofit string) error {
	made := map[string]bool{}
	for i := range f.Retrofits {
		if f.Retrofits[i].Name != retrofit {
			continue
		}
		for k := range f.Retrofits[i].Changes {
			for _, j := range f.Retrofits[i].Changes[k].Rejoin {
				made[j.Name] = true
			}
		}
	}
	m, err := r.shape.At(r.base, nil, "")
	if err != nil {
		return err
	}
	index := map[int]int{} // of a joint of m in r.bonds
	for i := range m.Joints {
		j := &m.Joints[i]
		if j.Name == "" || retrofit != "" && !made[j.Name] || math.IsInf(j.HWm2K, 1) {
			continue
		}
		index[i] = len(r.bonds)
		r.bonds = append(r.bonds, Bond{Name: j.Name, A: m.BodyName(j.A), B: m.BodyName(j.B), What: j.What, HWm2K: j.HWm2K, AreaM2: j.AreaM2,
			New: made[j.Name], path: "joints." + j.Name + ".conductance"})
	}
	if len(r.bonds) == 0 {
		return nil
	}
	for _, u := range m.Unknowns {
		if !ofJoint(u, r.bonds) {
			continue
		}
		v := device.Values{}
		for p, x := range r.base {
			v[p] = x
		}
		z := 0.0
		if x, ok := r.base[u.Path]; ok {
			z = u.Prior.Score(x)
		}
		v[u.Path] = u.Prior.At(z + 1)
		moved, err := r.shape.At(v, nil, "")
		if err != nil {
			return err
		}
		for i, k := range index {
			d := math.Log(moved.Joints[i].HWm2K / m.Joints[i].HWm2K)
			r.bonds[k].sdLn = math.Hypot(r.bonds[k].sdLn, d)
		}
	}
	for k := range r.bonds {
		b := &r.bonds[k]
		b.LoWm2K, b.HiWm2K = b.HWm2K*math.Exp(-z90*b.sdLn), b.HWm2K*math.Exp(z90*b.sdLn)
	}
	return nil
}

// ofJoint says whether an unknown may stand behind one of the bonds: its words name the joint.
func ofJoint(u model.Unknown, bonds []Bond) bool {
	for i := range bonds {
		if strings.Contains(u.About, bonds[i].Name) || strings.Contains(u.Path, bonds[i].Name) {
			return true
		}
	}
	return false
}

// free is the file with each bond's conductance stated outright, so that runs can change it.
func (r *rig) free(f *device.File) *device.File {
	g := *f
	g.Joints = slices.Clone(f.Joints)
	for i := range g.Joints {
		j := &g.Joints[i]
		for k := range r.bonds {
			b := &r.bonds[k]
			if b.Name != j.Name {
				continue
			}
			*j = device.Joint{Name: j.Name, Pos: j.Pos, Between: j.Between, Filler: j.Filler,
				Conductance: device.Q{Quantity: unit.Quantity{Dim: unit.FilmCoefficient, Kind: unit.Range, Lo: b.HWm2K / 100, Mid: b.HWm2K, Hi: b.HWm2K * 10}, Path: b.path}}
			r.base[b.path] = b.HWm2K
		}
	}
	return &g
}

// gather lists the unknowns besides the bonds, with what was learned of them together.
func (r *rig) gather(l *learn.Result) {
	for _, u := range r.mid.Unknowns {
		if strings.HasPrefix(u.Path, "parts.") && u.Dim == unit.Length || slices.ContainsFunc(r.bonds, func(b Bond) bool { return b.path == u.Path }) {
			continue // another size would be other cells
		}
		x := unknown{Unknown: u}
		if v, ok := r.base[u.Path]; ok {
			x.score = u.Prior.Score(v)
		}
		r.unknowns = append(r.unknowns, x)
	}
	n := len(r.unknowns)
	at := map[string]int{}
	r.cov = make([][]float64, n)
	for i := range r.cov {
		r.cov[i] = make([]float64, n)
		r.cov[i][i] = 1
		at[r.unknowns[i].Path] = i
	}
	if l == nil || l.Covariance == nil {
		return
	}
	for i, u := range l.Unknowns {
		a, ok := at[u.Path]
		if !ok || u.Path == roomPath {
			continue
		}
		for k, w := range l.Unknowns {
			if b, ok := at[w.Path]; ok && w.Path != roomPath {
				r.cov[a][b] = l.Covariance[i][k]
			}
		}
	}
}

// with is the values expected, changed by the unknowns' scores beyond the expected ones and the bonds' ln of conductance over the planned one.
func (r *rig) with(scores []float64, lnH []float64) device.Values {
	v := make(device.Values, len(r.base)+len(scores))
	for p, x := range r.base {
		v[p] = x
	}
	for i, z := range scores {
		if z != 0 {
			u := &r.unknowns[i]
			v[u.Path] = u.Prior.At(u.score + z)
		}
	}
	for k, d := range lnH {
		v[r.bonds[k].path] = r.bonds[k].HWm2K * math.Exp(d)
	}
	return v
}

// trace is what one run gave.
type trace struct {
	timeS  []float64
	placeK [][]float64 // by place watched
	gates  []gateTrace
	emptyS float64
}

// gateTrace is how far one sensor is from where it acts.
type gateTrace struct {
	sensor, kind string
	marginK      []float64
}

// tolK is the error per step of the test's runs, K.
const tolK = 0.05

// run makes one run without stops.
func (r *rig) run(ctx context.Context, v device.Values, watch []string) (trace, error) {
	return r.runOn(ctx, r.shape, v, watch)
}

func (r *rig) runOn(ctx context.Context, shape *model.Shape, v device.Values, watch []string) (trace, error) {
	m, err := shape.At(v, nil, "")
	if err != nil {
		return trace{}, err
	}
	spec := session.Spec{Values: v, StartK: r.at.StartK, UntilS: r.untilS, NoStop: true, NoDim: true, NoEmpty: true, Bare: true, TolK: tolK, Workers: 1, Watch: watch}
	res, err := session.Run(ctx, m, spec)
	if err != nil {
		return trace{}, err
	}
	t := trace{timeS: res.TimeS, placeK: make([][]float64, len(watch)), emptyS: emptyS(m)}
	for i := range res.Series {
		s := &res.Series[i]
		if k := slices.Index(watch, s.Name); s.Kind == "place" && k >= 0 {
			t.placeK[k] = s.ValueK
		}
	}
	for _, g := range res.Gates {
		s := &res.Series[g.Series]
		gt := gateTrace{sensor: s.Name, kind: g.Kind}
		for _, x := range s.ValueK {
			gt.marginK = append(gt.marginK, g.LimitK-x)
		}
		t.gates = append(t.gates, gt)
	}
	return t, nil
}

// faults are the factors by which a bond's resistance is raised in runs of their own.
var faults = []float64{2, 5, 15, 60}

// effects is how readings move: the run expected, one for each unknown a standard deviation off, and for each bond those with faults.
type effects struct {
	base  trace     // on the anchor's cells
	from  trace     // the same on those of all the other runs
	moved []trace   // by unknown
	stepZ []float64 // by how much each was moved, in scores
	fault [][]trace // by bond and faults
	// startK is the temperature all runs start from
	startK float64
}

// measure makes all these runs.
func (r *rig) measure(ctx context.Context, watch []string) (*effects, error) {
	n := len(r.unknowns)
	e := &effects{moved: make([]trace, n), stepZ: make([]float64, n), fault: make([][]trace, len(r.bonds)), startK: r.mid.StartK}
	if r.at.StartK != 0 {
		e.startK = r.at.StartK
	}
	var jobs []func()
	errs := make([]error, 2+n+len(r.bonds)*len(faults))
	job := func(dst *trace, v device.Values) {
		k := len(jobs)
		jobs = append(jobs, func() {
			*dst, errs[k] = r.run(ctx, v, watch)
			r.say(1)
		})
	}
	fine, err := model.NewShape(r.file, r.base, r.anchor)
	if err != nil {
		return nil, err
	}
	jobs = append(jobs, func() {
		e.base, errs[0] = r.runOn(ctx, fine, r.base, watch)
		r.say(anchorWeight)
	})
	job(&e.from, r.base)
	for i := range r.unknowns {
		e.stepZ[i] = math.Max(0.2, math.Sqrt(r.cov[i][i]))
		z := make([]float64, n)
		z[i] = e.stepZ[i]
		job(&e.moved[i], r.with(z, nil))
	}
	for b := range r.bonds {
		e.fault[b] = make([]trace, len(faults))
		for k, f := range faults {
			lnH := make([]float64, len(r.bonds))
			lnH[b] = -math.Log(f)
			job(&e.fault[b][k], r.with(nil, lnH))
		}
	}
	if err := work.InParallel(ctx, r.workers, jobs); err != nil {
		return nil, err
	}
	for _, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("a run of the model failed: %w", err)
		}
	}
	r.biasK = map[string]float64{}
	for k, g := range e.base.gates {
		r.biasK[g.sensor] = at(e.base.timeS, g.marginK, r.untilS) - at(e.from.timeS, e.from.gates[k].marginK, r.untilS)
	}
	return e, nil
}

// unbiased lets sensors act where the anchor's cells would have them do so: what coarser cells have them too warm by is added to the
// temperatures at which they act.
func (r *rig) unbiased(v device.Values) device.Values {
	out := make(device.Values, len(v)+len(r.biasK))
	for p, x := range v {
		out[p] = x
	}
	for i := range r.file.Sensors {
		s := &r.file.Sensors[i]
		k := r.biasK[s.Name]
		if q := s.StopsAt; q.Given() && q.Path != "" {
			out[q.Path] = q.At(v) + k
		}
		for j := range s.Steps {
			for _, q := range []device.Q{s.Steps[j].Above, s.Steps[j].BackBelow} {
				if q.Given() && q.Path != "" {
					out[q.Path] = q.At(v) + k
				}
			}
		}
	}
	return out
}

// anchorWeight is about how many of the other runs the anchor's takes as long as.
const anchorWeight = 6

// runsNeeded is how many runs measure makes, in those on coarser cells.
func (r *rig) runsNeeded() int { return 1 + anchorWeight + len(r.unknowns) + len(r.bonds)*len(faults) }

func (r *rig) say(weight int) {
	if r.tell != nil {
		r.tell(weight)
	}
}

// at reads a curve at a time by straight lines between samples.
func at(timeS, value []float64, s float64) float64 {
	n := min(len(timeS), len(value))
	if n == 0 {
		return math.NaN()
	}
	k, _ := slices.BinarySearch(timeS[:n], s)
	switch {
	case k == 0:
		return value[0]
	case k >= n:
		return value[n-1]
	}
	w := (s - timeS[k-1]) / (timeS[k] - timeS[k-1])
	return value[k-1] + w*(value[k]-value[k-1])
}
