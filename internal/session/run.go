// Package session simulates one use of a device: from a start temperature, under conditions and in a mode, until the device
// stops itself, the battery is empty, a limit is passed or the time asked for is over. It locates those events inside the
// solver's steps, lets sensors dim the device, follows the cool-down after a stop, and reports limits, margins and the ledger
// of watts and degrees.
//
// Start reading at Run.
package session

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"finwright/internal/device"
	"finwright/internal/heat"
	"finwright/internal/material"
	"finwright/internal/model"
	"finwright/internal/unit"
)

// Spec says what to simulate.
type Spec struct {
	Design  string        // name of the design, for the result
	Values  device.Values // the values the model was made with: sensors read theirs from it
	StartK  float64       // temperature of everything at the start; 0 takes the model's
	UntilS  float64       // time asked for; 0 takes the battery's, or four hours without one
	NoStop  bool          // sensors do not stop it: for comparing with what was observed
	NoDim   bool          // sensors take no power steps
	NoEmpty bool          // the battery never runs empty
	Brief   bool          // only how it ends and the watched series: no settling, no ledger, no section
	Bare    bool          // only the sensors and the places to watch are followed, no limits; implies Brief
	CoolS   float64       // how long to follow the cool-down after the end
	Watch   []string      // further places to record
	TolK    float64       // error allowed per step; 0 takes stepTolK
	Workers int           // goroutines of the 3-D solver; 0 lets it choose, 1 where several runs go on at the same time
	// Thermal steps the temperatures; nil takes the 3-D solver. OnStep, when set, is shown the field after every step.
	Thermal Thermal
	OnStep  func(tS float64, tK []float64)
	// Progress, when set, is told how far the run is, in seconds of the session.
	Progress func(atS, ofS float64)
}

// Thermal carries a device's temperatures through time: heat.Stepper in 3-D, or a stand-in that answers the same questions
// faster.
type Thermal interface {
	Init(tK []float64, tS float64) error
	SetPower(powerW []float64) error
	Advance(ctx context.Context, untilS float64) (heat.Step, error)
	RewindTo(tS float64) error
	Time() float64
	TK() []float64                               // present cell temperatures, K
	At(dst []float64, tS float64, cells []int32) // inside the last step
	SurfaceState(surface int) heat.SurfaceState
	Balance() heat.Balance
	Stats() heat.Stats
}

// focusing is a Thermal whose fields cost something: told which cells a brief run looks at, it fills only those.
type focusing interface{ Focus(cells []int32) }

// defaultUntilS is how long a device that is fed from outside is followed.
const defaultUntilS = 4 * 3600

// stepTolK is the error allowed per step, in the worst cell, K. Over 90 min the demos' sensors and limits stay within 0.02 K of
// runs at 0.0005 K, a single lump within 0.05 K of its closed form.
const stepTolK = 0.025

// eventTolS is how closely an event is located in time.
const eventTolS = 0.5

// maxEvents stops a device that flickers between two steps for ever.
const maxEvents = 400

// run is the state of one simulation.
type run struct {
	ctx     context.Context
	m       *model.Model
	spec    Spec
	c       *control
	st      Thermal
	res     *Result
	watch   []watched
	field   []float64 // scratch: temperatures inside a step
	nextS   float64   // next sample
	everyS  float64   // between samples, at most
	bentS   float64   // the last event
	leftJ   float64   // energy left in the battery …
	leftAtS float64   // … at this time
	drawnJ  float64   // drawn so far
	gates   []gate
}

// watched is one recorded temperature and the limit it has, if any.
type watched struct {
	probe  *model.Probe
	series int
	limit  int // index into Result.Limits, -1 when none
}

