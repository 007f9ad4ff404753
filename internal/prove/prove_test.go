package prove

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"finwright/internal/device"
	"finwright/proofs"
)

func parse(t *testing.T, name, text string) *device.File {
	t.Helper()
	f, err := device.Parse(name, []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func run(t *testing.T, f *device.File, opt Options) []Case {
	t.Helper()
	cases, err := Run(context.Background(), f, opt)
	if err != nil {
		t.Fatal(err)
	}
	if len(cases) != len(f.Expect) {
		t.Fatalf("%s: %d cases for %d expectations", f.Path, len(cases), len(f.Expect))
	}
	return cases
}

// Three fast published cases; `finwright prove` runs all of them. Their sources stand in the files.
func TestPublishedCases(t *testing.T) {
	for _, name := range []string{"nafems-t2.yaml", "composite-wall-contact.yaml", "straight-fin-thin.yaml"} {
		t.Run(name, func(t *testing.T) {
			data, err := proofs.Files.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range run(t, parse(t, name, string(data)), Options{}) {
				if !c.Pass {
					t.Errorf("%s: %g %s, published %g ± %g", c.ID, c.Value, c.Unit, c.Target, c.Tolerance)
				}
				if !(c.Moved <= settled*c.Tolerance*(1+1e-12)) {
					t.Errorf("%s: the last halving moved it by %g, of a tolerance of %g", c.ID, c.Moved, c.Tolerance)
				}
				if c.Source == "" || c.What == "" || c.Cells == 0 || c.Halvings == 0 {
					t.Errorf("%s: %+v", c.ID, c)
				}
			}
		})
	}
}

// block cools as one lump: Biot number h·L/k = 10·0.01/1000 = 1e-4. T = T∞ + ΔT·exp(-t/τ), τ = ρcV/(hA) =
// 1000·1000·0.01/10 = 1000 s with one face of six open (Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed.,
// eq. 5.6).
const block = `device: block
materials:
  lump: {conductivity: 1000 W/mK, density: 1000 kg/m3, specific heat: 1000 J/kgK}
parts:
  block: {material: lump, box: 10 x 10 x 10 mm}
grid: {largest cell: 10 mm, cells across: 1}
start: 120 °C
boundaries:
  open: {face: block.right, film: 10 W/m2K, ambient: 20 °C}
expect:
`

func TestLumpedBlock(t *testing.T) {
	e := math.Exp(-1)
	cases := run(t, parse(t, "block.yaml", block+`
  - {id: a, mean of: block, after: 1000 s, target: 56.788 °C, within: 0.02 K, source: eq. 5.6}
  - {id: b, temperature at: block.right centre, after: 1000 s, target: 329.938 K, within: 0.02 K, source: eq. 5.6}
  - {id: c, rise at: block centre, after: 1000 s, target: 36.788 K, within: 0.1 %, source: eq. 5.6}
  - {id: d, mean rise of: block, after: 500 s, target: 60.653 K, within: 0.1 %, source: eq. 5.6}
  - {id: e, highest of: block, after: 1 s, target: 119.9 °C, within: 0.01 K, source: eq. 5.6}
  - {id: f, heat through: open, after: 1000 s, target: 0.036788 W, within: 0.1 %, source: "h A times the rise"}
  - {id: g, time until: {at: block, reaches: 56.7879 °C}, target: 1000 s, within: 0.1 %, source: eq. 5.6}
  - {id: h, mean of: block, target: 20 °C, within: 0.001 K, source: steady state}
  - {id: i, time until: {at: block, reaches: 120 °C}, target: 0 s, within: 0.1 s, source: the start}
`), Options{})
	want := map[string]float64{"a": 20 + 100*e, "b": 293.15 + 100*e, "c": 100 * e, "d": 100 * math.Exp(-0.5), "e": 20 + 100*math.Exp(-0.001), "f": 0.1 * e, "g": 1000, "h": 20, "i": 0}
	units := map[string]string{"a": "°C", "b": "K", "c": "K", "d": "K", "e": "°C", "f": "W", "g": "s", "h": "°C", "i": "s"}
	for _, c := range cases {
		if !c.Pass || math.Abs(c.Value-want[c.ID]) > c.Tolerance {
			t.Errorf("%s, %s: got %g %s, want %g ± %g", c.ID, c.What, c.Value, c.Unit, want[c.ID], c.Tolerance)
		}
		if c.Unit != units[c.ID] {
			t.Errorf("%s: in %s, want %s", c.ID, c.Unit, units[c.ID])
		}
		if math.Abs(c.Balance) > 1e-6 {
			t.Errorf("%s: the energy account is open by %g", c.ID, c.Balance)
		}
	}
}

// A wrong figure fails, on either side and whatever its unit.
func TestWrongTargetsFail(t *testing.T) {
	for _, c := range run(t, parse(t, "block.yaml", block+`
  - {id: a, mean of: block, after: 1000 s, target: 57 °C, within: 0.02 K, source: wrong on purpose}
  - {id: b, mean of: block, after: 1000 s, target: 56.5 °C, within: 0.02 K, source: wrong on purpose}
  - {id: c, rise at: block centre, after: 1000 s, target: 37 K, within: 0.1 %, source: wrong on purpose}
  - {id: d, heat through: open, after: 1000 s, target: -0.036788 W, within: 0.1 %, source: wrong on purpose}
  - {id: e, time until: {at: block, reaches: 56.7879 °C}, target: 16 min, within: 0.1 %, source: wrong on purpose}
`), Options{}) {
		if c.Pass {
			t.Errorf("%s passes: %g %s for %g ± %g", c.ID, c.Value, c.Unit, c.Target, c.Tolerance)
		}
	}
}

// Cells are halved until the figure is settled, no further, and not beyond the cells allowed.
func TestRefinement(t *testing.T) {
	// a bar whose end temperature needs fine cells: cosine of the depth, from a fin's root to its tip
	const fin = `device: fin
materials:
  metal: {conductivity: 20 W/mK, density: 8000 kg/m3, specific heat: 500 J/kgK}
parts:
  fin: {material: metal, box: 40 x 10 x 1 mm}
grid: {largest cell: 40 mm, cells across: 1}
start: 20 °C
boundaries:
  root: {face: fin.left, temperature: 100 °C}
  front: {face: fin.front, film: 50 W/m2K, ambient: 20 °C}
  back: {face: fin.back, film: 50 W/m2K, ambient: 20 °C}
expect:
  - {id: tip, temperature at: fin.right centre, target: 44.0 °C, within: WITHIN, source: test}
`
	one := func(within string, opt Options) Case {
		return run(t, parse(t, "fin.yaml", strings.Replace(fin, "WITHIN", within, 1)), opt)[0]
	}
	loose, tight := one("100 K", Options{}), one("2 K", Options{})
	if loose.Halvings != 1 {
		t.Errorf("a loose figure took %d halvings", loose.Halvings)
	}
	if tight.Halvings <= loose.Halvings || tight.Cells <= loose.Cells || tight.Moved > 0.2 {
		t.Errorf("a tight figure took %d halvings and moved %g at the last", tight.Halvings, tight.Moved)
	}
	// m L = sqrt(2h/(k t))·L = sqrt(100/(20·0.001))·0.04 = 2.828; tip = 20 + 80/cosh(mL) (Incropera et al., table 3.4, case B)
	if exact := 20 + 80/math.Cosh(math.Sqrt(5000)*0.04); math.Abs(tight.Value-exact) > 0.2 {
		t.Errorf("tip at %g °C, exact %g °C", tight.Value, exact)
	}
	if c := one("0.001 K", Options{MaxCells: loose.Cells}); c.Cells > loose.Cells {
		t.Errorf("%d cells where %d are the most", c.Cells, loose.Cells)
	}
	if c := one("0.001 K", Options{MaxCells: 1}); c.Halvings != 0 || !math.IsNaN(c.Moved) {
		t.Errorf("without a halving: %+v", c)
	}
}

func TestBadExpectations(t *testing.T) {
	for name, tc := range map[string]struct{ expect, want string }{
		"never reached": {`  - {id: a, time until: {at: block, reaches: 10 °C}, target: 1 s, within: 1 s, source: x}`, "10 °C is never reached"},
		"outside":       {`  - {id: a, temperature at: 50 5 5 mm, target: 20 °C, within: 1 K, source: x}`, `expect "a"`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Run(context.Background(), parse(t, "block.yaml", block+tc.expect+"\n"), Options{})
			var problems device.Problems
			if !errors.As(err, &problems) || problems[0].Pos.Line == 0 || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("got %v", err)
			}
		})
	}
	noAmbient := strings.Replace(block, "film: 10 W/m2K, ambient: 20 °C", "temperature: 20 °C", 1) + "  - {id: a, rise at: block centre, target: 0 K, within: 1 K, source: x}\n"
	if _, err := Run(context.Background(), parse(t, "block.yaml", noAmbient), Options{}); err == nil || !strings.Contains(err.Error(), "no boundary says from which ambient") {
		t.Errorf("a rise from nowhere: %v", err)
	}
	if cases, err := Run(context.Background(), parse(t, "block.yaml", strings.TrimSuffix(block, "expect:\n")), Options{}); cases != nil || err != nil {
		t.Errorf("without expectations: %v, %v", cases, err)
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	for _, expect := range []string{"mean of: block, after: 1000 s", "mean of: block"} {
		f := parse(t, "block.yaml", block+"  - {id: a, "+expect+", target: 57 °C, within: 1 K, source: x}\n")
		if _, err := Run(ctx, f, Options{}); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", expect, err)
		}
	}
}
