package advise

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/skin"
	"finwright/internal/standin"
	"finwright/internal/unit"
)

// Measurement is something a person can do with what lies about in a small workshop.
type Measurement struct {
	What    string  // "thermocouple at shell.back centre, 10 min in still air"
	Needs   string  // "thermocouple, tape, clock"
	Mode    string  // the device runs in meanwhile; "" where it does not run, or has no modes
	Opened  bool    // the device must be open, or be opened for it
	EffortM float64 // minutes until the figure is there, setting up included
	Reads   string  // what is read, as a quantity's kind: "temperature", "time", "mass", …
	Error   string  // 90 % error of the reading in words
	Write   string  // how the figure goes into the device file
	read    func(d *drawn) float64
	errorSD float64 // of what read gives, what the model cannot know included
	dim     unit.Dim
	log     bool // read gives a logarithm
}

// drawn is a draw of what is in doubt with what the stock device then does.
type drawn struct {
	values device.Values
	still  *standin.Outcome // in a room, on its own
	fan    *standin.Outcome // before a fan
	partKg []float64
}

// Effort and errors: common practice, no source, unless said otherwise. A person stands by while the device runs.
const (
	setUpMin   = 5.0  // a probe taped on and led away, a clock, a note
	openMin    = 15.0 // more where the device has to be open
	shortRunM  = 10.0
	longRunM   = 30.0
	scaleMin   = 5.0
	emitMin    = 15.0 // tape beside the surface, both warm, two readings
	scrapMin   = 30.0 // two scraps bonded as the joint will be, and measured when set
	slowestM   = 240.0
	probeK     = 2.0 // a thermocouple on a cheap logger, 90 %
	modelK     = 0.7 // standard deviation of what a cell model of calipered parts cannot know, as in learning
	clockS     = 20.0
	clockShare = 0.02 // standard deviation of a time that a run takes, as a share: no two runs are the same
	scaleKg    = 1e-3
	emitError  = 0.05
	bondM      = 0.02e-3
	roomK      = 273.15 + 22
	fanMS      = 3.0
	most       = 6 // places outside, and inside
)

const z90 = 1.6448536269514722

// room is where the stock device is measured: still air of 22 °C and no sun, or a fan.
func room(fan bool) *device.Conditions {
	exact := func(x float64, dim unit.Dim, name string) device.Q {
		return device.Q{Quantity: unit.ExactSI(x, dim), Path: "measured." + name}
	}
	c := &device.Conditions{Ambient: exact(roomK, unit.Temperature, "ambient"), Surroundings: exact(roomK, unit.Temperature, "surroundings"),
		Sun: exact(0, unit.HeatFlux, "sun"), Air: device.Air{Given: true, Still: true}}
	if fan {
		c.Air = device.Air{Given: true, Speed: exact(fanMS, unit.Velocity, "air")}
	}
	return c
}

// places are where a thermocouple could be put: in the middle of the largest outer faces that a hand can reach, and, with the device
// open, in the parts that make heat and where it measures itself.
func places(f *device.File, m *model.Model) (outside, inside []string) {
	type face struct {
		place  string
		areaM2 float64
	}
	var faces []face
	for i := range m.Surfaces {
		s := &m.Surfaces[i]
		if !s.Reach || s.Boundary != "" || s.Side < 0 || s.Side >= len(skin.Sides) {
			continue
		}
		faces = append(faces, face{m.Parts[s.Body].Name + "." + skin.Sides[s.Side] + " centre", s.AreaM2})
	}
	sort.SliceStable(faces, func(a, b int) bool { return faces[a].areaM2 > faces[b].areaM2 })
	add := func(list []string, place string) []string {
		for _, p := range append(append([]string(nil), outside...), inside...) {
			if p == place {
				return list
			}
		}
		if _, err := m.Probe(place); err != nil || len(list) == most {
			return list
		}
		return append(list, place)
	}
	for _, x := range faces {
		outside = add(outside, x.place)
	}
	for i := range f.Sensors {
		inside = add(inside, f.Sensors[i].At)
	}
	sources := append([]model.Source(nil), m.Sources...)
	sort.SliceStable(sources, func(a, b int) bool { return sources[a].FullW > sources[b].FullW })
	for _, s := range sources {
		inside = add(inside, m.Parts[s.Part].Name)
	}
	return outside, inside
}