// Run simulates the session. The error is a device.Problems for a bad place or sensor, the context's error after Ctrl-C (with
// the result so far), or the solver's.
func Run(ctx context.Context, m *model.Model, spec Spec) (*Result, error) {
	spec.Brief = spec.Brief || spec.Bare
	c, err := newControl(m, spec.Values, spec.NoStop, spec.NoDim)
	if err != nil {
		return nil, err
	}
	r := &run{ctx: ctx, m: m, spec: spec, c: c, field: make([]float64, len(m.Heat.CapJK))}
	r.res = &Result{Device: m.Shape.File.Device, Design: spec.Design, Mode: m.Under.Mode, AmbientK: m.Under.AirK, Nearest: -1, MarginMin: math.NaN(), Cells: m.ActiveCells()}
	if err := r.prepare(); err != nil {
		return nil, err
	}
	untilS := spec.UntilS
	if m.Battery != nil && m.Battery.Discharges {
		r.leftJ = m.Battery.EnergyJ
	}
	if untilS <= 0 {
		untilS = defaultUntilS
		if r.c.drawW > 0 {
			untilS = math.Max(3, 1/r.c.leastShare())*r.leftJ/r.c.drawW + 1
		}
	}
	samples := 240.0
	if spec.Bare {
		samples = 90
	}
	r.everyS = math.Max(leastApartS, math.Min(untilS, 6*3600)/samples)
	expected := int(math.Min(untilS, 6*3600)/r.everyS) + 40
	r.res.TimeS, r.res.PowerW = make([]float64, 0, expected), make([]float64, 0, expected)
	for i := range r.res.Series {
		r.res.Series[i].ValueK = make([]float64, 0, expected)
	}
	r.sample(0)

	for r.res.Own.Kind == "" {
		if err := ctx.Err(); err != nil {
			return r.res, err
		}
		if err := r.step(untilS); err != nil {
			return r.res, err
		}
	}
	if err := r.finish(); err != nil {
		return r.res, err
	}
	return r.res, nil
}

// prepare sets the stepper, the watched places and the limits up.
func (r *run) prepare() error {
	m := r.m
	tol := r.spec.TolK
	if tol == 0 {
		tol = stepTolK
	}
	st := r.spec.Thermal
	if st == nil {
		solver, err := heat.NewStepper(m.Heat, heat.Options{TolK: tol, Workers: r.spec.Workers})
		if err != nil {
			return err
		}
		st = solver
	}
	r.st = st
	start := r.spec.StartK
	if start == 0 {
		start = m.StartK
	}
	for i := range r.field {
		r.field[i] = start
	}
	if err := st.Init(r.field, 0); err != nil {
		return err
	}
	if err := st.SetPower(r.c.powerW); err != nil {
		return err
	}

	for k, name := range r.c.names {
		limit := -1
		if !math.IsInf(r.c.stopK[k], 1) {
			limit = r.addLimit(name+" stops it", "trip", r.c.stopK[k], "the file")
		} else if len(r.c.steps[k]) > 0 {
			limit = r.addLimit(name+" dims it", "step", r.c.steps[k][0].aboveK, "the file")
		}
		for _, g := range r.c.known[k] {
			g.Series = len(r.res.Series)
			r.res.Gates = append(r.res.Gates, g)
		}
		r.add(name, "sensor", r.c.probes[k], limit)
	}
	if !r.spec.Bare {
		r.follow()
	}
	for _, place := range r.spec.Watch {
		p, err := m.Probe(place)
		if err != nil {
			return err
		}
		r.add(place, "place", p, -1)
	}
	if f, ok := st.(focusing); ok && r.spec.Brief {
		var cells []int32
		for _, w := range r.watch {
			cells = append(cells, w.probe.Places...)
		}
		slices.Sort(cells)
		f.Focus(slices.Compact(cells))
	}
	return nil
}

// wornS is a time beyond the eight hours up to which a device counts as held only for a while: what lies in a hand all the
// time it runs is taken as worn.
const wornS = 9 * 3600.0

// follow puts the limits that are not the device's own under watch: the hottest place a hand can reach, the cell, glued
// joints.
func (r *run) follow() {
	m := r.m
	f := m.Shape.File
	if p := m.HottestReach(); p != nil {
		touch := material.TouchLimitFor(material.Metal, device.HeldS)
		limitK, source := touch.LimitK, "held for minutes: "+touch.Source
		if f.Limits.Skin.Given() {
			limitK, source = f.Limits.Skin.At(r.spec.Values), "the file"
		}
		r.add(p.Name, "skin", p, r.addLimit("hand on the hottest place", "skin", limitK, source))
	}
	if p := m.HeldProbe(); p != nil {
		touch := material.TouchLimitFor(material.Metal, wornS)
		limitK, source := touch.LimitK, "held all the time: "+touch.Source
		if f.Limits.Hand.Given() {
			limitK, source = f.Limits.Hand.At(r.spec.Values), "the file"
		}
		r.add(p.Name, "skin", p, r.addLimit(p.Name, "skin", limitK, source))
	}
	if b := m.Battery; b != nil && b.Part >= 0 {
		p := m.PartProbe(b.Part, true)
		r.add("cell", "cell", p, r.addLimit("cell", "cell", b.LimitK, b.LimitBy))
	}
	for i := range m.Joints {
		j := &m.Joints[i]
		if !j.Glued || j.LimitK <= 0 {
			continue
		}
		limitK, source := j.LimitK, j.LimitBy
		if f.Limits.Glue.Given() {
			limitK, source = f.Limits.Glue.At(r.spec.Values), "the file"
		}
		p := m.JointProbe(i)
		r.add(p.Name, "glue", p, r.addLimit(p.Name, "glue", limitK, source))
	}
}

