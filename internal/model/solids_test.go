package model

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"finwright/internal/device"
	"finwright/internal/part"
)

// A box of 4 x 6 x 8 mm on every face of a base that fills 10..50, 20..50, 30..50 mm: corners by hand.
func TestOnEveryFace(t *testing.T) {
	for _, tc := range []struct {
		on, more string
		wantMM   [3]float64
	}{
		{"base.left", "", [3]float64{6, 32, 36}},
		{"base.right", "", [3]float64{50, 32, 36}},
		{"base.bottom", "", [3]float64{28, 14, 36}},
		{"base.top", "", [3]float64{28, 50, 36}},
		{"base.back", "", [3]float64{28, 32, 22}},
		{"base.front", "", [3]float64{28, 32, 50}},
		{"base.inside left", "", [3]float64{12, 32, 36}},
		{"base.inside right", "", [3]float64{44, 32, 36}},
		{"base.inside bottom", "", [3]float64{28, 22, 36}},
		{"base.inside top", "", [3]float64{28, 42, 36}},
		{"base.inside back", "", [3]float64{28, 32, 32}},
		{"base.inside front", "", [3]float64{28, 32, 40}},
		// offsets go along the face's two axes in the order x, y, z; gaps away from it
		{"base.left", "offset: 1 x -2 mm, gap: 0.5 mm", [3]float64{5.5, 33, 34}},
		{"base.top", "offset: 1 x -2 mm, gap: 0.5 mm", [3]float64{29, 50.5, 34}},
		{"base.front", "offset: 1 x -2 mm, gap: 0.5 mm", [3]float64{29, 30, 50.5}},
		{"base.inside front", "offset: 1 x -2 mm, gap: 0.5 mm", [3]float64{29, 30, 39.5}},
		{"base.inside bottom", "gap: 0.5 mm", [3]float64{28, 22.5, 36}},
	} {
		t.Run(tc.on+" "+tc.more, func(t *testing.T) {
			more := ""
			if tc.more != "" {
				more = ", " + tc.more
			}
			f := parse(t, fmt.Sprintf("device: d\nparts:\n  base: {material: ABS, box: 40 x 30 x 20 mm, at: 10 20 30 mm, wall: 2 mm}\n  it: {material: ABS, box: 4 x 6 x 8 mm, on: %s%s}\n", tc.on, more))
			ps, err := solids(f, nil)
			if err != nil {
				t.Fatal(err)
			}
			b := ps[1].solid.Bounds()
			for a, size := range [3]float64{4, 6, 8} {
				within(t, "corner along "+"xyz"[a:a+1], b.Min[a]*1e3, tc.wantMM[a], 1e-9)
				within(t, "far corner along "+"xyz"[a:a+1], b.Max[a]*1e3, tc.wantMM[a]+size, 1e-9)
			}
		})
	}
}

