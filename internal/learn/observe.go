package learn

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"sort"
	"sync"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/reduce"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// LogReader reads a logger's file: for each asked column, times (s since the start) and temperatures (K).
type LogReader func(path string, columns []string) (map[string]Trace, error)

// Trace is one logged temperature.
type Trace struct{ TimeS, ValueK []float64 }

// observed is one run with what was seen in it.
type observed struct {
	spec    *device.Run
	name    string
	file    *device.File // the device as it was in this run
	shape   *model.Shape
	spots   []spot
	errors  *errorModel  // of the spots; nil without any
	seen    [][]snapshot // of the 3-D runs that train the reduced model
	reduced *reduced     // nil: every run is made in 3-D
}

// reduced is one run's reduced model, with what a simulation needs for as long as it takes.
type reduced struct {
	model *reduce.Model
	idle  sync.Pool // of *hand
}

// hand is one simulation's tools: they are made once and used by one simulation at a time.
type hand struct {
	partial *model.Partial
	stepper *reduce.Stepper
}

// snapshot is a field of cell temperatures, K.
type snapshot []float64

// watch makes a 3-D run of the whole time observed and keeps snapshots of it, evenly over the logarithm of time.
func (o *observed) watch(ctx context.Context, v device.Values, seen *[]snapshot) error {
	m, err := o.shape.At(v, &o.spec.Conditions, o.spec.Mode)
	if err != nil {
		return err
	}
	next := 2.0
	untilS := math.Max(60, math.Max(o.untilS(), o.spec.DimsAfter.Mid))
	spec := o.session(m, v, untilS, false)
	spec.TolK = watchTolK
	spec.OnStep = func(tS float64, tK []float64) {
		if tS >= next || tS >= untilS-1e-6 {
			*seen = append(*seen, append(snapshot(nil), tK...))
			next = tS * 2
		}
	}
	_, err = session.Run(ctx, m, spec)
	return err
}

// watchTolK is the error per step of runs that are only to show what fields there are.
const watchTolK = 0.5

// reduce makes the run's reduced model from everything seen so far; draws are values drawn over all that is not known, the middle
// (nil) first, within ranges.
func (o *observed) reduce(draws []device.Values, ranges []reduce.Range) error {
	var all [][]float64
	for _, run := range o.seen {
		for _, s := range run {
			all = append(all, s)
		}
	}
	if len(all) == 0 {
		return nil
	}
	var b *reduce.Basis
	var in []reduce.Instance
	for _, v := range draws {
		m, err := o.shape.At(v, &o.spec.Conditions, o.spec.Mode)
		if err != nil {
			return err
		}
		if b == nil {
			if b, err = reduce.NewBasis(all, m.Weights(), o.start(m, nil)); err != nil {
				return err
			}
		}
		in = append(in, reduce.Instance{Heat: m.Heat, Air: m.Air()})
	}
	rm, err := reduce.Build(b, in)
	if err != nil {
		return err
	}
	rm.Ranges = ranges
	o.reduced = &reduced{model: rm}
	return nil
}

// hand gives the tools for one simulation; give them back when it is done.
func (o *observed) hand() (*hand, error) {
	if h, ok := o.reduced.idle.Get().(*hand); ok {
		return h, nil
	}
	places := make([]string, len(o.spots))
	for i := range o.spots {
		places[i] = o.spots[i].place
	}
	p, err := o.shape.Partial(o.reduced.model, &o.spec.Conditions, o.spec.Mode, places)
	return &hand{partial: p}, err
}

// model is the device under values v, and a stepper for it: nil where every run is made in 3-D.
func (o *observed) model(v device.Values) (m *model.Model, h *hand, err error) {
	if o.reduced == nil {
		m, err = o.shape.At(v, &o.spec.Conditions, o.spec.Mode)
		return m, nil, err
	}
	if h, err = o.hand(); err != nil {
		return nil, nil, err
	}
	if m, err = h.partial.At(v); err != nil {
		return nil, nil, err
	}
	in := reduce.Instance{Heat: m.Heat, Air: m.Air()}
	if h.stepper == nil {
		h.stepper, err = o.reduced.model.Stepper(in, tolK)
	} else {
		err = h.stepper.Take(in)
	}
	return m, h, err
}

// in3D is the run made in 3-D on other cells.
func (o *observed) in3D(shape *model.Shape) *observed {
	out := *o
	out.shape, out.reduced = shape, nil
	return &out
}

// start is the temperature the run started from, K.
func (o *observed) start(m *model.Model, v device.Values) float64 {
	if o.spec.Start.Given() {
		return o.spec.Start.At(v)
	}
	return m.StartK
}

