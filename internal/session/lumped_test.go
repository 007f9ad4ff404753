package session

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func TestTripTime(t *testing.T) {
	res, cooled := simulate(t, block(stops50), Spec{}), simulate(t, block(stops50), Spec{CoolS: 600})
	inOrder(t, res)
	tripS := lumpedS(0, 30, 2) // 424.3 s
	for i, at := range cooled.TimeS {
		w := 2.0
		if at > tripS+1 {
			w = 0
			within(t, "cools", series(t, cooled, "s")[i], 20+zeroC+30*math.Exp(-(at-tripS)/tauS), 0.05)
		}
		within(t, "power", cooled.PowerW[i], w, 1e-12)
	}
	inOrder(t, cooled)
	if res.End.Kind != Stopped || res.End.By != "s" || res.Own != res.End {
		t.Fatalf("ended by %+v", res.End)
	}
	within(t, "stop", res.End.AtS, tripS, 1)
	for i, at := range res.TimeS {
		within(t, "curve", series(t, res, "s")[i], 20+zeroC+2*resKW*(1-math.Exp(-at/tauS)), 0.03)
	}
	if len(eventsOf(res, "stops itself")) != 1 || len(res.Events) != 1 {
		t.Errorf("events %v", res.Events)
	}

	l := res.Limits[0]
	if l.Kind != "trip" || res.Nearest != 0 {
		t.Errorf("nearest %d, %+v", res.Nearest, l)
	}
	within(t, "margin", l.MarginK, 0, 0.03) // half a second of rise
	within(t, "reached", l.ReachedS, tripS, 1)
	within(t, "would settle at", l.SettleK, 20+zeroC+2*resKW, 5e-3) // 2 mK within the block
	if !math.IsNaN(res.MarginMin) {
		t.Errorf("%g minutes of margin without a battery", res.MarginMin)
	}
	if len(res.Gates) != 1 || res.Gates[0].Kind != "trip" || res.Series[res.Gates[0].Series].Name != "s" {
		t.Errorf("gates %+v", res.Gates)
	}

	// ledger at the stop: hA ΔT leaves, C dT/dt = P exp(-t/RC) is stored
	led := res.Ledger
	outW := 0.0
	for _, o := range led.Outflows {
		outW += o.HeatW
	}
	within(t, "power", led.PowerW, 2, 1e-12)
	within(t, "out", outW, 0.048*30, 0.002)
	within(t, "stored", led.StoredW, 2*math.Exp(-res.End.AtS/tauS), 0.002)
	near(t, "out and stored", outW+led.StoredW, led.PowerW, 1e-6)

	// account of the run
	near(t, "in", res.Balance.InJ, 2*res.End.AtS, 1e-9)
	near(t, "stored", res.Balance.StoredJ, capJK*30, 0.002)
	near(t, "in = out + stored", res.Balance.OutJ+res.Balance.StoredJ, res.Balance.InJ, 1e-6)
	if !(math.Abs(res.Balance.ClosureRel) < 1e-6) {
		t.Errorf("the balance is open by %g", res.Balance.ClosureRel)
	}
	within(t, "part", res.Parts[0].MeanK, 50+zeroC, 0.05)
	within(t, "capacity", res.Parts[0].CapacityJK, capJK, 1e-9)
	within(t, "heat", res.Parts[0].HeatW, 2, 1e-12)
}

