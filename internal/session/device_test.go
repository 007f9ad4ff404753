package session

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"finwright/internal/unit"
)

// lamp is a small sealed device with all there is: sealed air, a battery, a sensor that steps and stops, glue. Invented.
const lamp = `device: lamp
up: +y
invented: true
parts:
  shell: {material: ABS, box: 40 x 60 x 20 mm, wall: 2 mm}
  plate: {material: aluminium 6061, plate: 34 x 50 mm, thickness: 1.5 mm, on: shell.inside front}
  chip: {material: silicon, plate: 12 x 12 mm, thickness: 1.2 mm, on: plate.back, heat: {bright: 3 W, off: 0.1 W}}
  cell: {material: lithium-ion pouch cell, box: 30 x 30 x 5 mm, on: shell.inside back}
joints:
  chip-plate: {between: [chip, plate], filler: thermal epoxy}
  plate-shell: {between: [plate, shell], conductance: 300 W/m2K}
mode: bright
after stop: off
sensors:
  soc: {at: plate.back centre, stops at: 75 °C, restarts below: 45 °C, steps: [{above: 60 °C, back below: 50 °C, power: 85 %}]}
battery: {part: cell, energy: 4 Wh, own heat: 0.03, other load: {bright: 0.4 W}}
conditions: {ambient: 25 °C, air: still, surroundings: 15 °C, sun: 200 W/m2, sun from: +y}
`

func TestLedgerOfAWholeDevice(t *testing.T) {
	res := simulate(t, lamp, Spec{CoolS: 1800, Watch: []string{"shell.front centre", "20 30 19 mm"}})
	inOrder(t, res)
	l := res.Ledger
	outW, sunW := 0.0, 0.0
	for _, o := range l.Outflows {
		outW += o.HeatW
		sunW += o.SunW
		if o.Formula == "" {
			t.Errorf("%s follows no formula", o.Name)
		}
		within(t, o.Name+": convection, radiation and sun", o.ConvW+o.RadW-o.SunW, o.HeatW, 2e-3*math.Abs(o.HeatW)+1e-5)
		if o.HighestK < o.MeanK-1e-9 {
			t.Errorf("%s: highest %g K, mean %g K", o.Name, o.HighestK, o.MeanK)
		}
		if o.Reach && o.HighestK > res.Hottest.HighestK {
			t.Errorf("%s is hotter than the hottest", o.Name)
		}
	}
	if sunW <= 0 {
		t.Error("no sun")
	}
	near(t, "out and stored", outW+l.StoredW, l.PowerW, 1e-6)
	// what is stored is what the parts' own warming takes: by the last two samples before the end
	if l.StoredW < 0 || l.StoredW > l.PowerW {
		t.Errorf("%g W stored of %g W", l.StoredW, l.PowerW)
	}

	sum := 0.0
	for i, leg := range l.Path {
		sum += leg.DropK
		if i == 0 && (leg.Kind != "source" || leg.Name != "chip") {
			t.Errorf("the path starts with %+v", leg)
		}
		if leg.DropK < -0.5 {
			t.Errorf("heat runs uphill in %+v", leg)
		}
	}
	within(t, "drops of the path", sum, l.SourceK-l.AmbientK, 1e-9)
	if last := l.Path[len(l.Path)-1]; last.Kind != "film" {
		t.Errorf("the path ends with %+v", last)
	}
	names := map[string]bool{}
	for _, leg := range l.Path {
		names[leg.Name] = true
	}
	if !names["plate"] || !names["shell"] {
		t.Errorf("path %+v", l.Path)
	}

	var intoPlate float64
	for _, c := range l.Crossings {
		if c.FlowW < 0 {
			t.Errorf("%s to %s: %g W", c.A, c.B, c.FlowW)
		}
		if c.A == "chip" && c.B == "plate" {
			intoPlate = c.FlowW
		}
	}
	if !(intoPlate > 1.5 && intoPlate < 3) {
		t.Errorf("%g W from chip into plate", intoPlate)
	}

	b := res.Balance
	near(t, "in, sun = out, stored", b.OutJ+b.StoredJ, b.InJ+b.SunJ, 1e-6)
	if !(math.Abs(b.ClosureRel) < 1e-6) || b.SunJ <= 0 {
		t.Errorf("balance %+v", b)
	}
	for _, lim := range res.Limits {
		near(t, lim.Name+" margin", lim.MarginK, lim.LimitK-lim.HighestK, 1e-12)
		if math.IsNaN(lim.SettleK) || lim.SettleK < lim.HighestK-0.1 && len(eventsOf(res, "down to")) == 0 {
			t.Errorf("%s settles at %g K after %g K", lim.Name, lim.SettleK, lim.HighestK)
		}
		if lim.MarginK < res.Limits[res.Nearest].MarginK {
			t.Errorf("%s is nearer than %s", lim.Name, res.Limits[res.Nearest].Name)
		}
	}
	kinds := map[string]bool{}
	for _, lim := range res.Limits {
		kinds[lim.Kind] = true
	}
	if !kinds["skin"] || !kinds["cell"] || !kinds["glue"] || !kinds["trip"] {
		t.Errorf("limits %+v", res.Limits)
	}
}