// observations reads every run's statements and logs; devices are those they were made on, by retrofit.
func observations(f *device.File, devices map[string]*device.File, readLog LogReader) ([]observed, error) {
	var out []observed
	var problems device.Problems
	for i := range f.Runs {
		r := &f.Runs[i]
		o := observed{spec: r, file: devices[r.Retrofit], name: r.Label()}
		for k := range r.Spots {
			o.spots = append(o.spots, handSpot(o.file, r, &r.Spots[k]))
		}
		if r.Log != "" && readLog != nil {
			spots, err := logSpots(f, r, readLog)
			if err != nil {
				problems = append(problems, f.Problem(r.Pos, fmt.Sprintf("log %q: %v", r.Log, err), "a CSV file beside the device file", ""))
				continue
			}
			o.spots = append(o.spots, spots...)
		}
		sort.SliceStable(o.spots, func(a, b int) bool { return o.spots[a].atS < o.spots[b].atS })
		o.errors = newErrorModel(o.spots)
		out = append(out, o)
	}
	if len(problems) > 0 {
		return nil, problems
	}
	return out, nil
}

// logSpots thins a log's channels to a few points each.
func logSpots(f *device.File, r *device.Run, readLog LogReader) ([]spot, error) {
	columns := make([]string, len(r.Channels))
	for i := range r.Channels {
		columns[i] = r.Channels[i].Name
	}
	traces, err := readLog(filepath.Join(filepath.Dir(f.Path), filepath.FromSlash(r.Log)), columns)
	if err != nil {
		return nil, err
	}
	offsetK := 2.0 / z90
	if r.Error.Given() {
		offsetK = r.Error.Mid / z90
	}
	var out []spot
	for i := range r.Channels {
		ch := &r.Channels[i]
		tr := traces[ch.Name]
		n := len(tr.TimeS)
		if n == 0 {
			return nil, fmt.Errorf("column %q has no readings", ch.Name)
		}
		endS := tr.TimeS[n-1]
		// After a stop or a power step the powers are others, from a moment on that the sensor's own error moves by minutes.
		for _, q := range []device.Q{r.StopsAfter, r.DimsAfter} {
			if q.Given() {
				endS = math.Min(endS, q.Lo)
			}
		}
		for k := 1; k <= logPoints; k++ {
			want := endS * float64(k) / logPoints
			at := sort.SearchFloat64s(tr.TimeS, want)
			if at >= n {
				at = n - 1
			}
			out = append(out, spot{place: ch.At, atS: tr.TimeS[at], readK: tr.ValueK[at], noiseK: logNoiseK, probe: ch.Name, offsetK: offsetK,
				lossShare: logLossShare, riseK: tr.ValueK[at] - ambient(f, r), text: fmt.Sprintf("%s (log %s) after %s", ch.At, ch.Name, unit.Format(tr.TimeS[at], unit.Time))})
		}
	}
	return out, nil
}

// residuals is how many numbers compare writes.
func (o *observed) residuals() int { return len(o.oneSided()) }

// oneSided tells, in the order in which compare writes the residuals, which of them are of statements that something had not happened
// yet.
func (o *observed) oneSided() []bool {
	var out []bool
	r := o.spec
	if r.DimsAfter.Given() {
		out = append(out, false)
	}
	if r.Metered().Given() {
		out = append(out, false)
	}
	if r.StopsAfter.Given() {
		out = append(out, false)
	}
	if r.RunningAfter.Given() {
		out = append(out, true)
	}
	if r.EmptyAfter.Given() {
		out = append(out, true, false)
	}
	out = append(out, make([]bool, len(o.spots))...)
	for _, q := range []device.Q{r.DimsAfter, r.StopsAfter} {
		if q.Given() {
			out = append(out, false)
		}
	}
	return out
}

