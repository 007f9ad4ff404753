package standin

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
)

var few = model.Fineness{TargetCells: 600, Across: 1}

const zeroC = 273.15

func build(t testing.TB, yaml string, opt Options) *Design {
	t.Helper()
	f, err := device.Parse("test.yaml", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	opt.Fineness, opt.Workers = few, 2
	d, err := Build(context.Background(), f, opt)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func within(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

// block is a cube of 20 mm that has one temperature: 16 J/K and R = 20.83 K/W to air at 20 °C, fed by a battery of 0.5 Wh.
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
sensors: {s: {at: block, stops at: 66 °C}}
limits: {skin: 150 °C}
battery: {energy: 0.5 Wh}
`

// The rise of a lump after t is PR (1 - exp(-t/RC)) (Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., eq. 5.25), and the
// battery's end is at E/P: headroom and end of every draw in closed form, also of those that a device would not reach itself.
func TestLumpedOutcomes(t *testing.T) {
	const r = 1 / (20 * 24e-4)
	const tau = 16 * r
	d := build(t, block, Options{Draws: 12})
	if len(d.Draws) != 13 {
		t.Fatalf("%d draws", len(d.Draws))
	}
	stopped, lasted := 0, 0
	for k, v := range append(d.Draws, device.Values{"parts.block.heat": 1.5}, device.Values{"parts.block.heat": 3.5}) {
		p, ok := v["parts.block.heat"]
		if !ok {
			p = 2.5 // the best values are the file's own: the middle
		}
		goal := 0.5 * 3600 / p
		o, err := d.Ask(context.Background(), v)
		if err != nil {
			t.Fatal(err)
		}
		what := fmt.Sprintf("draw %d, %.2f W: ", k, p)
		within(t, what+"headroom", o.HeadroomK, 46-p*r*(1-math.Exp(-goal/tau)), 0.06)
		within(t, what+"battery", o.BatteryS, goal, 1e-6)
		if p*r*(1-math.Exp(-goal/tau)) > 46 {
			stopped++
			stop := tau * math.Log(p*r/(p*r-46))
			within(t, what+"stop", o.EndS, stop, 5)
			within(t, what+"own end", o.OwnS, stop, 5)
			within(t, what+"margin", o.MarginK, 0, 0.06)
			within(t, what+"skin", o.SkinK, zeroC+66, 0.06)
			if o.Kind != session.Stopped || o.By != "s" || o.Lasts() || o.Nearest != "s stops it" {
				t.Errorf("%s%+v", what, o)
			}
		} else {
			lasted++
			within(t, what+"end", o.EndS, goal, 0.5)
			within(t, what+"margin", o.MarginK, o.HeadroomK, 1e-9)
			if o.Kind != session.BatteryEmpty || !o.Lasts() {
				t.Errorf("%s%+v", what, o)
			}
		}
	}
	if stopped < 3 || lasted < 3 {
		t.Errorf("%d stopped, %d lasted: the test looks at one side only", stopped, lasted)
	}
	if d.HasAir() {
		t.Error("stated boundaries do not follow the air of the conditions")
	}
}

// lamp is a chip on a plate in a box of plastic, its cell with a limit and a glued plate. Invented.
const lamp = `device: lamp
materials:
  plastic: {conductivity: 0.3 W/mK, density: 1000 kg/m3, specific heat: 1400 J/kgK}
  metal: {conductivity: 150 W/mK, density: 2700 kg/m3, specific heat: 900 J/kgK}
finishes:
  dark: {emissivity: 0.9}
parts:
  shell: {material: plastic, finish: dark, box: 40 x 50 x 16 mm, wall: 2 mm}
  plate: {material: metal, finish: dark, plate: 34 x 44 mm, thickness: 4 mm, on: shell.inside front}
  chip: {material: metal, finish: dark, plate: 12 x 12 mm, thickness: 1.5 mm, on: plate.back, heat: {on: 1.2 to 2.2 W, low: 1 W}}
  cell: {material: metal, finish: dark, box: 20 x 20 x 4 mm, on: shell.inside back}
joints:
  chip-plate: {between: [chip, plate], conductance: 1000 to 8000 W/m2K}
  plate-shell: {between: [plate, shell], filler: thermal epoxy, thickness: 0.2 mm}
  cell-shell: {between: [cell, shell], conductance: 200 W/m2K}
mode: on
sensors:
  s: {at: chip, stops at: 72 to 78 °C}
limits: {skin: 60 °C}
battery: {part: cell, energy: 3 Wh, limit: 75 °C, own heat: 0.03, other load: 0.3 W}
conditions: {ambient: 22 °C, air: still, altitude: 0 m}
`

// The stand-in says what 3-D runs on the same cells say: at draws, in other air, and at the air that it calls the warmest.
func TestStandsInFor3D(t *testing.T) {
	d := build(t, lamp, Options{Draws: 40, Ambient: true, Watch: []string{"shell.back centre"}})
	ctx := context.Background()
	found := 0
	for k := 0; k < 6; k++ {
		o, err := d.Ask(ctx, d.Draws[k])
		if err != nil {
			t.Fatal(err)
		}
		want, err := d.Ask3D(ctx, d.Draws[k], model.Fineness{})
		if err != nil {
			t.Fatal(err)
		}
		what := fmt.Sprintf("draw %d: ", k)
		within(t, what+"headroom", o.HeadroomK, want.HeadroomK, 0.2)
		within(t, what+"skin", o.SkinK, want.SkinK, 0.2)
		within(t, what+"end", o.EndS, want.EndS, 0.02*want.EndS)
		within(t, what+"back after 5 min", o.At(o.Reads["shell.back centre"], 300), want.At(want.Reads["shell.back centre"], 300), 0.2)
		if o.Kind != want.Kind && math.Abs(want.HeadroomK) > 0.2 {
			t.Errorf("%s%s, in 3-D %s", what, o.Kind, want.Kind)
		}
		warmest, err := d.WarmestAir(ctx, d.Draws[k], o)
		if err != nil {
			t.Fatal(err)
		}
		if math.IsInf(warmest, 0) {
			if b := want.HeadroomK * math.Copysign(1, warmest); b < AmbientSpanK/2 {
				t.Errorf("%swarmest air %g at a headroom of %g K", what, warmest, want.HeadroomK)
			}
			continue
		}
		found++
		v := device.Values{}
		for p, x := range d.Draws[k] {
			v[p] = x
		}
		v["conditions.ambient"] = warmest
		if want, err = d.Ask3D(ctx, v, model.Fineness{}); err != nil {
			t.Fatal(err)
		}
		within(t, what+"headroom in the warmest air", want.HeadroomK, 0, 0.4)
	}
	if found < 4 {
		t.Errorf("the warmest air was found %d times only", found)
	}
}

// A finer run moves the answer to itself at the best values.
func TestAnchor(t *testing.T) {
	d := build(t, lamp, Options{Draws: 8})
	ctx := context.Background()
	finer := model.Fineness{TargetCells: 4000, Across: 2}
	fine, m, err := d.run3D(ctx, nil, finer)
	if err != nil {
		t.Fatal(err)
	}
	before, err := d.Ask(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Anchor(ctx, fine); err != nil {
		t.Fatal(err)
	}
	after, err := d.Ask(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := d.outcome(fine, m, func(string) float64 { return 1 })
	within(t, "anchored", after.HeadroomK, want.HeadroomK, 0.1)
	if math.Abs(before.HeadroomK-want.HeadroomK) < 0.15 {
		t.Errorf("the cells make no difference (%g K and %g K): the test says nothing", before.HeadroomK, want.HeadroomK)
	}
}

// A size in doubt: the stand-in's linear answer beside 3-D on cells cut for the size.
func TestSizesInDoubt(t *testing.T) {
	d := build(t, strings.Replace(lamp, "box: 40 x 50 x 16 mm, wall: 2 mm", "box: 40 x 50 x 16 mm, wall: 1.6 to 2.4 mm", 1), Options{Draws: 8})
	ctx := context.Background()
	var at [2]float64
	for i, wall := range []float64{1.7e-3, 2.3e-3} {
		v := device.Values{"parts.shell.wall": wall}
		o, err := d.Ask(ctx, v)
		if err != nil {
			t.Fatal(err)
		}
		want, err := d.Ask3D(ctx, v, model.Fineness{})
		if err != nil {
			t.Fatal(err)
		}
		within(t, fmt.Sprintf("wall %g m", wall), o.HeadroomK, want.HeadroomK, 0.6)
		at[i] = o.HeadroomK
	}
	if math.Abs(at[0]-at[1]) < 0.5 {
		t.Errorf("the wall makes no difference: %v", at)
	}
}

// Designs stay comparable: what is learned comes from one learned draw, what only one design has from its own prior.
func TestDrawsGoTogether(t *testing.T) {
	u := func(paths ...string) (out []model.Unknown) {
		for _, p := range paths {
			out = append(out, model.Unknown{Path: p, Prior: unit.Prior{Mid: 1.1, Lo: 0.9, Hi: 1.4}})
		}
		return out
	}
	best := device.Values{"power": 7}
	learned := []device.Values{best, {"power": 8}, {"power": 6}}
	sum, sum2, n := 0.0, 0.0, 4000
	for k := 0; k <= n; k++ {
		a := Draw(u("power", "film", "old joint"), learned, best, k)
		b := Draw(u("new joint", "film", "power"), learned, best, k)
		if k == 0 {
			if diff := cmp.Diff(best, a); diff != "" {
				t.Errorf("draw 0: %s", diff)
			}
			continue
		}
		if a["film"] != b["film"] || a["power"] != b["power"] || a["power"] != []float64{6, 8}[k%2] || a["old joint"] == b["new joint"] {
			t.Fatalf("draw %d: %v beside %v", k, a, b)
		}
		z := u("film")[0].Prior.Score(a["film"])
		sum, sum2 = sum+z, sum2+z*z
	}
	// mean 0 and variance 1 within four standard errors, the variance a little less because the ends are cut off
	within(t, "mean score", sum/float64(n), 0, 4/math.Sqrt(float64(n)))
	within(t, "variance of the scores", sum2/float64(n), 1, 4*math.Sqrt(2/float64(n)))
	if best["power"] != 7 || len(best) != 1 {
		t.Errorf("the best values were changed: %v", best)
	}
	if v := Draw(u("power"), []device.Values{best}, best, 3); v["power"] != 7 {
		t.Errorf("the only draw there is was not taken: %v", v)
	}
}

func TestScoresLeaveOutWhatIsFixed(t *testing.T) {
	p := unit.Prior{Mid: 2, Lo: 1, Hi: 3}
	us := []model.Unknown{{Path: "a", Prior: p}, {Path: "b", Prior: p}}
	z, of := Scores(us, []device.Values{{"a": 3, "b": 2}, {"a": 1, "b": 2}})
	if len(of) != 1 || of[0].Path != "a" {
		t.Fatalf("%+v", of)
	}
	within(t, "score of the interval's end", z[0][0], 1.645, 0.001) // 90 % interval: Abramowitz & Stegun, table 26.5
	within(t, "score of its other end", z[1][0], -1.645, 0.001)
}

func TestStopsWhenTold(t *testing.T) {
	f, err := device.Parse("test.yaml", []byte(lamp))
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	n := 0
	opt := Options{Draws: 8, Fineness: few, Progress: func() {
		if n++; n == 3 {
			stop()
		}
	}}
	if _, err := Build(ctx, f, opt); err != context.Canceled {
		t.Errorf("error %v", err)
	}
	n = 10
	ran := 0
	opt.Progress = func() { ran++ }
	if _, err := Build(context.Background(), f, opt); err != nil || ran != opt.Runs() {
		t.Errorf("%d of %d runs told, %v", ran, opt.Runs(), err)
	}
}