func TestSwitchedOff(t *testing.T) {
	with := stops50 + "battery: {energy: 0.3 Wh}\n" // 1080 J at 2 W: 540 s
	for _, tc := range []struct {
		name string
		spec Spec
		kind EndKind
		atS  float64
		tol  float64
	}{
		{"as it is", Spec{}, Stopped, lumpedS(0, 30, 2), 1},
		{"no stop", Spec{NoStop: true}, BatteryEmpty, 540, 1e-6},
		{"no stop, never empty", Spec{NoStop: true, NoEmpty: true, UntilS: 700}, TimeOver, 700, 1e-6},
		{"time over first", Spec{UntilS: 240}, TimeOver, 240, 1e-6},
		{"brief", Spec{Brief: true}, Stopped, lumpedS(0, 30, 2), 1},
		{"from warm", Spec{StartK: 35 + zeroC}, Stopped, lumpedS(15, 30, 2), 1},
		{"from hotter than it stops", Spec{StartK: 55 + zeroC}, Stopped, 0, 1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			res := simulate(t, block(with), tc.spec)
			inOrder(t, res)
			if res.End.Kind != tc.kind || res.Own.Kind != tc.kind {
				t.Fatalf("ended by %+v", res.End)
			}
			within(t, "end", res.End.AtS, tc.atS, tc.tol)
			within(t, "last sample", res.TimeS[len(res.TimeS)-1], res.End.AtS, 1e-9)
			within(t, "mean draw", res.MeanDrawW, map[bool]float64{true: 2, false: 0}[res.End.AtS > 0], 1e-9)
			if len(res.Gates) != 1 {
				t.Errorf("gates %+v: they are kept even where they are not obeyed", res.Gates)
			}
		})
	}
	dims := "sensors: {s: {at: block, steps: [{above: 40 °C, power: 50 %}]}}\n" + noSkin
	if res := simulate(t, block(dims), Spec{NoDim: true, UntilS: 1800}); len(res.Events) != 0 || res.PowerW[len(res.PowerW)-1] != 2 {
		t.Errorf("it dimmed: %v", res.Events)
	}
}

// The battery is empty when its energy is drawn, to the second: heat and other load draw, its own heat is only a loss of it.
func TestBatteryEmptyIsExact(t *testing.T) {
	res := simulate(t, block("battery: {part: block, energy: 0.25 Wh, own heat: 0.1, other load: {on: 1 W}}\n"+noSkin), Spec{})
	inOrder(t, res)
	if res.End.Kind != BatteryEmpty {
		t.Fatalf("ended by %+v", res.End)
	}
	near(t, "empty", res.End.AtS, 900.0/3, 1e-9)
	near(t, "mean draw", res.MeanDrawW, 3, 1e-9)
	near(t, "heat made: 2 W and a tenth of what is drawn", res.Balance.InJ, 2.3*300, 1e-9)
	for i, at := range res.TimeS {
		within(t, "energy left", res.BatteryJ[i], 900-3*at, 1e-6)
		within(t, "power", res.PowerW[i], 2.3, 1e-12)
	}
	// fed from outside nothing is drawn
	idle := simulate(t, block("battery: {energy: 0.25 Wh, state: idle, other load: {on: 1 W}}\n"+noSkin), Spec{UntilS: 1200})
	if idle.End.Kind != TimeOver || idle.BatteryJ != nil || idle.MeanDrawW != 0 {
		t.Errorf("idle battery: %+v, %g W drawn", idle.End, idle.MeanDrawW)
	}
}

func TestMargins(t *testing.T) {
	// stops at 424 s; the battery would have lasted 540 s
	res := simulate(t, block(stops50+"battery: {energy: 0.3 Wh}\n"), Spec{})
	within(t, "minutes too early", res.MarginMin, -(540-lumpedS(0, 30, 2))/60, 0.02)
	// empty at 300 s, at 20 + 41.7 (1 - exp(-0.9)) = 44.7 °C; it would have stopped 124.3 s later
	res = simulate(t, block(stops50+"battery: {energy: 600 J}\n"), Spec{})
	if res.End.Kind != BatteryEmpty {
		t.Fatalf("ended by %+v", res.End)
	}
	within(t, "margin", res.Limits[res.Nearest].MarginK, 30-2*resKW*(1-math.Exp(-300/tauS)), 0.03)
	near(t, "minutes left", res.MarginMin, (lumpedS(0, 30, 2)-300)/60, 0.03)
	// a device that would never stop has no end to its margin
	res = simulate(t, block("sensors: {s: {at: block, stops at: 70 °C}}\n"+noSkin+"battery: {energy: 600 J}\n"), Spec{})
	if !math.IsInf(res.MarginMin, 1) {
		t.Errorf("%g minutes to a stop at 70 °C, it settles at 61.7 °C", res.MarginMin)
	}
}