func TestDeterministic(t *testing.T) {
	spec := Spec{CoolS: 900, Watch: []string{"shell.front centre"}}
	if diff := cmp.Diff(simulate(t, lamp, spec), simulate(t, lamp, spec), cmpopts.EquateNaNs()); diff != "" {
		t.Error(diff)
	}
}

// A point on a face reads the same as the face where the body is plane: also inside steps, where a solver gives only the
// cells asked for.
func TestPointInsideSteps(t *testing.T) {
	res := simulate(t, `device: wall
materials:
  stuff: {conductivity: 0.5 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  w: {material: stuff, box: 20 x 20 x 8 mm}
boundaries:
  hot: {face: w.back, flux: 1500 W/m2}
  air: {face: w.front, film: 25 W/m2K, ambient: 20 °C}
start: 20 °C
conditions: {ambient: 20 °C}
limits: {skin: 300 °C}
sensors: {s: {at: w.front centre, stops at: 60 °C}}
`, Spec{Watch: []string{"w.front", "3 4 8 mm", "w centre", "w"}})
	inOrder(t, res)
	face := series(t, res, "w.front")
	for i, at := range res.TimeS {
		for _, name := range []string{"s", "3 4 8 mm"} {
			within(t, name, series(t, res, name)[i], face[i], 0.02)
		}
		if i > 0 && face[i] < face[i-1] {
			t.Errorf("it cools at %g s", at)
		}
		if c, w := series(t, res, "w centre")[i], series(t, res, "w")[i]; math.Abs(c-w) > 2.5 {
			t.Errorf("at %g s the middle is at %g K, the mean at %g K", at, c, w)
		}
	}
	// where it settles: q/h = 60 K over the ambient; so the stop at 40 K over is certain
	within(t, "settles", res.Limits[0].SettleK, 20+zeroC+60, 1e-3)
	if res.End.Kind != Stopped {
		t.Errorf("ended by %+v", res.End)
	}
}