// Every kind of solid: where it lies, and its volume from school geometry, mm and mm³.
func TestKindsOfSolid(t *testing.T) {
	const base = "device: d\nparts:\n  base: {material: ABS, box: 40 x 30 x 20 mm, at: 10 20 30 mm}\n"
	for _, tc := range []struct {
		name, spec string
		min, max   [3]float64
		volume     float64
	}{
		{"plate on a side", "plate: 10 x 6 mm, thickness: 2 mm, on: base.left", [3]float64{8, 30, 37}, [3]float64{10, 40, 43}, 120},
		{"plate with a normal", "plate: 10 x 6 mm, thickness: 2 mm, normal: y, at: 1 2 3 mm", [3]float64{1, 2, 3}, [3]float64{11, 4, 9}, 120},
		{"bar", "cylinder: {diameter: 6 mm, length: 10 mm, along: y}, on: base.top", [3]float64{27, 50, 37}, [3]float64{33, 60, 43}, math.Pi / 4 * 36 * 10},
		{"can", "cylinder: {diameter: 6 mm, length: 10 mm, along: x}, wall: 1 mm, on: base.right", [3]float64{50, 32, 37}, [3]float64{60, 38, 43}, math.Pi / 4 * (36*10 - 16*8)},
		{"tube", "tube: {diameter: 6 mm, inner: 4 mm, length: 10 mm, along: z}, on: base.front", [3]float64{27, 32, 50}, [3]float64{33, 38, 60}, math.Pi / 4 * 20 * 10},
		{"hollow box", "box: 10 x 8 x 6 mm, wall: 1 mm, on: base.back", [3]float64{25, 31, 24}, [3]float64{35, 39, 30}, 10*8*6 - 8*6*4},
		{"fins on a front", "fin block: {base: 20 x 16 mm, base thickness: 2 mm, fins: 4, fin height: 6 mm, fin thickness: 1 mm, fins along: y}, on: base.front",
			[3]float64{20, 27, 50}, [3]float64{40, 43, 58}, 20*16*2 + 4*1*16*6},
		{"fins on a left", "fin block: {base: 20 x 16 mm, base thickness: 2 mm, fins: 5, fin height: 6 mm, fin thickness: 1 mm, fins along: z}, on: base.left",
			[3]float64{2, 25, 32}, [3]float64{10, 45, 48}, 20*16*2 + 5*1*16*6},
		{"box cut", "box: 10 x 8 x 6 mm, cuts: [{box: 3 x 8 x 2 mm, at: 0 0 4 mm}], on: base.front", [3]float64{25, 31, 50}, [3]float64{35, 39, 56}, 480 - 48},
		{"hole right through", "box: 10 x 8 x 6 mm, cuts: [{hole: 4 mm, through: z, at: 5 4 0 mm}], on: base.front", [3]float64{25, 31, 50}, [3]float64{35, 39, 56}, 480 - math.Pi/4*16*6},
		{"blind hole", "box: 10 x 8 x 6 mm, cuts: [{hole: 4 mm, through: z, depth: 2 mm, at: 5 4 4 mm}], on: base.front", [3]float64{25, 31, 50}, [3]float64{35, 39, 56}, 480 - math.Pi/4*16*2},
		// turned by a right angle about its own middle (30, 35, 53): 10 x 8 becomes 8 x 10
		{"turned", "box: 10 x 8 x 6 mm, turn: {by: 90 deg, about: z}, on: base.front", [3]float64{26, 30, 50}, [3]float64{34, 40, 56}, 480},
	} {
		t.Run(tc.name, func(t *testing.T) {
			ps, err := solids(parse(t, base+"  it: {material: ABS, "+tc.spec+"}\n"), nil)
			if err != nil {
				t.Fatal(err)
			}
			b := ps[1].solid.Bounds()
			for a := range b.Min {
				within(t, "from along "+"xyz"[a:a+1], b.Min[a]*1e3, tc.min[a], 1e-6)
				within(t, "to along "+"xyz"[a:a+1], b.Max[a]*1e3, tc.max[a], 1e-6)
			}
			near(t, "volume", ps[1].solid.VolumeM3()*1e9, tc.volume, 1e-9)
		})
	}
}