// possible lists what can be measured, given what the draws do.
func possible(f *device.File, m *model.Model, outside, inside []string, unknowns []model.Unknown, draws []drawn) []Measurement {
	var out []Measurement
	add := func(x Measurement) {
		if x.Opened {
			x.EffortM += openMin
		}
		out = append(out, x)
	}
	air := map[bool]string{false: "in still air", true: "before a fan"}
	conditions := map[bool]string{false: "ambient: 22 °C, air: still", true: "ambient: 22 °C, air: 3 m/s"}
	for fan := range conditions {
		for _, l := range f.Indoors("22 °C") {
			conditions[fan] += ", " + l
		}
		if mode := m.Under.Mode; mode != "" && mode != f.Mode {
			conditions[fan] += ", mode: " + mode
		}
	}
	outcome := func(d *drawn, fan bool) *standin.Outcome {
		if fan {
			return d.fan
		}
		return d.still
	}
	thermocouple := func(place string, opened, fan bool, minutes float64) {
		needs := "a thermocouple with its logger, tape"
		if fan {
			needs += ", a fan"
		}
		add(Measurement{What: fmt.Sprintf("thermocouple at %s, %.0f min %s", place, minutes, air[fan]), Needs: needs, Mode: m.Under.Mode, Opened: opened, EffortM: setUpMin + minutes,
			Reads: "temperature", Error: fmt.Sprintf("± %.0f K", probeK), dim: unit.Temperature, errorSD: math.Hypot(probeK/z90, modelK),
			Write: fmt.Sprintf("stock runs: - {%s, spots: [{at: %s, after: %.0f min, reads: … °C ± 2 K}]}", conditions[fan], place, minutes),
			read: func(d *drawn) float64 {
				o := outcome(d, fan)
				return o.At(o.Reads[place], 60*minutes)
			}})
	}
	for _, p := range outside {
		thermocouple(p, false, false, shortRunM)
		thermocouple(p, false, false, longRunM)
		thermocouple(p, false, true, shortRunM)
	}
	for _, p := range inside {
		thermocouple(p, true, false, shortRunM)
	}
	for _, fan := range []bool{false, true} {
		if x, ok := stopwatch(draws, func(d *drawn) *standin.Outcome { return outcome(d, fan) }); ok {
			x.What, x.Needs, x.Mode = "stopwatch until it stops, steps down or is empty, "+air[fan], "a clock", m.Under.Mode
			if fan {
				x.Needs = "a clock, a fan"
			}
			x.Write = "stock runs: - {" + conditions[fan] + ", stops after: … min} (or 'first step after', 'battery empty after')"
			add(x)
		}
	}
	stated := map[string]bool{}
	for i := range f.Parts {
		stated[f.Parts[i].Name] = f.Parts[i].Mass.Given()
	}
	for i := range m.Parts {
		p := &m.Parts[i]
		if stated[p.Name] {
			continue
		}
		add(Measurement{What: "the scale: " + p.Name + " alone", Needs: "a kitchen scale", Opened: true, EffortM: scaleMin, Reads: "mass", Error: "± 1 g", dim: unit.Mass,
			errorSD: scaleKg / z90, Write: "parts: " + p.Name + ": {…, mass: … g}", read: func(d *drawn) float64 { return d.partKg[i] }})
	}
	if pw, ok := powerMeter(f, m, conditions[false]); ok {
		add(pw)
	}
	byPath := map[string]model.Unknown{}
	for _, u := range unknowns {
		byPath[u.Path] = u
	}
	actsM := medianOf(draws, func(d *drawn) float64 { return d.still.ActsS / 60 })
	for i := range f.Sensors {
		s := &f.Sensors[i]
		u, acts, write := byPath[s.StopsAt.Path], "it stops the device", "stops at: … °C ± 2 K"
		if len(s.Steps) > 0 { // a stop comes later, at less power: nobody knows when
			u, acts, write = byPath[s.Steps[0].Above.Path], "the first power step", "steps: [{above: … °C ± 2 K, …}]"
		}
		if u.Path == "" || math.IsInf(actsM, 1) { // known, or it hardly gets there
			continue
		}
		add(Measurement{What: "thermocouple beside " + s.Name + " until " + acts, Needs: "a thermocouple with its logger, tape", Mode: m.Under.Mode, Opened: true,
			EffortM: setUpMin + math.Min(slowestM, actsM),
			Reads:   "temperature", Error: fmt.Sprintf("± %.0f K", probeK), dim: unit.Temperature, errorSD: math.Hypot(probeK/z90, modelK),
			Write: "sensors: " + s.Name + ": {…, " + write + "}", read: valueOf(u)})
	}
	for _, u := range unknowns {
		switch {
		case strings.HasPrefix(u.Path, "finishes.") && strings.HasSuffix(u.Path, ".emissivity"):
			name := strings.TrimSuffix(strings.TrimPrefix(u.Path, "finishes."), ".emissivity")
			add(Measurement{What: "infrared thermometer on " + name + " beside black tape, both warm", Needs: "an infrared thermometer, black electrical tape", Opened: onlyInside(m, name), EffortM: emitMin,
				Reads: "emissivity", Error: fmt.Sprintf("± %.2f", emitError), dim: unit.Ratio, errorSD: emitError / z90,
				Write: "finishes: " + name + ": {emissivity: … ± 0.05}", read: valueOf(u)})
		case strings.HasPrefix(u.Path, "retrofits.") && strings.HasSuffix(u.Path, ".thickness") && u.Dim == unit.Length:
			step := strings.Split(u.Path, ".")
			name := step[len(step)-2]
			add(Measurement{What: "calipers: two scraps bonded like " + name + ", less the scraps", Needs: "the filler, two scraps", EffortM: scrapMin,
				Reads: "thickness", Error: "± 0.02 mm", dim: unit.Length, errorSD: bondM / z90, Write: "rejoin: " + name + ": {…, thickness: … mm ± 0.02 mm}", read: valueOf(u)})
		}
	}
	return out
}