// compare simulates the run under values v and writes the residuals, in standard deviations, with the offsets added (nil: none).
// fits, when not nil, gets them in words.
//
// A stop is compared as a temperature at the time it was seen, not as a time: how far the sensor then was from its stop
// temperature, divided by the error of the time taken through the slope of the curve. That stays smooth and finite when the
// model would never stop at all.
func (o *observed) compare(ctx context.Context, v device.Values, dst, offset []float64, fits *[]Fit) error {
	m, h, err := o.model(v)
	if err != nil {
		return err
	}
	if h != nil {
		defer o.reduced.idle.Put(h)
	}
	at := 0
	one := o.oneSided()
	put := func(score float64, what, seen, got string) {
		dst[at] = score
		if one[at] {
			score = math.Max(0, score)
		}
		at++
		if fits != nil {
			*fits = append(*fits, Fit{Run: o.name, What: what, Observed: seen, Modelled: got, Score: score})
		}
	}
	beyond := func() float64 { // the offset of the next residual
		if offset == nil {
			return 0
		}
		return offset[at]
	}
	var flats []float64 // of stops and steps, written last
	defer func() {
		from := len(dst) - len(flats)
		copy(dst[from:], flats)
		if offset != nil {
			for i := range flats {
				dst[from+i] += offset[from+i]
			}
		}
	}()
	r := o.spec
	if r.DimsAfter.Given() {
		res, err := o.simulate(ctx, m, h, v, r.DimsAfter.Mid, true)
		if err != nil {
			return err
		}
		score, flat, gotS := crossing(res, r.DimsAfter, "step", beyond())
		put(score, "takes its first power step", r.DimsAfter.Text, timeText(gotS))
		flats = append(flats, flat)
	}
	if q := r.Metered(); q.Given() {
		gotW := electricW(m)
		sigmaW := math.Hypot((q.Hi-q.Lo)/2/z90, powerFloor*q.Mid)
		gotW += beyond() * sigmaW
		put((gotW-q.Mid)/sigmaW, "power read at the supply", q.Text, unit.Format(gotW, unit.Power))
	}
	untilS := o.untilS()
	if untilS == 0 {
		return nil
	}
	res, err := o.simulate(ctx, m, h, v, untilS, false)
	if err != nil {
		return err
	}
	if r.StopsAfter.Given() {
		score, flat, gotS := crossing(res, r.StopsAfter, "trip", beyond())
		put(score, "stops", r.StopsAfter.Text, timeText(gotS))
		flats = append(flats, flat)
	}
	if q := r.RunningAfter; q.Given() {
		over, by := highestOver(res, q.Mid)
		over += beyond() * modelSigmaK
		put(over/modelSigmaK, "still running", "after "+q.Text, fromStop(by, -over))
	}
	if q := r.EmptyAfter; q.Given() {
		over, by := highestOver(res, q.Mid)
		over += beyond() * modelSigmaK
		put(over/modelSigmaK, "does not stop before the battery is empty", q.Text, fromStop(by, -over))
		gotS := res.Own.AtS
		if b := m.Battery; b != nil && len(res.PowerW) > 0 {
			gotS = b.EnergyJ / math.Max(1e-6, res.MeanDrawW)
		}
		sigma := timeSigmaS(q)
		gotS += beyond() * sigma
		put((gotS-q.Mid)/sigma, "battery empty", q.Text, timeText(gotS))
	}
	if o.errors != nil {
		d := make([]float64, len(o.spots))
		for i := range o.spots {
			d[i] = valueAt(res, o.spots[i].place, o.spots[i].atS) - o.spots[i].readK
		}
		if offset != nil {
			o.errors.colour(d, offset[at:at+len(d)])
		}
		if fits != nil {
			for i := range o.spots {
				s := &o.spots[i]
				*fits = append(*fits, Fit{Run: o.name, What: s.text, Observed: unit.Format(s.readK, unit.Temperature), Modelled: unit.Format(s.readK+d[i], unit.Temperature), Score: d[i] / o.errors.sd[i], ApartK: d[i]})
			}
		}
		copy(dst[at:], d)
		o.errors.whiten(dst[at : at+len(d)])
	}
	return nil
}

// powerFloor is the least error of a power read from a meter, 1 standard deviation, as a share: a small plug-in meter's. Common practice, no
// source.
const powerFloor = 0.01

// electricW is what the device takes at full power: all that becomes heat in it, and what leaves it as light or radio. The heat that a
// battery makes by being drained does not come through a supply.
func electricW(m *model.Model) float64 {
	sum := 0.0
	for i := range m.Sources {
		if !m.Sources[i].Cell {
			sum += m.Sources[i].FullW
		}
	}
	if m.Battery != nil {
		sum += m.Battery.OtherW
	}
	return sum
}

// untilS is the last time at which something but the first power step was seen; 0 when there is nothing.
func (o *observed) untilS() float64 {
	untilS := 0.0
	for _, q := range []device.Q{o.spec.StopsAfter, o.spec.RunningAfter, o.spec.EmptyAfter} {
		if q.Given() {
			untilS = math.Max(untilS, q.Mid)
		}
	}
	for i := range o.spots {
		untilS = math.Max(untilS, math.Max(1, o.spots[i].atS)) // a reading at the start needs a run too
	}
	return untilS
}

// simulate runs the device without stops, so that its temperatures at the observed times exist whatever the values; in 3-D without h.
func (o *observed) simulate(ctx context.Context, m *model.Model, h *hand, v device.Values, untilS float64, noDim bool) (*session.Result, error) {
	spec := o.session(m, v, untilS, noDim)
	if h != nil {
		spec.Thermal = h.stepper
	}
	return session.Run(ctx, m, spec)
}