// The fins of a block on a left side must point away from it: its base touches, its tips stand in the air.
func TestFinsPointAway(t *testing.T) {
	ps, err := solids(parse(t, `device: d
parts:
  base: {material: ABS, box: 40 x 30 x 20 mm, at: 10 20 30 mm}
  fins: {material: ABS, fin block: {base: 20 x 16 mm, base thickness: 2 mm, fins: 5, fin height: 6 mm, fin thickness: 1 mm, fins along: z}, on: base.left}
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	between := 25e-3 + 1e-3 + 1e-3 // y in the first channel: fins of 1 mm, gaps of (20 - 5)/4 mm
	if !ps[1].solid.Contains(part.Vec{9e-3, between, 40e-3}) || ps[1].solid.Contains(part.Vec{5e-3, between, 40e-3}) {
		t.Error("the base is not at the face, or there is matter between the fins")
	}
	if !ps[1].solid.Contains(part.Vec{5e-3, 25.5e-3, 40e-3}) {
		t.Error("no fin at the edge of the base")
	}
}

// A hole's place is its centre, counted from the part's corner.
func TestHoleIsAtItsCentre(t *testing.T) {
	ps, err := solids(parse(t, "device: d\nparts:\n  it: {material: ABS, box: 10 x 8 x 6 mm, at: 1 1 1 mm, cuts: [{hole: 4 mm, through: y, depth: 3 mm, at: 6 5 2.5 mm}]}\n"), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		mm   [3]float64
		void bool
	}{
		{[3]float64{7, 7, 3.5}, true}, {[3]float64{5.1, 7, 3.5}, true}, {[3]float64{8.9, 7, 3.5}, true}, {[3]float64{7, 7, 5.4}, true}, {[3]float64{7, 8.9, 1.6}, true},
		{[3]float64{4.9, 7, 3.5}, false}, {[3]float64{9.1, 7, 3.5}, false}, {[3]float64{7, 5.9, 3.5}, false}, {[3]float64{7, 7, 5.6}, false},
	} {
		if ps[0].solid.Contains(part.Vec{tc.mm[0] * 1e-3, tc.mm[1] * 1e-3, tc.mm[2] * 1e-3}) == tc.void {
			t.Errorf("matter at %v mm is %v", tc.mm, !tc.void)
		}
	}
}

// A part that a retrofit puts on a milled side lies deeper by what was milled off, and touches.
func TestOnMilledSide(t *testing.T) {
	f := parse(t, `device: d
parts:
  shell: {material: ABS, box: 40 x 30 x 20 mm, wall: 2 mm}
retrofits:
  outside:
    changes:
      - face: {part: shell, side: front, depth: 0.5 mm}
      - add: {plate: {material: aluminium 6061, plate: 20 x 10 mm, thickness: 1 mm, on: shell.front}}
  below:
    changes:
      - face: {part: shell, side: left, depth: 0.5 mm}
      - face: {part: shell, side: left, depth: 0.3 mm}
      - add: {plate: {material: aluminium 6061, plate: 20 x 10 mm, thickness: 1 mm, on: shell.left}}
`)
	for name, want := range map[string]struct {
		axis int
		mm   float64
		m3   float64
	}{"outside": {2, 19.5, 40 * 30 * 0.5e-9}, "below": {0, -0.2, 30 * 20 * 0.8e-9}} {
		v, _, err := f.Variant(name)
		if err != nil {
			t.Fatal(err)
		}
		s, err := NewShape(v, nil, small)
		if err != nil {
			t.Fatal(name, err)
		}
		within(t, name, s.solids[1].min[want.axis]*1e3, want.mm, 1e-9)
		near(t, name+": shell volume", s.Grid.BodyVolumeM3(0), (40*30*20-36*26*16)*1e-9-want.m3, 1e-6)
		c, ok := s.contact(0, 1)
		if !ok {
			t.Fatal(name, "does not touch")
		}
		near(t, name+": contact", c.AreaM2, 200e-6, 1e-6)
	}
}

// Masses and capacities by hand: a stated density and specific heat, and a part on the scale.
func TestMassesAndCapacities(t *testing.T) {
	m := build(t, `device: d
materials:
  stuff: {conductivity: 10 W/mK, density: 2000 kg/m3, specific heat: 500 J/kgK}
parts:
  base: {material: stuff, box: 40 x 30 x 20 mm}
  bar: {material: stuff, cylinder: {diameter: 12 mm, length: 15 mm, along: z}, on: base.front}
  weighed: {material: stuff, box: 10 x 10 x 10 mm, mass: 3 g, on: base.top}
  sunk: {material: stuff, box: 10 x 10 x 10 mm, at: 0 0 0 mm}
`, nil)
	for _, tc := range []struct {
		part                  int
		massG, capJK, library float64
		tol                   float64
	}{
		{0, 46, 23, 0, 1e-6}, // 24 cm³ less the 1 cm³ that the later part takes
		{1, 2000e3 * math.Pi / 4 * 12 * 12 * 15e-9, 2000 * 500 * math.Pi / 4 * 12 * 12 * 15e-9, 0, 0.005}, // sampled cells
		{2, 3, 1.5, 2, 1e-6},
		{3, 2, 1, 0, 1e-6},
	} {
		p := m.Parts[tc.part]
		near(t, p.Name+" mass", p.MassKg*1e3, tc.massG, tc.tol)
		near(t, p.Name+" capacity", p.CapacityJK, tc.capJK, tc.tol)
		within(t, p.Name+" by the library", p.LibraryKg*1e3, tc.library, 1e-6)
	}
	cells, parts := 0.0, 0.0
	for _, c := range m.Heat.CapJK {
		cells += c
	}
	for _, p := range m.Parts {
		parts += p.CapacityJK
	}
	near(t, "capacity of all cells", cells, parts, 1e-6)
}

// Cells that several bodies share hold each one's share of heat, and conduct as their bodies do, whatever part of them is void.
func TestSharedCells(t *testing.T) {
	m := build(t, `device: d
materials:
  heavy: {conductivity: 100 W/mK, density: 8000 kg/m3, specific heat: 500 J/kgK}
  light: {conductivity: 100 W/mK, density: 1000 kg/m3, specific heat: 1000 J/kgK}
parts:
  base: {material: light, box: 40 x 30 x 20 mm, turn: {by: 20 deg, about: y}}
  pin: {material: heavy, cylinder: {diameter: 9 mm, length: 40 mm, along: x}, at: 0 10 5 mm}
`, nil)
	g := m.Shape.Grid
	if len(g.Mixed) == 0 {
		t.Fatal("no shared cells")
	}
	cells, withVoid := 0.0, 0
	for c, capJK := range m.Heat.CapJK {
		cells += capJK
		if capJK == 0 {
			continue
		}
		if len(g.Shares(c)) > 1 && g.Solid[c] < 0.95 {
			withVoid++
		}
		for a := range m.kWmK {
			if k := m.kWmK[a][c]; math.Abs(k-100) > 1e-4 {
				t.Fatalf("cell %d conducts %g W/(m K)", c, k)
			}
		}
	}
	if withVoid == 0 {
		t.Fatal("no cell is shared by both and the outside")
	}
	near(t, "capacity of all cells", cells, m.Parts[0].CapacityJK+m.Parts[1].CapacityJK, 1e-6)
	// the later part is whole: π/4 d² L
	near(t, "pin", m.Parts[1].CapacityJK, 8000*500*math.Pi/4*81*40e-9, 0.01)
}

func TestPlacingRefused(t *testing.T) {
	const base = "device: d\nparts:\n  base: {material: ABS, box: 40 x 30 x 20 mm}\n"
	for _, tc := range []struct {
		name, more string
		line       int
		say        []string
	}{
		{"touches nothing", "  it: {material: ABS, box: 4 x 4 x 4 mm, at: 43.5 10 10 mm}\n", 4, []string{`"it" touches no other part`, "3.50 mm", "base"}},
		{"gap", "  it: {material: ABS, box: 4 x 4 x 4 mm, on: base.top, gap: 0.25 mm}\n", 4, []string{"touches no other part", "0.25 mm"}},
		{"joint over a gap", "  it: {material: ABS, box: 4 x 4 x 4 mm, on: base.top}\n  far: {material: ABS, box: 4 x 4 x 4 mm, on: it.top}\njoints:\n  j: {between: [base, far], conductance: 100 W/m2K}\n", 7,
			[]string{`joint "j"`, "do not touch", "4.00 mm"}},
		{"buried", "  it: {material: ABS, box: 4 x 4 x 4 mm, at: 5 5 5 mm}\n  over: {material: ABS, box: 40 x 30 x 19 mm}\n", 4, []string{`"it"`, "nothing is left"}},
		{"unknown face", "  it: {material: ABS, box: 4 x 4 x 4 mm, on: base.upper}\n", 4, []string{"upper"}},
		{"no inside", "  it: {material: ABS, box: 4 x 4 x 4 mm, on: base.inside top}\n", 4, []string{"no inside"}},
		{"later part", "  it: {material: ABS, box: 4 x 4 x 4 mm, on: next.top}\n  next: {material: ABS, box: 4 x 4 x 4 mm, on: base.top}\n", 4, []string{"next"}},
		{"on and at", "  it: {material: ABS, box: 4 x 4 x 4 mm, on: base.top, at: 0 0 0 mm}\n", 4, []string{"both", "on", "at"}},
		{"fins along their own direction", "  it: {material: ABS, fin block: {base: 20 x 16 mm, base thickness: 2 mm, fins: 4, fin height: 6 mm, fin thickness: 1 mm, fins along: y}, on: base.top}\n", 4, []string{"along y"}},
		{"patch of no face", "boundaries:\n  b: {face: base, patch: 4 x 4 mm, temperature: 20 °C}\n", 5, []string{"patch", "face"}},
		{"pressure on plastic", "  it: {material: ABS, box: 4 x 4 x 4 mm, on: base.top}\njoints:\n  j: {between: [base, it], pressure: 100 kPa}\n", 6, []string{"metal"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			ps := refused(t, base+tc.more)
			at := slices.IndexFunc(ps, func(p device.Problem) bool { return p.Pos.Line == tc.line })
			if at < 0 {
				t.Fatalf("no problem at line %d: %v", tc.line, ps)
			}
			text := ps[at].What + " / " + ps[at].Want + " / " + ps[at].Hint
			for _, s := range tc.say {
				if !strings.Contains(text, s) {
					t.Errorf("%q does not say %q", text, s)
				}
			}
		})
	}
}