// A limit passed ends the session for the hand, not for the device, which goes on to its own stop.
func TestLimitPassedBeforeItsOwnEnd(t *testing.T) {
	res := simulate(t, block("limits: {skin: 40 °C}\nsensors: {s: {at: block, stops at: 50 °C}}\nbattery: {energy: 0.3 Wh}\n"), Spec{})
	inOrder(t, res)
	if res.End.Kind != LimitPassed || res.Own.Kind != Stopped {
		t.Fatalf("end %+v, own %+v", res.End, res.Own)
	}
	within(t, "limit", res.End.AtS, lumpedS(0, 20, 2), 1)
	within(t, "own", res.Own.AtS, lumpedS(0, 30, 2), 1)
	within(t, "minutes too early", res.MarginMin, -(540-lumpedS(0, 20, 2))/60, 0.02)
	for _, l := range res.Limits {
		if l.Kind == "skin" {
			within(t, "skin margin", l.MarginK, -10, 0.05)
			within(t, "skin reached", l.ReachedS, res.End.AtS, 1e-9)
		}
	}
	// the other way round the limit is not passed at all
	res = simulate(t, block("limits: {skin: 52 °C}\nsensors: {s: {at: block, stops at: 50 °C}}\n"), Spec{})
	if res.End.Kind != Stopped {
		t.Errorf("ended by %+v", res.End)
	}
	// without the file's word the touch limit of 48 °C holds (IEC 62368-1, TS1, more than a minute)
	res = simulate(t, block(""), Spec{})
	if res.End.Kind != LimitPassed || res.Own.Kind != TimeOver {
		t.Fatalf("end %+v, own %+v", res.End, res.Own)
	}
	within(t, "48 °C", res.End.AtS, lumpedS(0, 28, 2), 1)
}

// Two-point control between 50 °C and, by default, 5 K lower, 2 W above and 0.4 W below: on and off times by the lumped closed form.
func TestSteppingWithHysteresis(t *testing.T) {
	const more = "sensors: {s: {at: block, steps: [{above: 50 °C, power: 20 %}]}}\n" + noSkin
	res := simulate(t, block(more+"battery: {energy: 1 Wh}\n"), Spec{})
	inOrder(t, res)
	downs, ups := eventsOf(res, "down to 20 % power"), eventsOf(res, "back up")
	if len(downs) < 5 || len(ups) < 5 {
		t.Fatalf("events %v", res.Events)
	}
	within(t, "first step", downs[0].AtS, lumpedS(0, 30, 2), 1)
	offS, onS := lumpedS(30, 25, 0.4), lumpedS(25, 30, 2)
	for i := 0; i+1 < len(downs) && i+1 < len(ups); i++ {
		// each end is found up to half a second late, which the next half cycle makes up for in part
		within(t, "off", ups[i].AtS-downs[i].AtS, offS, 1.5)
		within(t, "on", downs[i+1].AtS-ups[i].AtS, onS, 1.5)
	}
	// Energy: over whole cycles what was made left by the film, P̄ = hA (mean rise). The mean rise of a cycle follows from the
	// same equation, so the check is against the times of the closed form.
	meanW := (2*onS + 0.4*offS) / (onS + offS)
	n := len(downs) - 1
	spanS := downs[n].AtS - downs[0].AtS
	onTotal := 0.0
	for i := 0; i < n; i++ {
		onTotal += downs[i+1].AtS - ups[i].AtS
	}
	near(t, "mean power", (2*onTotal+0.4*(spanS-onTotal))/spanS, meanW, 0.01)

	// the battery gives 3600 J: everything the events say was drawn
	if res.End.Kind != Dimmed || res.End.AtS != downs[0].AtS {
		t.Errorf("full power ended by %+v, first step at %v s", res.End, downs[0].AtS)
	}
	if res.Own.Kind != BatteryEmpty {
		t.Fatalf("ended by %+v", res.Own)
	}
	drawnJ, from, w := 0.0, 0.0, 2.0
	for _, e := range res.Events {
		drawnJ += w * (e.AtS - from)
		from = e.AtS
		if strings.Contains(e.What, "down to") {
			w = 0.4
		} else {
			w = 2
		}
	}
	near(t, "energy drawn", drawnJ, 3600, 1e-6)
	near(t, "heat made", res.Balance.InJ, 3600, 1e-6)
	near(t, "mean draw", res.MeanDrawW, 3600/res.Own.AtS, 1e-9)
	for i, w := range res.PowerW {
		if w != 2 && w != 0.4 {
			t.Fatalf("%g W at %g s", w, res.TimeS[i])
		}
	}
	if len(res.Gates) != 1 || res.Gates[0].Kind != "step" || math.Abs(res.Gates[0].LimitK-(50+zeroC)) > 1e-9 {
		t.Errorf("gates %+v", res.Gates)
	}
	if l := res.Limits[0]; l.Kind != "step" || math.Abs(l.LimitK-(50+zeroC)) > 1e-9 || math.Abs(l.MarginK) > 0.03 {
		t.Errorf("limit %+v", l)
	}
}