func (o *observed) session(m *model.Model, v device.Values, untilS float64, noDim bool) session.Spec {
	spec := session.Spec{Values: v, UntilS: untilS, NoStop: true, NoDim: noDim, NoEmpty: true, Bare: true, Workers: 1, TolK: tolK, StartK: o.start(m, v)}
	for i := range o.spots {
		spec.Watch = append(spec.Watch, o.spots[i].place)
	}
	return spec
}

// tolK is the error per step of learning's runs: far below the errors of what was observed.
const tolK = 0.05

// leastSlopeKs is the slope, K/s, below which a curve counts as one that has settled.
const leastSlopeKs = 1e-5

// crossing compares the time at which a sensor reaches its stop (or first step) with the observed one; beyond is the residual's
// offset. A flat curve spreads the moments at which it may stop: the density of the time seen is that of the temperature times the slope,
//
//	p(t) = N(gap/σ)·slope/σ,   σ² = (slope σ_t)² + σ_model²,
//
// and ½ flat² = ln(σ/(slope σ_t)) is the second factor's part of the cost. Without it plateaus would be found too likely. gotS is the model's time, by the slope where it comes later than the run, +Inf when it is not on its way there.
func crossing(res *session.Result, q device.Q, kind string, beyond float64) (score, flat, gotS float64) {
	gap, slope, first := math.Inf(1), 0.0, session.Gate{}
	for _, g := range res.Gates {
		t := res.Series[g.Series].ValueK
		if g.Kind != kind || len(t) < 3 {
			continue
		}
		// the run may go on after the time observed, for readings taken later
		k := max(2, min(len(t)-1, sort.SearchFloat64s(res.TimeS[:len(t)], q.Mid)))
		rate := (t[k] - t[k-2]) / (res.TimeS[k] - res.TimeS[k-2])
		if d := g.LimitK - (t[k] + rate*math.Min(0, q.Mid-res.TimeS[k])); d < gap {
			gap, slope, first = d, rate, g
		}
	}
	if math.IsInf(gap, 1) {
		return beyond, 0, math.Inf(1)
	}
	sigma := math.Hypot(math.Abs(slope)*timeSigmaS(q), modelSigmaK)
	flat = math.Sqrt(math.Log1p(math.Pow(modelSigmaK/(math.Max(slope, leastSlopeKs)*timeSigmaS(q)), 2)))
	gap += beyond * sigma
	limitK := first.LimitK + beyond*sigma
	t := res.Series[first.Series].ValueK
	for i := range t {
		if t[i] < limitK {
			continue
		}
		gotS = res.TimeS[i]
		if i > 0 {
			gotS -= (t[i] - limitK) / (t[i] - t[i-1]) * (res.TimeS[i] - res.TimeS[i-1])
		}
		return gap / sigma, flat, gotS
	}
	if slope > 1e-6 {
		return gap / sigma, flat, q.Mid + gap/slope
	}
	return gap / sigma, flat, math.Inf(1)
}

// timeSigmaS is the standard deviation of an observed time, s.
func timeSigmaS(q device.Q) float64 { return math.Hypot((q.Hi-q.Lo)/2/z90, timeFloor*q.Mid) }

// highestOver is how far the sensor nearest to its stop came over it up to a time, K; negative when it stayed below.
func highestOver(res *session.Result, untilS float64) (overK float64, by string) {
	overK = math.Inf(-1)
	for _, g := range res.Gates {
		if g.Kind != "trip" {
			continue
		}
		for i, t := range res.Series[g.Series].ValueK {
			if res.TimeS[i] <= untilS+1 && t-g.LimitK > overK {
				overK, by = t-g.LimitK, res.Series[g.Series].Name
			}
		}
	}
	if by == "" {
		return -1e3, "" // nothing can stop it: satisfied with plenty to spare
	}
	return overK, by
}

// fromStop says how far the sensor nearest to its stop stayed from it.
func fromStop(by string, k float64) string {
	if by == "" {
		return "no sensor stops it"
	}
	return fmt.Sprintf("%s %.1f K from its stop", by, k)
}

// valueAt reads a watched place's curve at a time, by straight lines between samples.
func valueAt(res *session.Result, place string, atS float64) float64 {
	for i := range res.Series {
		s := &res.Series[i]
		if s.Name != place || s.Kind != "place" {
			continue
		}
		n := len(s.ValueK)
		k := sort.SearchFloat64s(res.TimeS[:n], atS)
		if k == 0 {
			return s.ValueK[0]
		}
		if k >= n {
			return s.ValueK[n-1]
		}
		w := (atS - res.TimeS[k-1]) / (res.TimeS[k] - res.TimeS[k-1])
		return s.ValueK[k-1] + w*(s.ValueK[k]-s.ValueK[k-1])
	}
	return math.NaN()
}

func timeText(s float64) string {
	if math.IsInf(s, 1) || math.IsNaN(s) {
		return "never"
	}
	return unit.Format(s, unit.Time)
}
