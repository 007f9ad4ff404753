// Package standin makes a design under one set of conditions quick to ask: a few dozen 3-D runs train a reduced model, and from
// then on a whole session at any values of what is not known takes some milliseconds instead of seconds. Every session is made
// at full power to its goal, whatever the device would do on the way, so that each answer is a number that moves smoothly with
// the values: how many kelvin a limit was missed by, also where the device would long have stopped.
//
// Start reading at Build and Ask.
package standin

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"sync"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/reduce"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// Options of Build.
type Options struct {
	Conditions *device.Conditions // nil: the file's
	Mode       string             // "": the file's
	Best       device.Values      // most likely values: sizes in doubt are cut at these
	Learned    []device.Values    // draws of what was learned, the best values first; nil: nothing was
	Draws      int                // draws of all that is in doubt, see Design.Draws
	Ambient    bool               // also over a span of air temperatures, for AskAt
	Watch      []string           // further places, for Run
	UntilS     float64            // time asked for; 0: until the battery is empty
	Fineness   model.Fineness     // zero: about 12 000 cells
	Pairs      int                // of opposite 3-D runs to train on; 0: 8
	Workers    int                // 3-D runs at the same time; 0: 1
	Seed       uint64
	Progress   func() // told after each of Runs 3-D runs
}

const (
	pairs     = 8
	instances = 12
	checks    = 1
	// tolK is the error allowed per step of reduced sessions, K.
	tolK = 0.04
	// spanShare is the share of the draws whose span the reduced model is trained over; it bends little, and holds beyond.
	spanShare = 0.95
	// AmbientSpanK is how far from the conditions' own air temperature AskAt may go, K.
	AmbientSpanK = 25.0
	// noBatteryS is how long a device that is fed from outside is to last when no time is asked for: the session's own figure.
	noBatteryS = 4 * 3600.0
)

var fineness = model.Fineness{TargetCells: 12_000, Across: 1}

// Runs is how many times Options.Progress is called.
func (o Options) Runs() int {
	if o.Pairs <= 0 {
		o.Pairs = pairs
	}
	return 2*o.Pairs + 1 + 1 + instances - 1 + checks
}

// Design is a design under one set of conditions.
type Design struct {
	File     *device.File
	Unknowns []model.Unknown // under the conditions, sizes in doubt among them
	// Draws are of all that is in doubt, the best values first; the reduced model is trained over their span.
	Draws []device.Values
	AirK  float64 // of the conditions, middle
	Cells int
	// Battery tells whether a battery says how long it is to last.
	Battery bool

	opt        Options
	shape      *model.Shape
	conditions *device.Conditions
	path       string // of the ambient temperature; "" when it cannot be changed
	rm         *reduce.Model
	places     []string
	fineRatio  map[string]float64 // see Anchor
	sizes      []sizeEffect       // of sizes in doubt
	idle       sync.Pool          // of *hand
}

// hand is one session's tools.
type hand struct {
	partial *model.Partial
	stepper *reduce.Stepper
}

// Build trains the reduced model of a design: 3-D runs at the middle and at pairs of opposite points of the span of the draws.
func Build(ctx context.Context, f *device.File, opt Options) (*Design, error) {
	if opt.Pairs <= 0 {
		opt.Pairs = pairs
	}
	if opt.Fineness == (model.Fineness{}) {
		opt.Fineness = fineness
	}
	if opt.Workers <= 0 {
		opt.Workers = 1
	}
	d := &Design{File: f, opt: opt, conditions: opt.Conditions, fineRatio: map[string]float64{}}
	var err error
	if d.shape, err = model.NewShape(f, opt.Best, opt.Fineness); err != nil {
		return nil, err
	}
	own := device.Conditions{}
	if opt.Conditions != nil {
		own = *opt.Conditions
	}
	m, err := d.shape.At(opt.Best, &own, opt.Mode)
	if err != nil {
		return nil, err
	}
	d.Unknowns, d.AirK, d.Cells = m.Unknowns, m.Under.AirK, m.ActiveCells()
	d.Draws = Draws(d.Unknowns, opt.Learned, opt.Best, opt.Draws)
	d.Battery = m.Battery != nil && m.Battery.Discharges
	if opt.Ambient && len(f.Boundaries) == 0 {
		// an air temperature with a path of its own can be chosen like any other value
		q := f.Under(&own).Ambient
		if !q.Given() {
			q.Quantity = unit.ExactSI(d.AirK, unit.Temperature)
		}
		if q.Path == "" {
			q.Path = "conditions.ambient"
		}
		d.path = q.Path
		own.Ambient = q
	}
	d.conditions = &own
	for _, place := range opt.Watch {
		if !slices.Contains(d.places, place) {
			d.places = append(d.places, place)
		}
	}
	span := d.span()
	if len(span) == 0 { // nothing is in doubt: one run shows all there is
		d.opt.Pairs = 1
	}
	d.rm, err = reduce.Train(ctx, trainee{d, span}, reduce.Options{UntilS: d.longestS(), Pairs: d.opt.Pairs, Instances: instances, Checks: checks,
		Most: 1, TolK: tolK, Workers: opt.Workers, Seed: opt.Seed})
	if err != nil {
		return nil, err
	}
	return d, d.resize(ctx)
}