// Of two sensors that reach their temperatures within one step of the solver, the first in time acts, whichever is listed first.
func TestFirstInTimeActs(t *testing.T) {
	for _, list := range []string{"early: {at: block, stops at: 49.9 °C}, late: {at: block, stops at: 50 °C}", "late: {at: block, stops at: 50 °C}, early: {at: block, stops at: 49.9 °C}"} {
		res := simulate(t, block("sensors: {"+list+"}\n"+noSkin), Spec{})
		if res.End.By != "early" {
			t.Errorf("%s: %+v", list, res.End)
		}
		within(t, "stop", res.End.AtS, lumpedS(0, 29.9, 2), 1)
	}
}

// Steps are taken one after the other; the lowest share asked for rules; sources the sensor does not act on stay.
func TestStepsInTurn(t *testing.T) {
	res := simulate(t, `device: d
materials:
  stuff: {conductivity: 2000 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  block: {material: stuff, box: 20 x 20 x 20 mm, heat: 3 W}
  coil: {material: stuff, box: 20 x 20 x 2 mm, on: block.front, heat: 0.5 W}
joints: {j: {between: [block, coil], conductance: 1000000 W/m2K}}
boundaries:
  air: {face: block, film: 20 W/m2K, ambient: 20 °C}
conditions: {ambient: 20 °C}
limits: {skin: 150 °C}
sensors:
  s: {at: block, acts on: [block], steps: [{above: 40 °C, power: 60 %}, {above: 45 °C, power: 40 %}]}
`, Spec{UntilS: 3600})
	inOrder(t, res)
	var seen []float64
	for _, w := range res.PowerW {
		if len(seen) == 0 || seen[len(seen)-1] != w {
			seen = append(seen, w)
		}
	}
	// 3.5 → 2.3 → 1.7 W; 1.7 W settle at 20 + 1.7/0.04 = 62 °C, so it never comes back
	if diff := cmp.Diff([]float64{3.5, 2.3, 1.7}, seen, cmpopts.EquateApprox(0, 1e-12)); diff != "" {
		t.Error(diff)
	}
	within(t, "heat of the block", res.Parts[0].HeatW, 1.2, 1e-12)
	within(t, "heat of the coil", res.Parts[1].HeatW, 0.5, 1e-12)
}