func (r *run) addLimit(name, kind string, limitK float64, source string) int {
	r.res.Limits = append(r.res.Limits, Limit{Name: name, Kind: kind, LimitK: limitK, HighestK: math.Inf(-1), ReachedS: math.NaN(), SettleK: math.NaN(), Source: source})
	return len(r.res.Limits) - 1
}

func (r *run) add(name, kind string, p *model.Probe, limit int) {
	s := Series{Name: name, Kind: kind}
	if limit >= 0 {
		s.LimitK = r.res.Limits[limit].LimitK
	}
	r.res.Series = append(r.res.Series, s)
	r.watch = append(r.watch, watched{p, len(r.res.Series) - 1, limit})
}

// films reads the films in force.
func (r *run) films(si int) heat.Film { return r.st.SurfaceState(si).Film }

// step advances the solver by one step, not past the next thing known in advance, and handles what happened in it.
func (r *run) step(untilS float64) error {
	res := r.res
	limitS := untilS
	emptyS := math.Inf(1)
	if r.c.drawW > 0 && !r.spec.NoEmpty {
		emptyS = r.st.Time() + r.leftJ/r.c.drawW
		limitS = math.Min(limitS, emptyS)
	}
	s, err := r.st.Advance(r.ctx, limitS)
	if err != nil {
		return err
	}
	toS := s.ToS

	// did a sensor pass one of its gates inside the step?
	r.gates = r.c.gates(r.gates)
	hitS, hit := math.Inf(1), -1
	for i := range r.gates {
		g := &r.gates[i]
		p := r.c.probes[g.sensor]
		if !g.passed(p.Read(r.st.TK(), r.films)) {
			continue
		}
		if at := r.locate(s.FromS, toS, func(t float64) bool { return g.passed(r.readAt(p, t)) }); at < hitS {
			hitS, hit = at, i
		}
	}
	if hit >= 0 && hitS < toS {
		if err := r.st.RewindTo(hitS); err != nil {
			return err
		}
		toS = hitS
	}
	r.record(s.FromS, toS)
	r.drawnJ += r.c.drawW * (toS - r.leftAtS)
	r.leftJ = math.Max(0, r.leftJ-r.c.drawW*(toS-r.leftAtS))
	r.leftAtS = toS
	if r.spec.OnStep != nil {
		r.spec.OnStep(toS, r.st.TK())
	}
	if r.spec.Progress != nil {
		r.spec.Progress(toS, untilS)
	}
	switch {
	case hit >= 0:
		g := r.gates[hit]
		if g.step == 0 {
			r.end(End{Stopped, toS, r.c.names[g.sensor]}) // with the power that was on until now
		} else if g.rising && res.End.Kind == "" {
			res.End = End{Dimmed, toS, r.c.names[g.sensor]} // the device goes on, with less
		}
		res.Events = append(res.Events, Event{toS, r.c.act(g)})
		if len(res.Events) > maxEvents {
			return errors.New("the device flickers between two power steps: set 'back below' well under 'above'")
		}
		if toS >= untilS-1e-6 && res.Own.Kind == "" {
			r.end(End{TimeOver, toS, ""}) // a step taken at the very end of the time asked for
		}
		return r.st.SetPower(r.c.powerW)
	case toS >= emptyS-1e-6:
		res.Events = append(res.Events, Event{toS, "the battery is empty"})
		r.end(End{BatteryEmpty, toS, ""})
		r.c.running, r.c.empty = false, true
		r.leftJ = 0
		r.c.setPower()
		return r.st.SetPower(r.c.powerW)
	case toS >= untilS-1e-6:
		r.end(End{TimeOver, toS, ""})
	}
	return nil
}