// span is where the draws lie, per unknown that varies.
func (d *Design) span() []reduce.Range {
	var out []reduce.Range
	for _, u := range d.Unknowns {
		if isSize(u) || u.Path == d.path && d.path != "" {
			continue
		}
		var v []float64
		for _, draw := range d.Draws {
			if x, ok := draw[u.Path]; ok {
				v = append(v, x)
			}
		}
		if len(v) == 0 {
			continue
		}
		sort.Float64s(v)
		lo, hi := v[int(float64(len(v)-1)*(1-spanShare)/2)], v[int(float64(len(v)-1)*(1+spanShare)/2+0.5)]
		if hi > lo {
			out = append(out, reduce.Range{Name: u.Path, Lo: lo, Hi: hi})
		}
	}
	if d.path != "" {
		out = append(out, reduce.Range{Name: d.path, Lo: d.AirK - AmbientSpanK, Hi: d.AirK + AmbientSpanK})
	}
	return out
}

// longestS is the longest that a session is to last, with some to spare for draws that go beyond.
func (d *Design) longestS() float64 {
	long := d.opt.UntilS
	for _, v := range d.Draws {
		if m, err := d.goalOf(v); err == nil {
			long = math.Max(long, m)
		}
	}
	return long
}

// goalOf is how long a session at values v is to last: to the battery's end, or the time asked for, s. It reads the file, not a
// model, which is not there yet.
func (d *Design) goalOf(v device.Values) (float64, error) {
	b := d.File.Battery
	if !d.Battery {
		if d.opt.UntilS > 0 {
			return d.opt.UntilS, nil
		}
		return noBatteryS, nil
	}
	mode := d.opt.Mode
	if mode == "" {
		mode = d.File.Mode
	}
	drawW := b.OtherLoad.In(mode).At(v)
	for i := range d.File.Parts {
		drawW += d.File.Parts[i].Heat.In(mode).At(v)
	}
	if !(drawW > 0) {
		return 0, fmt.Errorf("%s: nothing draws power in mode %q", d.File.Path, mode)
	}
	s := b.Energy.At(v) / drawW
	if d.opt.UntilS > 0 {
		s = math.Min(s, d.opt.UntilS)
	}
	return s, nil
}

// isSize says whether an unknown is a part's size, which needs new cells.
func isSize(u model.Unknown) bool {
	return u.Dim == unit.Length && len(u.Path) > 6 && u.Path[:6] == "parts."
}

// trainee makes a Design a reduce.Device.
type trainee struct {
	d    *Design
	span []reduce.Range
}

func (t trainee) Unknowns() []reduce.Range { return t.span }

// At goes evenly over the span: over its logarithm where it is wide.
func (t trainee) At(scores []float64) (reduce.Drawn, error) {
	v := make(device.Values, len(scores)+len(t.d.opt.Best))
	for p, x := range t.d.opt.Best {
		v[p] = x
	}
	for i, z := range scores {
		r, u := t.span[i], (z+1)/2
		if r.Lo > 0 && r.Hi > 3*r.Lo {
			v[r.Name] = r.Lo * math.Pow(r.Hi/r.Lo, u)
		} else {
			v[r.Name] = r.Lo + u*(r.Hi-r.Lo)
		}
	}
	m, err := t.d.shape.At(v, t.d.conditions, t.d.opt.Mode)
	if err != nil {
		return reduce.Drawn{}, err
	}
	if t.d.opt.Progress != nil {
		t.d.opt.Progress()
	}
	return m.Drawn(), nil
}

// spec is the session that a stand-in makes, and the 3-D runs that it is held against.
func (d *Design) spec(m *model.Model, v device.Values, untilS float64) session.Spec {
	goalS := untilS
	if goalS <= 0 {
		goalS = d.opt.UntilS
		if w := fullDrawW(m); w > 0 {
			if s := m.Battery.EnergyJ/w + 1; goalS <= 0 || s < goalS {
				goalS = s
			}
		} else if goalS <= 0 {
			goalS = noBatteryS
		}
	}
	return session.Spec{Values: v, UntilS: goalS, NoStop: true, NoDim: true, Brief: true, Watch: d.places, TolK: tolK, Workers: 1}
}

// fullDrawW is what the battery gives at full power, W; 0 when it feeds nothing.
func fullDrawW(m *model.Model) float64 {
	if m.Battery == nil || !m.Battery.Discharges {
		return 0
	}
	w := m.Battery.OtherW
	for _, s := range m.Sources {
		if !s.Cell {
			w += s.FullW
		}
	}
	return w
}

// Run makes the session of untilS seconds (0: to the goal) at values v: at full power, obeying no sensor.
func (d *Design) Run(ctx context.Context, v device.Values, untilS float64) (*session.Result, *model.Model, error) {
	h, ok := d.idle.Get().(*hand)
	if !ok {
		p, err := d.shape.Partial(d.rm, d.conditions, d.opt.Mode, d.places)
		if err != nil {
			return nil, nil, err
		}
		h = &hand{partial: p}
	}
	defer d.idle.Put(h)
	m, err := h.partial.At(v)
	if err != nil {
		return nil, nil, err
	}
	in := reduce.Instance{Heat: m.Heat, Air: m.Air()}
	if h.stepper == nil {
		h.stepper, err = d.rm.Stepper(in, tolK)
	} else {
		err = h.stepper.Take(in)
	}
	if err != nil {
		return nil, nil, err
	}
	spec := d.spec(m, v, untilS)
	spec.Thermal = h.stepper
	res, err := session.Run(ctx, m, spec)
	return res, m, err
}