// onlyInside says whether a finish is on parts of the device, but on no outer surface.
func onlyInside(m *model.Model, finish string) bool {
	for i := range m.Surfaces {
		if m.Parts[m.Surfaces[i].Body].Finish == finish {
			return false
		}
	}
	return slices.ContainsFunc(m.Parts, func(p model.Part) bool { return p.Finish == finish })
}

// valueOf reads an unknown itself.
func valueOf(u model.Unknown) func(d *drawn) float64 {
	return func(d *drawn) float64 {
		if x, ok := d.values[u.Path]; ok {
			return x
		}
		return u.Prior.Mid
	}
}

// stopwatch is a run until the device acts or its battery is empty. What the model cannot know of a temperature becomes an error in
// time through the slope of the sensor's curve there; where the curve has gone level a time says little, and so it should.
func stopwatch(draws []drawn, of func(d *drawn) *standin.Outcome) (Measurement, bool) {
	endS := func(d *drawn) float64 { return math.Min(of(d).ActsS, of(d).GoalS) }
	usualS := medianOf(draws, endS)
	if !(usualS > 0) {
		return Measurement{}, false
	}
	slope := medianOf(draws, func(d *drawn) float64 {
		o, t := of(d), endS(d)
		if o.ActsS > o.GoalS || o.SensorK == nil {
			return math.Inf(1) // the battery's end, which no temperature moves
		}
		return (o.At(o.SensorK, t) - o.At(o.SensorK, 0.9*t)) / (0.1 * t)
	})
	sd := math.Hypot(clockShare*usualS, clockS/z90)
	if slope > 0 && !math.IsInf(slope, 1) {
		sd = math.Hypot(sd, modelK/slope)
	}
	return Measurement{EffortM: 1 + math.Min(slowestM, usualS/60), Reads: "time", Error: fmt.Sprintf("± %.0f %%", 100*z90*sd/usualS), dim: unit.Time,
		errorSD: sd / usualS, log: true, read: func(d *drawn) float64 { return math.Log(endS(d)) }}, true
}

// powerMeter is the power drawn by the whole device, in its lead where it is fed from outside or can be.
func powerMeter(f *device.File, m *model.Model, conditions string) (Measurement, bool) {
	other := 0.0
	if m.Battery != nil {
		other = m.Battery.OtherW
	}
	total := other
	var of []*device.ByMode
	for i := range f.Parts {
		of = append(of, &f.Parts[i].Heat)
	}
	if f.Battery != nil {
		of = append(of, &f.Battery.OtherLoad)
	}
	for _, s := range m.Sources {
		if !s.Cell {
			total += s.FullW
		}
	}
	if !(total > 0) {
		return Measurement{}, false
	}
	mode := m.Under.Mode
	return Measurement{What: "USB meter in the supply while it runs", Needs: "a USB meter or a supply that shows the power (no charging meanwhile)", Mode: mode, EffortM: setUpMin,
		Reads: "power", Error: fmt.Sprintf("± %.0f %%", 100*meterShare), dim: unit.Power, errorSD: meterShare / z90 * total,
		Write: fmt.Sprintf("stock runs: - {%s, power read: … W ± %.0f %%}", conditions, 100*meterShare),
		read: func(d *drawn) float64 {
			sum := 0.0
			for _, h := range of {
				sum += h.In(mode).At(d.values)
			}
			return sum
		}}, true
}

// meterShare is a cheap meter's error with the loss of the converter behind it, 90 %.
const meterShare = 0.05

// medianOf is the median over the draws.
func medianOf(draws []drawn, of func(d *drawn) float64) float64 {
	var v []float64
	for i := range draws {
		v = append(v, of(&draws[i]))
	}
	sort.Float64s(v)
	if len(v) == 0 {
		return math.NaN()
	}
	return v[len(v)/2]
}