// Soak-back. Two bodies of 16 J/K: the first makes the heat and gives it to the second by 0.04 W/K, whose sensor stops the
// device; 0.1 W/K go from there to the air. After the stop 0.2 W remain. The reference is the same network as two ordinary
// differential equations, integrated in the test by the classical Runge-Kutta method with steps of 0.05 s.
func TestSoakBack(t *testing.T) {
	const yaml = `device: d
materials:
  stuff: {conductivity: 4000 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  a: {material: stuff, box: 20 x 20 x 20 mm, heat: {on: 5 W, rest: 0.2 W}}
  b: {material: stuff, box: 20 x 20 x 20 mm, on: a.front}
joints: {j: {between: [a, b], conductance: 100 W/m2K}}
mode: on
after stop: rest
boundaries:
  air: {face: b, film: 50 W/m2K, ambient: 20 °C}
conditions: {ambient: 20 °C}
limits: {skin: 300 °C}
sensors: {s: {at: b, stops at: 40 °C, restarts below: 30 °C}}
battery: {energy: 2 Wh, other load: {on: 1 W}}
`
	res := simulate(t, yaml, Spec{CoolS: 3000, Watch: []string{"a"}})
	inOrder(t, res)

	var a, b []float64
	stopS, peakK, peakS, againS := 0.0, 0.0, 0.0, 0.0
	x, y, w := 20.0, 20.0, 5.0
	slope := func(x, y float64) (dx, dy float64) {
		return (w - 0.04*(x-y)) / 16, (0.04*(x-y) - 0.1*(y-20)) / 16
	}
	const h = 0.05
	for s := 0.0; s < 6000; s += h {
		a, b = append(a, x), append(b, y)
		switch {
		case stopS == 0 && y >= 40:
			stopS, w = s, 0.2
		case stopS > 0 && y > peakK:
			peakK, peakS = y, s
		case stopS > 0 && againS == 0 && y <= 30:
			againS = s
		}
		k1x, k1y := slope(x, y)
		k2x, k2y := slope(x+h/2*k1x, y+h/2*k1y)
		k3x, k3y := slope(x+h/2*k2x, y+h/2*k2y)
		k4x, k4y := slope(x+h*k3x, y+h*k3y)
		x, y = x+h/6*(k1x+2*k2x+2*k3x+k4x), y+h/6*(k1y+2*k2y+2*k3y+k4y)
	}
	if peakK < 40.6 {
		t.Fatalf("the case shows no soak-back: %g °C", peakK)
	}
	if res.End.Kind != Stopped {
		t.Fatalf("ended by %+v", res.End)
	}
	within(t, "stop", res.End.AtS, stopS, 1)
	for i, s := range res.TimeS {
		k := int(math.Round(s / h))
		within(t, "a", series(t, res, "a")[i], a[k]+zeroC, 0.2) // the stop is found up to 0.5 s late: 0.1 K
		within(t, "b", series(t, res, "s")[i], b[k]+zeroC, 0.2)
		wantW, leftJ := 5.0, 7200-6*s
		if s > res.End.AtS {
			wantW, leftJ = 0.2, 7200-6*res.End.AtS-0.2*(s-res.End.AtS)
		}
		within(t, "power", res.PowerW[i], wantW, 1e-12)
		within(t, "energy left", res.BatteryJ[i], leftJ, 1e-6)
	}
	if last := res.TimeS[len(res.TimeS)-1]; last < res.End.AtS+2900 {
		t.Errorf("the cool-down ends at %g s", last)
	}
	soak := eventsOf(res, "soak-back")
	if len(soak) != 1 {
		t.Fatalf("events %v", res.Events)
	}
	within(t, "peak", soak[0].AtS, peakS, 60) // a flat top, read at the ends of steps
	if !strings.Contains(soak[0].What, unit.Format(peakK+zeroC, unit.Temperature)) && !strings.Contains(soak[0].What, unit.Format(peakK+zeroC-0.1, unit.Temperature)) {
		t.Errorf("%q, it is %.2f °C", soak[0].What, peakK)
	}
	again := eventsOf(res, "could start again")
	if len(again) != 1 {
		t.Fatalf("events %v", res.Events)
	}
	within(t, "again", again[0].AtS, againS, 3)
}

// An empty battery ends all heat, and nothing restarts the device by cooling.
func TestNothingRemainsInAnEmptyBattery(t *testing.T) {
	res := simulate(t, `device: d
materials:
  stuff: {conductivity: 2000 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  a: {material: stuff, box: 20 x 20 x 20 mm, heat: {on: 2 W, rest: 0.5 W}}
mode: on
after stop: rest
boundaries:
  air: {face: a, film: 20 W/m2K, ambient: 20 °C}
conditions: {ambient: 20 °C}
limits: {skin: 300 °C}
sensors: {s: {at: a, stops at: 90 °C, restarts below: 30 °C}}
battery: {energy: 0.2 Wh}
`, Spec{CoolS: 1800})
	inOrder(t, res)
	if res.End.Kind != BatteryEmpty {
		t.Fatalf("ended by %+v", res.End)
	}
	for i, s := range res.TimeS {
		if s > res.End.AtS && (res.PowerW[i] != 0 || res.BatteryJ[i] != 0) {
			t.Fatalf("%g W, %g J at %g s from an empty battery", res.PowerW[i], res.BatteryJ[i], s)
		}
	}
	endK := 2 * resKW * (1 - math.Exp(-res.End.AtS/tauS))
	n := len(res.TimeS) - 1
	within(t, "cooled", series(t, res, "s")[n], 20+zeroC+endK*math.Exp(-(res.TimeS[n]-res.End.AtS)/tauS), 0.05)
	if e := eventsOf(res, "start again"); len(e) != 0 {
		t.Errorf("%v", e)
	}
}