// locate finds the first time in (fromS, toS] at which passed holds, by bisection to eventTolS.
func (r *run) locate(fromS, toS float64, passed func(tS float64) bool) float64 {
	lo, hi := fromS, toS
	for hi-lo > eventTolS {
		mid := (lo + hi) / 2
		if passed(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}

// readAt reads a probe inside the last step.
func (r *run) readAt(p *model.Probe, tS float64) float64 {
	r.st.At(r.field, tS, p.Places)
	return p.Read(r.field, r.films)
}

// samples takes the samples that are due from fromS to toS, the last step.
func (r *run) samples(fromS, toS float64) {
	for r.nextS <= toS {
		if r.nextS > fromS {
			r.sampleInside(r.nextS)
		}
		r.nextS += r.apartS(r.nextS)
	}
}

// record takes samples and follows the limits from fromS to toS.
func (r *run) record(fromS, toS float64) {
	r.samples(fromS, toS)
	for _, w := range r.watch {
		if w.limit < 0 {
			continue
		}
		l := &r.res.Limits[w.limit]
		t := w.probe.Read(r.st.TK(), r.films)
		if r.res.Own.Kind != "" {
			continue // after the end only the soak-back is told, as an event
		}
		if t > l.HighestK {
			l.HighestK, l.AtS = t, toS
		}
		if math.IsNaN(l.ReachedS) && t >= l.LimitK {
			l.ReachedS = r.locate(fromS, toS, func(x float64) bool { return r.readAt(w.probe, x) >= l.LimitK })
			if l.Kind == "skin" || l.Kind == "cell" || l.Kind == "glue" {
				r.res.Events = append(r.res.Events, Event{l.ReachedS, fmt.Sprintf("%s passed %s", l.Name, unit.Format(l.LimitK, unit.Temperature))})
				if r.res.End.Kind == "" || l.ReachedS < r.res.End.AtS {
					r.res.End = End{LimitPassed, l.ReachedS, l.Name}
				}
			}
		}
	}
}

// sampleInside records the curves at a time inside the last step.
func (r *run) sampleInside(tS float64) {
	for i := range r.watch {
		w := &r.watch[i]
		s := &r.res.Series[w.series]
		s.ValueK = append(s.ValueK, r.readAt(w.probe, tS))
	}
	r.sampleRest(tS)
}

// sample records the curves at the solver's present time.
func (r *run) sample(tS float64) {
	for i := range r.watch {
		w := &r.watch[i]
		s := &r.res.Series[w.series]
		s.ValueK = append(s.ValueK, w.probe.Read(r.st.TK(), r.films))
	}
	r.sampleRest(tS)
	r.bentS = tS
	r.nextS = tS + r.apartS(tS)
}

// Samples lie closest where curves bend most, after the start and every other event. Between samples a sixth of the time since then apart a
// straight line is off by c √t/1152 where the curve is c √t, as it is over a thick body: 0.02 K of 20 K.
const (
	leastApartS = 5.0
	apartShare  = 1.0 / 6
)

// apartS is the time from a sample to the next.
func (r *run) apartS(tS float64) float64 {
	return max(leastApartS, min(r.everyS, apartShare*(tS-r.bentS)))
}

func (r *run) sampleRest(tS float64) {
	sum := 0.0
	for _, w := range r.c.powerW {
		sum += w
	}
	r.res.TimeS = append(r.res.TimeS, tS)
	r.res.PowerW = append(r.res.PowerW, sum)
	if r.c.drawW > 0 || r.res.BatteryJ != nil {
		r.res.BatteryJ = append(r.res.BatteryJ, math.Max(0, r.leftJ-r.c.drawW*(tS-r.leftAtS)))
	}
}

// end notes the device's own end; a limit that came first stays the session's.
func (r *run) end(e End) {
	r.res.Own = e
	if e.AtS > 0 {
		r.res.MeanDrawW = r.drawnJ / e.AtS
	}
	if r.res.End.Kind == "" || r.res.End.AtS > e.AtS {
		r.res.End = e
	}
	if last := r.res.TimeS[len(r.res.TimeS)-1]; last < e.AtS {
		r.sample(e.AtS)
	}
}

// Ready checks, without running anything, that the sensors' places exist in the model.
func Ready(m *model.Model, v device.Values) error {
	_, err := newControl(m, v, false, false)
	return err
}