// A step that leaves a fifth of the power makes the battery last up to five times as long: the run follows it to its end.
func TestDimmedBatteryIsFollowedToItsEnd(t *testing.T) {
	const more = "sensors: {s: {at: block, steps: [{above: 32 °C, back below: 22 °C, power: 20 %}]}}\n" + noSkin
	res := simulate(t, block(more+"battery: {energy: 3600 J}\n"), Spec{})
	inOrder(t, res)
	// 0.4 W settle at 28.3 °C, so after the step it stays: 2 W up to 12 K of rise, then 0.4 W
	stepS := lumpedS(0, 12, 2)
	if res.End.Kind != Dimmed {
		t.Errorf("full power ended by %+v", res.End)
	}
	within(t, "first step", res.End.AtS, stepS, 1)
	if res.Own.Kind != BatteryEmpty {
		t.Fatalf("ended by %+v", res.Own)
	}
	within(t, "empty", res.Own.AtS, stepS+(3600-2*stepS)/0.4, 5) // a step found half a second late costs 0.8 J, 2 s
}

// A bare run follows sensors and asked places only, and must end as the full one does.
func TestBareRun(t *testing.T) {
	var fieldS []float64
	full := simulate(t, block(stops50), Spec{})
	bare := simulate(t, block(stops50), Spec{Bare: true, Watch: []string{"block.front"}, OnStep: func(tS float64, tK []float64) { fieldS = append(fieldS, tS) }})
	inOrder(t, bare)
	if bare.End != full.End {
		t.Errorf("ends %+v, in full %+v", bare.End, full.End)
	}
	if len(bare.Series) != 2 || bare.Ledger.Outflows != nil || bare.Section.TK != nil {
		t.Errorf("it is not bare: %d series", len(bare.Series))
	}
	for i := 1; i < len(fieldS); i++ {
		if fieldS[i] <= fieldS[i-1] {
			t.Errorf("step at %g s after %g s", fieldS[i], fieldS[i-1])
		}
	}
	if len(fieldS) == 0 || fieldS[len(fieldS)-1] != bare.End.AtS {
		t.Errorf("fields were shown at %v s, the end was at %g s", fieldS, bare.End.AtS)
	}
	// the touch limit is not followed, so it cannot end the run
	if hot := simulate(t, block(""), Spec{Bare: true, UntilS: 2400}); hot.End.Kind != TimeOver {
		t.Errorf("ended by %+v", hot.End)
	}
}

func TestFlicker(t *testing.T) {
	_, err := Run(context.Background(), build(t, block("sensors: {s: {at: block, steps: [{above: 50 °C, back below: 49.99 °C, power: 0 %}]}}\n"+noSkin)), Spec{UntilS: 7200})
	if err == nil || !strings.Contains(err.Error(), "back below") {
		t.Errorf("error %v", err)
	}
}

func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	lastS := 0.0
	res, err := Run(ctx, build(t, block(noSkin)), Spec{UntilS: 3600, Progress: func(atS, ofS float64) {
		if ofS != 3600 || atS < lastS {
			t.Errorf("%g of %g s after %g s", atS, ofS, lastS)
		}
		lastS = atS
		if atS > 600 {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("error %v", err)
	}
	if res == nil || len(res.TimeS) < 10 || res.TimeS[len(res.TimeS)-1] > lastS {
		t.Fatalf("result so far: %+v", res)
	}
	inOrder(t, res)
	if res.End.Kind != "" {
		t.Errorf("it did not end, but says %+v", res.End)
	}
}

func TestBadPlaces(t *testing.T) {
	m := build(t, block(noSkin))
	if _, err := Run(context.Background(), m, Spec{UntilS: 10, Watch: []string{"nobody"}}); err == nil || !strings.Contains(err.Error(), "nobody") {
		t.Errorf("error %v", err)
	}
	outside := build(t, block("sensors: {s: {at: 50 0 0 mm}}\n"))
	if err := Ready(outside, nil); err == nil || !strings.Contains(err.Error(), `sensor "s"`) {
		t.Errorf("error %v", err)
	}
}
