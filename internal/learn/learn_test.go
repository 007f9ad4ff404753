package learn

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/stat/distuv"

	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
)

var coarse = model.Fineness{TargetCells: 500, Across: 1}

const zeroC = 273.15

func parse(t testing.TB, yaml string) *device.File {
	t.Helper()
	f, err := device.Parse("test.yaml", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func learn(t testing.TB, yaml string) *Result {
	t.Helper()
	res, err := Learn(context.Background(), parse(t, yaml), Options{Fineness: coarse, Anchor: coarse})
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func unknown(t testing.TB, res *Result, path string) Learned {
	t.Helper()
	for _, u := range res.Unknowns {
		if u.Path == path {
			return u
		}
	}
	t.Fatalf("no unknown %q among %+v", path, res.Unknowns)
	return Learned{}
}

func within(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

func warned(res *Result, part string) bool {
	return strings.Contains(strings.Join(res.Warnings, "\n"), part)
}

// block is a cube of 20 mm that has one temperature, 16 J/K, with 20 W/(m² K) over its 24 cm²: R = 20.83 K/W.
func block(heat, more string) string {
	return fmt.Sprintf(`device: block
materials:
  stuff: {conductivity: 2000 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
finishes:
  dark: {emissivity: 0.9}
parts:
  block: {material: stuff, finish: dark, box: 20 x 20 x 20 mm, heat: %s}
boundaries:
  air: {face: block, film: 20 W/m2K, ambient: 20 °C}
conditions: {ambient: 20 °C}
%s`, heat, more)
}

const resKW = 1 / (20 * 24e-4)

// One unknown, a settled temperature: with a normal prior and a linear model the posterior is normal with
//
//	1/s² = 1/s0² + R²/σ²,   mean = p0 + s² R (y − Ta − R p0)/σ²
//
// (conjugate normal prior; Gelman et al., Bayesian Data Analysis, 3rd ed., sect. 2.5). σ is ±1 K at 90 % and the model's 0.7 K.
func TestPosteriorOfOnePower(t *testing.T) {
	for _, reads := range []float64{58, 61, 63} {
		res := learn(t, block("1.8 to 2.2 W", fmt.Sprintf("stock runs:\n  - {spots: [{at: block, after: 90 min, reads: %g °C ± 1 K}]}\n", reads)))
		s0, p0 := 0.2/z90, 2.0
		v := 1/(z90*z90) + modelSigmaK*modelSigmaK
		s := math.Sqrt(1 / (1/(s0*s0) + resKW*resKW/v))
		mean := p0 + s*s*resKW*(reads-20-resKW*p0)/v
		u := unknown(t, res, "parts.block.heat")
		within(t, "mean", u.Mid, mean, 0.002)
		// Monte Carlo: the standard error of a normal's 5 % point from n draws is 2.11 s/√n, that of its s is s/√(2n); four of them, and
		// what the model itself is off by
		n := res.Sample.LeastESS
		within(t, "low", u.Lo, mean-z90*s, 0.003+4*2.11*s/math.Sqrt(n))
		within(t, "high", u.Hi, mean+z90*s, 0.003+4*2.11*s/math.Sqrt(n))
		within(t, "narrowed", u.Narrowed, 1-s/s0, 0.01+4*s/s0/math.Sqrt(2*n))
		within(t, "prior", u.PriorHi-u.PriorLo, 0.4, 1e-9)
		within(t, "score", res.Fits[0].Score, (20+resKW*mean-reads)/math.Sqrt(v), 0.02)
		if res.Status != "converged" || len(res.Draws) != 201 || !res.Sample.Converged || n < sampleESS || res.Draws[0]["parts.block.heat"] != u.Mid {
			t.Errorf("%s, %d draws, first %v", res.Status, len(res.Draws), res.Draws[0])
		}
		// draws spread as the posterior does
		sum := 0.0
		for _, d := range res.Draws[1:] {
			sum += math.Pow(d["parts.block.heat"]-mean, 2)
		}
		within(t, "spread of the draws", math.Sqrt(sum/200), s, 0.25*s)
	}
}

// A run with a retrofit on tells of the same power through another resistance: the block milled to half its height has 16 cm² left. Both
// readings together narrow as two measurements do (conjugate normal prior; Gelman et al., Bayesian Data Analysis, 3rd ed., sect. 2.5).
func TestRetrofitRunTeachesToo(t *testing.T) {
	const milledKW = 1 / (20 * 16e-4)
	const retrofit = "retrofits:\n  flat: {changes: [{face: {part: block, side: front, depth: 10 mm}}]}\n"
	const tested = "retrofit runs:\n  - {retrofit: flat, spots: [{at: block, after: 90 min, reads: 85 °C ± 1 K}]}\n"
	const stock = "stock runs:\n  - {spots: [{at: block, after: 90 min, reads: 61 °C ± 1 K}]}\n"
	s0, p0 := 0.2/z90, 2.0
	v := 1/(z90*z90) + modelSigmaK*modelSigmaK
	for _, tc := range []struct {
		runs string
		seen map[float64]float64 // reading, °C, by resistance
	}{{tested, map[float64]float64{milledKW: 85}}, {stock + tested, map[float64]float64{resKW: 61, milledKW: 85}}} {
		res := learn(t, block("1.8 to 2.2 W", tc.runs+retrofit))
		weight, sum := 1/(s0*s0), p0/(s0*s0)
		for r, c := range tc.seen {
			weight += r * r / v
			sum += r * (c - 20) / v
		}
		u := unknown(t, res, "parts.block.heat")
		within(t, "mean", u.Mid, sum/weight, 0.003)
		within(t, "narrowed", u.Narrowed, 1-math.Sqrt(1/weight)/s0, 0.01+4/s0*math.Sqrt(1/weight)/math.Sqrt(2*res.Sample.LeastESS))
		if len(res.Fits) != len(tc.seen) || res.Fits[len(res.Fits)-1].Run != "retrofit run 1" {
			t.Errorf("fits %+v", res.Fits)
		}
		for _, f := range res.Fits {
			if math.Abs(f.Score) > 3 {
				t.Errorf("%+v", f)
			}
		}
	}
}

// lamp is a chip on a plate in a box of plastic, with a battery. Invented.
const lamp = `device: lamp
materials:
  plastic: {conductivity: 0.3 W/mK, density: 1000 kg/m3, specific heat: 1400 J/kgK}
  metal: {conductivity: 150 W/mK, density: 2700 kg/m3, specific heat: 900 J/kgK}
finishes:
  dark: {emissivity: 0.9}
parts:
  shell: {material: plastic, finish: dark, box: 40 x 50 x 16 mm, wall: 2 mm}
  plate: {material: metal, finish: dark, plate: 34 x 44 mm, thickness: 4 mm, on: shell.inside front}
  chip: {material: metal, finish: dark, plate: 12 x 12 mm, thickness: 1.5 mm, on: plate.back, heat: {on: 1.5 to 4.5 W, low: 0.6 to 1.4 W}}
  cell: {material: metal, finish: dark, box: 20 x 20 x 4 mm, on: shell.inside back}
joints:
  chip-plate: {between: [chip, plate], conductance: 500 to 8000 W/m2K}
  plate-shell: {between: [plate, shell], conductance: 80 to 500 W/m2K}
  cell-shell: {between: [cell, shell], conductance: 200 W/m2K}
mode: on
sensors:
  s: {at: chip, stops at: 75 to 95 °C}
battery: {part: cell, energy: 3 Wh, own heat: 0.03, other load: {on: 0.5 W, low: 0.2 W}}
conditions: {ambient: 22 °C, air: still, altitude: 0 m}
`

var truth = device.Values{
	"parts.chip.heat.on": 2.3, "parts.chip.heat.low": 0.8, "joints.chip-plate.conductance": 1200, "joints.plate-shell.conductance": 250,
	"sensors.s.stops at": zeroC + 81, "convection.faces": 1.05,
}

// simulated runs the lamp in 3-D at the true values.
func simulated(t testing.TB, mode string, spec session.Spec) *session.Result {
	t.Helper()
	f := parse(t, lamp)
	shape, err := model.NewShape(f, truth, coarse)
	if err != nil {
		t.Fatal(err)
	}
	m, err := shape.At(truth, nil, mode)
	if err != nil {
		t.Fatal(err)
	}
	spec.Values, spec.Workers, spec.Brief = truth, 1, true
	res, err := session.Run(context.Background(), m, spec)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// observedLamp is the lamp's file with what a run at the true values shows, without noise; trace is the logged curve.
func observedLamp(t testing.TB, path string) (f *device.File, trace Trace) {
	t.Helper()
	on := simulated(t, "on", session.Spec{Watch: []string{"shell.front centre", "plate"}})
	if on.Own.Kind != session.Stopped || on.Own.AtS < 300 || on.Own.AtS > 2400 {
		t.Fatalf("the true lamp %s after %g s", on.Own.Kind, on.Own.AtS)
	}
	low := simulated(t, "low", session.Spec{})
	if low.Own.Kind != session.BatteryEmpty {
		t.Fatalf("in its low mode the true lamp %s", low.Own.Kind)
	}
	trace.TimeS = on.TimeS
	for i := range on.Series {
		if on.Series[i].Name == "plate" {
			trace.ValueK = on.Series[i].ValueK
		}
	}
	at := 0.7 * on.Own.AtS
	yaml := lamp + fmt.Sprintf(`stock runs:
  - {name: desk, stops after: %.1f s ± 3 %%, spots: [{at: shell.front centre, after: %.1f s, reads: %.2f °C ± 1 K}, {at: chip, after: %.1f s, reads: %.2f °C ± 1 K}], log: run.csv, channels: {T1: plate}, log error: 1.5 K}
  - {name: short, still running after: %.1f s}
  - {name: night, mode: low, battery empty after: %.1f s ± 2 %%}
`, on.Own.AtS, at, valueAt(on, "shell.front centre", at)-zeroC, at, sensorAt(on, at)-zeroC, 0.8*on.Own.AtS, low.Own.AtS)
	if path == "" {
		dir := t.TempDir()
		path = filepath.Join(dir, "lamp.yaml")
		if err := os.WriteFile(filepath.Join(dir, "run.csv"), []byte("time,T1\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	f, err := device.Parse(path, []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	return f, trace
}

func sensorAt(r *session.Result, atS float64) float64 {
	c := *r
	c.Series = append([]session.Series(nil), r.Series...)
	for i := range c.Series {
		if c.Series[i].Name == "s" {
			c.Series[i].Kind = "place"
		}
	}
	return valueAt(&c, "s", atS)
}

func lampOptions(trace Trace) Options {
	return Options{Fineness: coarse, Anchor: coarse, Seed: 3, Calls: 1200, ReadLog: func(path string, columns []string) (map[string]Trace, error) {
		if filepath.Base(path) != "run.csv" || len(columns) != 1 || columns[0] != "T1" {
			return nil, fmt.Errorf("asked for %s of %s", columns, path)
		}
		return map[string]Trace{"T1": trace}, nil
	}}
}

// A sample that was cut short says how far its intervals may be off: the more the fewer draws it is worth.
func TestLooseIntervalsAreTold(t *testing.T) {
	f, trace := observedLamp(t, "")
	opt := lampOptions(trace)
	settled, err := Learn(context.Background(), f, opt)
	if err != nil {
		t.Fatal(err)
	}
	opt.Calls, opt.ESS = 400, 5000
	cut, err := Learn(context.Background(), f, opt)
	if err != nil {
		t.Fatal(err)
	}
	if s := settled.Sample; !s.Converged || warned(settled, "not settled") || !(s.Loose > 0 && s.Loose < 0.08) {
		t.Errorf("settled: %+v", s)
	}
	if s := cut.Sample; s.Converged || !warned(cut, "not settled") || !warned(cut, s.LooseOf) || !(s.Loose > settled.Sample.Loose && s.Loose <= 1) {
		t.Errorf("cut short: %+v, %q", s, cut.Warnings)
	}
}

// The standard error of a 5 % point from n draws is √(p(1-p)/n)/φ(z) = 2.11 sd/√n (order statistics of a normal, David & Nagaraja, Order
// Statistics, 2003, §2.5; from memory), over a 90 % interval of 3.29 sd.
func TestLoosest(t *testing.T) {
	s := &study{unknowns: []model.Unknown{{About: "few draws"}, {About: "parts apart"}, {About: "well known"}}}
	few := math.Sqrt(0.05*0.95/25) / distuv.UnitNormal.Prob(z90) / (2 * z90)
	for _, tc := range []struct {
		rhat, want float64
		of         string
	}{{1, few, "few draws"}, {1.2, math.Sqrt(1.2*1.2-1) / (2 * z90), "parts apart"}, {100, 1, "parts apart"}, {math.NaN(), 2.11 / (2 * z90), "parts apart"}} {
		share, of := s.loosest(&infer.Posterior{ESS: []float64{25, 1e12, 1e12}, RHat: []float64{1, tc.rhat, 1}})
		within(t, tc.of, share, tc.want, 2e-3)
		if of != tc.of {
			t.Errorf("R-hat %g: %s", tc.rhat, of)
		}
	}
}

func TestTruthIsFoundAgain(t *testing.T) {
	f, trace := observedLamp(t, "")
	res, err := Learn(context.Background(), f, lampOptions(trace))
	if err != nil {
		t.Fatal(err)
	}
	for _, u := range res.Unknowns {
		t.Logf("%-42s prior %.4g %.4g %.4g  learned %.4g %.4g %.4g", u.Path, u.PriorLo, u.PriorMid, u.PriorHi, u.Lo, u.Mid, u.Hi)
		if want, ok := truth[u.Path]; ok && !(u.Lo <= want && want <= u.Hi) {
			t.Errorf("%s: the true %g is not within %g to %g", u.Path, want, u.Lo, u.Hi)
		}
		if !(u.Lo <= u.Mid && u.Mid <= u.Hi) || u.Narrowed < 0 || u.Narrowed > 1 {
			t.Errorf("%+v", u)
		}
	}
	for _, path := range []string{"parts.chip.heat.on", "joints.chip-plate.conductance", "parts.chip.heat.low"} {
		if u := unknown(t, res, path); u.Narrowed < 0.4 {
			t.Errorf("%s was narrowed by %.2f only", path, u.Narrowed)
		}
	}
	if len(res.Fits) != 1+2+logPoints+1+2 {
		t.Errorf("%d fits", len(res.Fits))
	}
	for _, fit := range res.Fits {
		if !(math.Abs(fit.Score) < 0.5) {
			t.Errorf("%+v: that far off where the truth is within the model", fit)
		}
	}
	for _, w := range res.Warnings {
		if strings.Contains(w, "Surprise") || strings.Contains(w, "Heat may not") {
			t.Errorf("warning %q", w)
		}
	}
	if res.Runs < 30 || len(res.Covariance) != len(res.Unknowns) || res.Condition < 1 {
		t.Errorf("%d runs, %d rows of covariance, condition %g", res.Runs, len(res.Covariance), res.Condition)
	}
	again, err := Learn(context.Background(), f, lampOptions(trace))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(res, again, cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("the same seed gave another result:\n%s", diff)
	}
}

// Where the search ends, what learning goes by is what 3-D says, on the finer cells of the anchor.
func TestAnchoredResidualsAreThoseOf3D(t *testing.T) {
	f, trace := observedLamp(t, "")
	opt := lampOptions(trace)
	opt.Anchor = model.Fineness{TargetCells: 1500, Across: 1}
	opt.Workers = 2
	s, err := newStudy(f, opt)
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	if err := s.train(ctx); err != nil {
		t.Fatal(err)
	}
	z := make([]float64, len(s.unknowns))
	for i := range z {
		z[i] = 0.6 * math.Cos(float64(i))
	}
	direct := make([]float64, s.size)
	shape, err := model.NewShape(f, nil, coarse)
	if err != nil {
		t.Fatal(err)
	}
	compareDirect := func(shape *model.Shape) {
		for i, at := 0, 0; i < len(s.runs); i++ {
			o := s.runs[i].in3D(shape)
			n := o.residuals()
			if err := o.compare(ctx, s.values(z), direct[at:at+n], nil, nil); err != nil {
				t.Fatal(err)
			}
			at += n
		}
	}
	// before: the reduced model alone, on the same cells, away from where it was trained
	got := make([]float64, s.size)
	if err := s.residuals(ctx, s.values(z), got); err != nil {
		t.Fatal(err)
	}
	compareDirect(shape)
	for i := range got {
		if math.Abs(direct[i]) < 50 {
			within(t, fmt.Sprintf("reduced residual %d", i), got[i], direct[i], 0.5)
		}
	}
	if err := s.anchor(ctx, z); err != nil {
		t.Fatal(err)
	}
	if err := s.residuals(ctx, s.values(z), got); err != nil {
		t.Fatal(err)
	}
	fine, err := model.NewShape(f, nil, opt.Anchor)
	if err != nil {
		t.Fatal(err)
	}
	compareDirect(fine)
	for i := range got {
		within(t, fmt.Sprintf("anchored residual %d", i), got[i], direct[i], 1e-9)
	}
	// the fits shown are the same residuals
	r, err := Learn(ctx, f, opt)
	if err != nil {
		t.Fatal(err)
	}
	s2, err := newStudy(f, opt)
	if err != nil {
		t.Fatal(err)
	}
	at := 0
	for i := range s2.runs {
		o := s2.runs[i].in3D(fine)
		d := make([]float64, o.residuals())
		if err := o.compare(ctx, r.Best, d, nil, nil); err != nil {
			t.Fatal(err)
		}
		for k, one := range o.oneSided() {
			if k == len(d)-1 && o.spec.StopsAfter.Given() {
				continue // how flat the curve is at the stop belongs to no observation
			}
			if k >= len(d)-1-len(o.spots) && len(o.spots) > 0 {
				// temperatures are told one by one, their residuals share errors
				within(t, r.Fits[at].Run+": "+r.Fits[at].What, r.Fits[at].Score, differences(t, o, r.Best)[k-(len(d)-1-len(o.spots))], 0.1)
				at++
				continue
			}
			if one {
				d[k] = math.Max(0, d[k])
			}
			within(t, r.Fits[at].Run+": "+r.Fits[at].What, r.Fits[at].Score, d[k], 0.1)
			at++
		}
	}
}

// differences are those of a run's readings in 3-D, each in its own standard deviation.
func differences(t testing.TB, o *observed, v device.Values) []float64 {
	t.Helper()
	m, err := o.shape.At(v, &o.spec.Conditions, o.spec.Mode)
	if err != nil {
		t.Fatal(err)
	}
	res, err := o.simulate(context.Background(), m, nil, v, o.untilS(), false)
	if err != nil {
		t.Fatal(err)
	}
	d := make([]float64, len(o.spots))
	for i := range o.spots {
		d[i] = (valueAt(res, o.spots[i].place, o.spots[i].atS) - o.spots[i].readK) / o.errors.sd[i]
	}
	return d
}

func TestCensoredAlone(t *testing.T) {
	// it ran without stopping at 60 °C: P R < 40 K, P < 1.92 W; a prior far below is left alone, one above is pushed down to where
	// (P - 2)/s² + φ(r)/Φ(-r) R/σ = 0, r = (P R - 40)/σ
	sensor := "sensors: {s: {at: block, stops at: 60 °C}}\nstock runs:\n  - {still running after: 60 min}\n"
	far := learn(t, block("1.0 to 1.4 W", sensor))
	below := unknown(t, far, "parts.block.heat")
	within(t, "far below", below.Mid, 1.2, 1e-6)
	within(t, "nothing learned", below.Narrowed, 0, 4/math.Sqrt(2*far.Sample.LeastESS)) // four standard errors of the sample
	res := learn(t, block("1.6 to 2.4 W", sensor))
	above := unknown(t, res, "parts.block.heat")
	lo, hi := 1.6, 2.4
	for range 50 {
		p, r := (lo+hi)/2, ((lo+hi)/2*resKW-40)/modelSigmaK
		if (p-2)/math.Pow(0.4/z90, 2)+distuv.UnitNormal.Prob(r)/distuv.UnitNormal.CDF(-r)*resKW/modelSigmaK > 0 {
			hi = p
		} else {
			lo = p
		}
	}
	within(t, "pushed to", above.Mid, lo, 0.003)
	for _, d := range res.Draws {
		if d["parts.block.heat"] > 2.15 { // 4 standard deviations over the stop
			t.Errorf("a draw of %g W would have stopped it", d["parts.block.heat"])
		}
	}
	if f := res.Fits[0]; f.What != "still running" || f.Score < 0 || f.Score > 1 {
		t.Errorf("%+v", f)
	}
	// nothing can stop it: the statement says nothing, and no fit is off
	if r := learn(t, block("1.6 to 2.4 W", "stock runs:\n  - {still running after: 60 min}\n")); unknown(t, r, "parts.block.heat").Narrowed > 4/math.Sqrt(2*r.Sample.LeastESS) || r.Fits[0].Score != 0 {
		t.Errorf("%+v, %+v", r.Unknowns, r.Fits)
	}
}

func TestHeatIsNotTheCause(t *testing.T) {
	const device = `device: plate
materials:
  metal: {conductivity: 150 W/mK, density: 2700 kg/m3, specific heat: 900 J/kgK}
parts:
  plate: {material: metal, box: 40 x 40 x 8 mm, heat: {on: 1 to 6 W, low: 1 W}}
mode: on
sensors: {s: {at: plate, stops at: 50 to 80 °C}}
conditions: {ambient: 22 °C, air: still}
stock runs:
`
	for name, c := range map[string]struct {
		still, moving string
		warn          bool
	}{
		"same exact time":        {"{stops after: 20 min}", "{air: 3 m/s, stops after: 20 min}", true},
		"nearly":                 {"{stops after: 20 min}", "{air: 3 m/s, stops after: 21 min}", true},
		"same range":             {"{stops after: 18 to 24 min}", "{air: 3 m/s, stops after: 19 to 25 min}", true},
		"later":                  {"{stops after: 18 to 24 min}", "{air: 3 m/s, stops after: 40 to 50 min}", false},
		"later, ranges touch":    {"{stops after: 20 to 30 min}", "{air: 3 m/s, stops after: 28 to 45 min}", false},
		"never":                  {"{stops after: 18 to 24 min}", "{air: 3 m/s, still running after: 60 min}", false},
		"both still":             {"{stops after: 20 min}", "{stops after: 20 min}", false},
		"a breath":               {"{stops after: 20 min}", "{air: 0.5 m/s, stops after: 20 min}", false},
		"hotter day":             {"{stops after: 20 min}", "{air: 3 m/s, ambient: 35 °C, stops after: 20 min}", false},
		"another mode":           {"{stops after: 20 min, mode: low}", "{air: 3 m/s, stops after: 20 min}", false},
		"the same mode by name":  {"{stops after: 20 min, mode: on}", "{air: 3 m/s, stops after: 20 min}", true},
		"in the sun":             {"{stops after: 20 min}", "{air: 3 m/s, sun: 800 W/m2, stops after: 20 min}", false},
		"moving is listed first": {"{air: 3 m/s, stops after: 20 min}", "{stops after: 20 min}", true},
	} {
		s, err := newStudy(parse(t, device+"  - "+c.still+"\n  - "+c.moving+"\n"), Options{Fineness: coarse})
		if err != nil {
			t.Fatal(err)
		}
		got := s.notHeat()
		if (len(got) > 0) != c.warn {
			t.Errorf("%s: %q", name, got)
		}
		if c.warn && (len(got) != 1 || !strings.Contains(got[0], "still air") || !strings.Contains(got[0], "before cutting metal")) {
			t.Errorf("%s: %q", name, got)
		}
	}
	if r := learn(t, device+"  - {stops after: 20 min}\n  - {air: 3 m/s, stops after: 20 min}\n"); !warned(r, "Heat may not be what stops it") {
		t.Errorf("warnings %q", r.Warnings)
	}
}

// Two sources in one lump: a temperature tells their sum only.
func TestConfoundedSourcesAreNamed(t *testing.T) {
	yaml := `device: twin
materials:
  stuff: {conductivity: 2000 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
finishes:
  dark: {emissivity: 0.9}
parts:
  left: {material: stuff, finish: dark, box: 10 x 20 x 20 mm, heat: 0.5 to 1.5 W}
  right: {material: stuff, finish: dark, box: 10 x 20 x 20 mm, on: left.right, heat: 0.5 to 1.5 W}
joints: {j: {between: [left, right], conductance: 50000 W/m2K}}
boundaries:
  a: {face: left, film: 20 W/m2K, ambient: 20 °C}
  b: {face: right, film: 20 W/m2K, ambient: 20 °C}
stock runs:
  - {start: 20 °C, spots: [{at: left, after: 90 min, reads: 61.7 °C ± 0.5 K}, {at: right, after: 90 min, reads: 61.7 °C ± 0.5 K}]}
`
	res := learn(t, yaml)
	if !warned(res, "cannot tell these apart") || !warned(res, "heat of left") || !warned(res, "heat of right") {
		t.Errorf("warnings %q", res.Warnings)
	}
	sum := unknown(t, res, "parts.left.heat").Mid + unknown(t, res, "parts.right.heat").Mid
	within(t, "the sum", sum, 41.7/resKW, 0.05)
}

func TestSurpriseIsNamed(t *testing.T) {
	res := learn(t, block("1.8 to 2.2 W", "stock runs:\n  - {name: odd, spots: [{at: block, after: 90 min, reads: 61 °C ± 1 K}, {at: block, after: 80 min, reads: 75 °C ± 1 K}]}\n"))
	if !warned(res, "Surprise: in odd") || !warned(res, "75") {
		t.Errorf("warnings %q", res.Warnings)
	}
	if calm := learn(t, block("1.8 to 2.2 W", "stock runs:\n  - {spots: [{at: block, after: 90 min, reads: 61 °C ± 1 K}]}\n")); warned(calm, "Surprise") {
		t.Errorf("warnings %q", calm.Warnings)
	}
}

func TestWhatTheRunsSayNothingAboutIsDropped(t *testing.T) {
	res := learn(t, block("1.8 to 2.2 W", "sensors: {s: {at: block, stops at: 70 to 90 °C}}\nstock runs:\n  - {spots: [{at: block, after: 90 min, reads: 61 °C ± 1 K}]}\n"))
	if res.Silent != 1 || len(res.Unknowns) != 1 || res.Unknowns[0].Path != "parts.block.heat" {
		t.Errorf("%d silent, unknowns %+v", res.Silent, res.Unknowns)
	}
	if _, ok := res.Best["sensors.s.stops at"]; ok {
		t.Error("a value was chosen for what nothing was learned about")
	}
}

func TestNothingInDoubt(t *testing.T) {
	res := learn(t, block("2 W", "stock runs:\n  - {spots: [{at: block, after: 90 min, reads: 61 °C ± 1 K}]}\n"))
	if len(res.Unknowns) != 0 || len(res.Fits) != 1 || len(res.Draws) != 1 {
		t.Fatalf("%+v", res)
	}
	within(t, "score", res.Fits[0].Score, (20+2*resKW-61)/math.Hypot(1/z90, modelSigmaK), 0.02)
	if _, err := Learn(context.Background(), parse(t, block("2 W", "")), Options{}); !errors.Is(err, ErrNothing) {
		t.Errorf("without stock runs: %v", err)
	}
}

// The block cools or warms from its own start: T = Ta + (T0 - Ta) exp(-t/RC), read at the start and later.
func TestDoubtfulStart(t *testing.T) {
	later := 20 + 40*math.Exp(-200/(16*resKW))
	res := learn(t, block("0 W", fmt.Sprintf("stock runs:\n  - {start: 50 to 64 °C, spots: [{at: block, after: 0 s, reads: 60 °C ± 1 K}, {at: block, after: 200 s, reads: %.2f °C ± 1 K}]}\n", later)))
	u := unknown(t, res, "stock runs.0.start")
	if !(u.Lo < 60+zeroC && 60+zeroC < u.Hi) || u.Narrowed < 0.5 || math.Abs(u.Mid-60-zeroC) > 0.3 {
		t.Errorf("%+v", u)
	}
}

// A stop is compared when it was seen, also where readings go on after it.
func TestStopIsComparedWhenItWasSeen(t *testing.T) {
	tau := 16 * resKW
	stopS := tau * math.Log(60/(60-40.0)) // 2.88 W towards 60 K; stop at 40 K
	more := "sensors: {s: {at: block, stops at: 60 °C}}\nstock runs:\n  - {stops after: %.1f s ± 4 %%%s}\n"
	alone := learn(t, block("2.4 to 3.2 W", fmt.Sprintf(more, stopS, "")))
	after := learn(t, block("2.4 to 3.2 W", fmt.Sprintf(more, stopS, fmt.Sprintf(", spots: [{at: block, after: %.1f s, reads: %.2f °C}]", 1.03*stopS, 20+60*(1-math.Exp(-1.03*stopS/tau))))))
	for _, r := range []*Result{alone, after} {
		within(t, "power", unknown(t, r, "parts.block.heat").Mid, 60/resKW, 0.05)
		within(t, "score of the stop", r.Fits[0].Score, 0, 0.15)
		if !strings.Contains(r.Fits[0].Modelled, "min") {
			t.Errorf("modelled %q", r.Fits[0].Modelled)
		}
	}
}

func TestFirstStep(t *testing.T) {
	tau := 16 * resKW
	stepS := tau * math.Log(60/(60-30.0))
	res := learn(t, block("2.2 to 3.2 W", fmt.Sprintf("sensors: {s: {at: block, steps: [{above: 50 °C, power: 50 %%}]}}\nstock runs:\n  - {first step after: %.1f s ± 3 %%}\n", stepS)))
	within(t, "power", unknown(t, res, "parts.block.heat").Mid, 60/resKW, 0.06)
	// the prior's middle, 2.7 W, pulls: a residual r = -J z with normal priors is left at z0 J/(1 + J²)
	sigmaK := math.Hypot(30/tau*math.Hypot(0.03/z90, timeFloor)*stepS, modelSigmaK)
	sd := 0.5 / z90 // W
	j := resKW * 0.5 * sd / sigmaK
	within(t, "score", res.Fits[0].Score, (60/resKW-2.7)/sd*j/(1+j*j), 0.03)
}

// A size in doubt is cut anew for each set of values: 16 J/K in the block grow with its height, its side area too.
func TestSizeInDoubt(t *testing.T) {
	yaml := `device: bar
materials:
  stuff: {conductivity: 2000 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
finishes:
  dark: {emissivity: 0.9}
parts:
  bar: {material: stuff, finish: dark, box: 20 x 20 x %s, heat: 2 W}
boundaries:
  air: {face: bar.front, film: 100 W/m2K, ambient: 20 °C}
conditions: {ambient: 20 °C}
`
	// height 22 mm: C = 17.6 J/K, R = 25 K/W, T = 20 + 50 (1 - exp(-t/440 s))
	s := &strings.Builder{}
	for _, at := range []float64{150, 300, 500} {
		fmt.Fprintf(s, "{at: bar, after: %g s, reads: %.2f °C ± 0.5 K}, ", at, 20+50*(1-math.Exp(-at/440)))
	}
	res, err := Learn(context.Background(), parse(t, fmt.Sprintf(yaml, "18 to 24 mm")+"stock runs:\n  - {spots: ["+strings.TrimSuffix(s.String(), ", ")+"]}\n"), Options{Fineness: coarse, Anchor: coarse})
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Unknowns) != 1 || res.Unknowns[0].Dim != unit.Length.Name() {
		t.Fatalf("%+v", res.Unknowns)
	}
	u := res.Unknowns[0]
	if !(u.Lo < 0.022 && 0.022 < u.Hi) || math.Abs(u.Mid-0.022) > 0.0005 || u.Narrowed < 0.3 {
		t.Errorf("%+v", u)
	}
}

// Ctrl-C at any moment: nothing, or what there is, and always the context's error.
func TestCancel(t *testing.T) {
	f := parse(t, block("1.8 to 2.2 W", "sensors: {s: {at: block, stops at: 70 to 90 °C}}\nstock runs:\n  - {spots: [{at: block, after: 90 min, reads: 62 °C ± 1 K}]}\n"))
	nothing, something, whole := 0, 0, false
	for k := 1; k < 10_000 && !whole; k += 1 + k/8 {
		ctx, cancel := context.WithCancel(context.Background())
		calls := 0
		res, err := Learn(ctx, f, Options{Fineness: coarse, Anchor: coarse, Workers: 1, Calls: 1000, Progress: func(done, expected int) {
			if done > expected {
				t.Errorf("%d of %d", done, expected)
			}
			if calls++; calls == k {
				cancel()
			}
		}})
		cancel()
		switch {
		case err == nil:
			whole = true
			if calls >= k {
				t.Errorf("cancelled at call %d of %d, and no error", k, calls)
			}
		case !errors.Is(err, context.Canceled):
			t.Errorf("cancelled at call %d: %v", k, err)
		case res == nil:
			nothing++
			if something > 0 {
				t.Errorf("cancelled at call %d: nothing, where an earlier moment left something", k)
			}
		default:
			something++
			if len(res.Best) == 0 || len(res.Draws) == 0 || res.Best["parts.block.heat"] <= 0 || !warned(res, "Stopped early") {
				t.Errorf("cancelled at call %d: %+v", k, res)
			}
		}
	}
	if nothing == 0 || something < 3 || !whole {
		t.Errorf("%d times nothing, %d times something, finished %v", nothing, something, whole)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Learn(ctx, f, Options{Fineness: coarse}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled before: %v", err)
	}
}

func TestUnreadableLogIsNamed(t *testing.T) {
	f, _ := observedLamp(t, "")
	for name, read := range map[string]LogReader{
		"fails": func(string, []string) (map[string]Trace, error) { return nil, errors.New("line 7 is not a number") },
		"empty": func(string, []string) (map[string]Trace, error) { return map[string]Trace{}, nil },
	} {
		_, err := Learn(context.Background(), f, Options{Fineness: coarse, ReadLog: read})
		var ps device.Problems
		if !errors.As(err, &ps) || len(ps) != 1 || !strings.Contains(ps[0].What, "run.csv") || ps[0].Pos.Line == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
}
