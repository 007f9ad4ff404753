package advise

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"testing"

	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/model"
	"finwright/internal/standin"
	"finwright/internal/unit"
)

var few = model.Fineness{TargetCells: 600, Across: 1}

func parse(t testing.TB, yaml string) *device.File {
	t.Helper()
	f, err := device.Parse("test.yaml", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func within(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

// advice decides about the device as it is.
func advice(t testing.TB, f *device.File, draws int) *Advice {
	t.Helper()
	ctx := context.Background()
	d, err := standin.Build(ctx, f, standin.Options{Draws: draws, Fineness: few, Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	dec := Decision{Design: "stock", Unknowns: d.Unknowns, HeadroomK: make([]float64, draws+1)}
	for k, v := range d.Draws {
		o, err := d.Ask(ctx, v)
		if err != nil {
			t.Fatal(err)
		}
		dec.HeadroomK[k] = o.HeadroomK
	}
	a, err := Advise(ctx, f, dec, Options{Fineness: few})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func of(t testing.TB, a *Advice, what string) *Ranked {
	t.Helper()
	for i := range a.Ranked {
		if strings.Contains(a.Ranked[i].What, what) {
			return &a.Ranked[i]
		}
	}
	var all []string
	for i := range a.Ranked {
		all = append(all, a.Ranked[i].What)
	}
	t.Fatalf("no measurement %q among\n%s", what, strings.Join(all, "\n"))
	return nil
}

// block is a cube of 20 mm that has one temperature: 16 J/K and R = 20.83 K/W to air at 20 °C. Its power and its stop are in doubt.
const block = `device: block
materials:
  stuff: {conductivity: 2000 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
finishes:
  dark: {emissivity: 0.9}
parts:
  block: {material: stuff, finish: dark, box: 20 x 20 x 20 mm, heat: 2.2 to 2.8 W}
boundaries:
  air: {face: block, film: 20 W/m2K, ambient: 20 °C}
conditions: {ambient: 20 °C}
sensors: {s: {at: block, stops at: 62 to 68 °C}}
limits: {skin: 150 °C}
`

// Fed from outside for four hours (43 time constants) the headroom is stop − 20 °C − PR: linear in two normal unknowns. A thermocouple reads
// 20 °C + PR(1 − exp(−t/RC)), a meter P, one beside the sensor the stop. The part of the variance of a that a reading with covariance c
// and variance s takes away is c²/(a (s + σ²)) (Raiffa & Schlaifer, Applied Statistical Decision Theory, 1961, part 3).
func TestNarrowingInClosedForm(t *testing.T) {
	const r = 1 / (20 * 24e-4)
	const tau = 16 * r
	const n = 600
	a := advice(t, parse(t, block), n)
	p, stop := 0.3/z90, 3/z90 // standard deviations
	variance := stop*stop + p*p*r*r
	within(t, "half width", a.HalfWidthK, z90*math.Sqrt(variance), 0.1*z90*math.Sqrt(variance)) // 600 draws: ends of 90 % to 6 %
	within(t, "median", a.HeadroomK, 45-2.5*r, 3*1.25*math.Sqrt(variance/n))
	gain := r * (1 - math.Exp(-600/tau))
	sigma := math.Hypot(probeK/z90, modelK)
	for what, c := range map[string]struct{ cov, s, sd float64 }{
		"thermocouple at block, 10 min": {p * p * r * gain, p * p * gain * gain, sigma},
		"USB meter":                     {p * p * r, p * p, meterShare / z90 * 2.5},
		"beside s":                      {stop * stop, stop * stop, sigma},
	} {
		want := c.cov * c.cov / (variance * (c.s + c.sd*c.sd))
		got := of(t, a, what)
		within(t, what, got.Part, want, 4*math.Max(got.PartSE, 0.01))
		within(t, what+": error", got.errorSD, c.sd, 1e-9*c.sd)
		within(t, what+": after", got.AfterK, a.HalfWidthK*math.Sqrt(1-got.Part), 1e-9)
		within(t, what+": per minute", got.PerMinuteK, (a.HalfWidthK-got.AfterK)/got.EffortM, 1e-12)
		if got.Part < 0.05 {
			t.Errorf("%s tells nothing: the test neither", what)
		}
	}
	meter := of(t, a, "USB meter")
	if meter.Tells != "heat of block" || of(t, a, "beside s").Tells != "s stops at" {
		t.Errorf("%q, %q", meter.Tells, of(t, a, "beside s").Tells)
	}
	within(t, "meter low", meter.Lo, 2.2, 0.05)
	within(t, "meter high", meter.Hi, 2.8, 0.05)
	// the meter first, then what tells of the stop; all together leave little
	if a.Ranked[0].What != meter.What || a.Then == nil || !(a.Then.Part > meter.Part && a.Then.AfterK < meter.AfterK) || a.All < 0.8 || len(a.Left) != 0 {
		t.Errorf("first %q, then %+v, all %g, left %v", a.Ranked[0].What, a.Then, a.All, a.Left)
	}
	if s := strings.Join(a.Words, "\n"); !strings.Contains(s, "easure first: USB meter") || !strings.Contains(s, "Then: "+a.Then.What) {
		t.Errorf("words:\n%s", s)
	}
	// a reading of the meter: the conjugate normal posterior of P, and with it of the headroom
	i := slices.IndexFunc(a.Ranked, func(r Ranked) bool { return r.What == meter.What })
	lo, hi, worth := a.Given(i, 2.6)
	s2 := 1 / (1/(p*p) + 1/(meter.errorSD*meter.errorSD))
	mean := s2 * (2.5/(p*p) + 2.6/(meter.errorSD*meter.errorSD))
	half := z90 * math.Sqrt(stop*stop+s2*r*r)
	within(t, "middle after 2.6 W", (lo+hi)/2, 45-mean*r, 4*half/math.Sqrt(worth))
	within(t, "half width after 2.6 W", (hi-lo)/2, half, 4*half/math.Sqrt(worth))
	if worth < 50 || worth > n {
		t.Errorf("%g draws' worth", worth)
	}
}

// Preposterior chance by simulation of the same normal model.
func TestClearAfter(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 7))
	for _, c := range []struct{ m, before, after float64 }{{1, 3, 1}, {-2, 3, 2}, {0, 3, 0.2}, {4, 2, 1.9}} {
		clear, n := 0, 40_000
		for range n {
			mean := c.m + math.Sqrt(c.before*c.before-c.after*c.after)*rng.NormFloat64()
			if p := 0.5 * math.Erfc(-mean/c.after/math.Sqrt2); p >= 0.9 || p <= 0.1 {
				clear++
			}
		}
		want := float64(clear) / float64(n)
		within(t, fmt.Sprintf("%+v", c), clearAfter(c.m, c.before, c.after), want, 4*math.Sqrt(0.25/float64(n)))
	}
	if clearAfter(4, 3, 3) != 1 || clearAfter(3, 3, 3) != 0 {
		t.Error("a reading that tells nothing changes the decision")
	}
}

// lamp is a chip on a plate in a box of plastic. Invented.
const lamp = `device: lamp
materials:
  plastic: {conductivity: 0.2 to 0.4 W/mK, density: 1000 kg/m3, specific heat: 1400 J/kgK}
  metal: {conductivity: 150 W/mK, density: 2500 to 2900 kg/m3, specific heat: 900 J/kgK}
finishes:
  dark: {emissivity: 0.8 to 0.95}
  dull: {emissivity: 0.2 to 0.6}
parts:
  shell: {material: plastic, finish: dark, box: 40 x 50 x 16 mm, wall: 2 mm}
  plate: {material: metal, finish: dark, plate: 34 x 44 mm, thickness: 4 mm, on: shell.inside front}
  chip: {material: metal, finish: dull, plate: 12 x 12 mm, thickness: 1.5 mm, on: plate.back, heat: {on: 1.2 to 2.2 W, low: 0.4 to 1 W}}
  cell: {material: metal, finish: dark, box: 20 x 20 x 4 mm, on: shell.inside back, mass: 4.3 g}
joints:
  chip-plate: {between: [chip, plate], conductance: 1000 to 8000 W/m2K}
  plate-shell: {between: [plate, shell], conductance: 80 to 500 W/m2K}
  cell-shell: {between: [cell, shell], conductance: 200 W/m2K}
mode: on
sensors:
  s: {at: chip, stops at: 66 to 72 °C}
limits: {skin: 90 °C}
battery: {part: cell, energy: 3 Wh ± 5 %, own heat: 0.03, other load: 0.3 W, limit: 95 °C}
conditions: {ambient: 25 °C, air: still, altitude: 0 m}
`

// Devices drawn from what is in doubt, their readings made in 3-D with their errors: the first advice shrinks the interval of the decision more
// than the median alternative in most of them, and by about what was foreseen. bench/advice does the same with learning in between.
func TestFirstAdviceBeatsTheMedian(t *testing.T) {
	f := parse(t, lamp)
	a := advice(t, f, 400)
	if len(a.Ranked) < 10 {
		t.Fatalf("%d measurements", len(a.Ranked))
	}
	rng := rand.New(rand.NewPCG(11, 5))
	better, foreseen, devices := 0, 0.0, 10
	for range devices {
		truth := device.Values{}
		for _, u := range a.designs[0].Unknowns {
			truth[u.Path] = u.Prior.At(math.Max(-2, math.Min(2, rng.NormFloat64())))
		}
		reads, err := a.ReadsAt(context.Background(), truth)
		if err != nil {
			t.Fatal(err)
		}
		var half []float64
		for i := range a.Ranked {
			lo, hi, _ := a.Given(i, reads[i]+a.ErrorSD(i)*rng.NormFloat64())
			half = append(half, (hi-lo)/2)
		}
		others := append([]float64(nil), half[1:]...)
		sort.Float64s(others)
		if half[0] < infer.Quantile(others, 0.5) {
			better++
		}
		foreseen += half[0] / a.Ranked[0].AfterK / float64(devices)
	}
	if better < 8 {
		t.Errorf("the first advice was better than the median alternative in %d of %d devices", better, devices)
	}
	within(t, "half width over the one foreseen", foreseen, 1, 0.25)
}

// What is on the list, and what is not.
func TestList(t *testing.T) {
	a := advice(t, parse(t, strings.Replace(lamp, "on: 1.2 to 2.2 W", "on: 2.2 to 3 W", 1)), 80)
	for _, what := range []string{"the scale: plate alone", "USB meter", "stopwatch until it stops, steps down or is empty, in still air", "or is empty, before a fan",
		"thermocouple at shell.back centre, 10 min in still air", "thermocouple at shell.back centre, 30 min", "thermocouple at shell.back centre, 10 min before a fan",
		"thermocouple at chip, 10 min", "beside s until it stops", "infrared thermometer on dark", "infrared thermometer on dull"} {
		r := of(t, a, what)
		if r.EffortM <= 0 || r.Needs == "" || r.Write == "" || r.LoHi == "" || !(r.Lo <= r.Hi) || !(r.AfterK <= a.HalfWidthK) || r.Opened != (strings.Contains(what, "alone") || strings.Contains(what, "chip") || strings.Contains(what, "beside s") || strings.Contains(what, "dull")) {
			t.Errorf("%+v", r)
		}
	}
	for i := range a.Ranked {
		r := &a.Ranked[i]
		if strings.Contains(r.What, "scale: cell") {
			t.Error("the cell is weighed already")
		}
		if runs := !strings.Contains(r.What, "scale") && !strings.Contains(r.What, "infrared"); runs != (r.Mode == "on") {
			t.Errorf("%s in mode %q", r.What, r.Mode)
		}
	}
}

// With a power step before the stop, the step's temperature is what a probe beside the sensor can see.
func TestBesideTheSensorOfAStep(t *testing.T) {
	a := advice(t, parse(t, strings.Replace(strings.Replace(lamp, "on: 1.2 to 2.2 W", "on: 2.2 to 3 W", 1), "stops at: 66 to 72 °C", "stops at: 80 °C, steps: [{above: 60 to 66 °C, power: 50 %}]", 1)), 80)
	r := of(t, a, "beside s until the first power step")
	within(t, "low", r.Lo, 273.15+60, 1)
	within(t, "high", r.Hi, 273.15+66, 1)
	if !strings.Contains(r.Write, "above: …") || a.Mode != "on" {
		t.Errorf("%q, mode %q", r.Write, a.Mode)
	}
}

func TestChanceWords(t *testing.T) {
	for p, want := range map[float64]string{0: "below 1 %", 0.01: "1 %", 0.034: "3 %", 0.99: "99 %", 1: "over 99 %"} {
		if got := chanceWords(p); got != want {
			t.Errorf("%g: %q", p, got)
		}
	}
}

// Another mode than the file's is measured in that mode: only then does a reading tell of it.
func TestMeasuresInTheDecisionsMode(t *testing.T) {
	f := parse(t, lamp)
	shape, err := model.NewShape(f, nil, few)
	if err != nil {
		t.Fatal(err)
	}
	m, err := shape.At(nil, room(false), "low")
	if err != nil {
		t.Fatal(err)
	}
	pw, ok := powerMeter(f, m, "air: still, mode: low")
	if !ok {
		t.Fatal("no meter")
	}
	d := drawn{values: device.Values{"parts.chip.heat.low": 0.55, "parts.chip.heat.on": 2}}
	within(t, "power in mode low", pw.read(&d), 0.55+0.3, 1e-12)
}

func TestTooFewDraws(t *testing.T) {
	f := parse(t, block)
	dec := Decision{HeadroomK: []float64{1, 2, math.Inf(1), math.NaN()}}
	if _, err := Advise(context.Background(), f, dec, Options{Fineness: few}); !errors.Is(err, ErrFew) {
		t.Errorf("error %v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Advise(ctx, f, dec, Options{Fineness: few}); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

func TestBetween(t *testing.T) {
	if s := between(311.15, 317.15, unit.Temperature); s != "38 to 44 °C" {
		t.Error(s)
	}
}
