package grid_test

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"finwright/internal/grid"
	"finwright/internal/part"
	"pgregory.net/rapid"
)

const mm = 1e-3

func must(s part.Solid, err error) part.Solid {
	if err != nil {
		panic(err)
	}
	return s
}

// box takes millimetres.
func box(x, y, z, dx, dy, dz float64) part.Solid {
	return must(part.NewBox(part.Vec{x * mm, y * mm, z * mm}, part.Vec{dx * mm, dy * mm, dz * mm}))
}

func hollow(x, y, z, dx, dy, dz, wall float64) part.Solid {
	return must(part.NewHollow(part.Vec{x * mm, y * mm, z * mm}, part.Vec{dx * mm, dy * mm, dz * mm}, wall*mm))
}

func build(t testing.TB, opt grid.Options, s ...part.Solid) *grid.Grid {
	t.Helper()
	g, err := grid.Build(s, opt)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func near(t reporter, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: got %.9g, want %.9g (off by %.2g of it, %.2g allowed)", what, got, want, math.Abs(got-want)/math.Abs(want), rel)
	}
}

func exposed(g *grid.Grid, body int) (area float64) {
	for _, e := range g.Exposed {
		if int(e.Body) == body {
			area += e.AreaM2
		}
	}
	return area
}

// checkSound is what must hold of every grid.
func checkSound(t reporter, g *grid.Grid, opt grid.Options) {
	t.Helper()
	n := g.NX * g.NY * g.NZ
	outside, domain := 0.0, 1.0
	for a, p := range [][]float64{g.X, g.Y, g.Z} {
		domain *= p[len(p)-1] - p[0]
		for i := 1; i < len(p); i++ {
			if p[i] <= p[i-1] {
				t.Fatalf("planes of axis %d do not rise: %v", a, p)
			}
		}
	}
	for c := 0; c < n; c++ {
		if (g.Owner[c] < 0) != (g.Solid[c] == 0) || g.Solid[c] > 1 {
			t.Fatalf("cell %d: owner %d with active share %g", c, g.Owner[c], g.Solid[c])
		}
		outside += g.Volume(c) * (1 - float64(g.Solid[c]))
		if got, ok := g.Locate(g.Centre(c)); !ok || got != c {
			t.Fatalf("the middle of cell %d is found in %d", c, got)
		}
		if sh := g.Shares(c); sh != nil {
			sum := 0.0
			for _, s := range sh {
				if int(s.Cell) != c {
					t.Fatalf("cell %d has a share of cell %d", c, s.Cell)
				}
				sum += s.Frac
			}
			near(t, "shares of a cell", sum, float64(g.Solid[c]), 1e-6)
		}
		at := g.IJK(c)
		for a, stride := range []int{1, g.NX, g.NX * g.NY} {
			last := at[a] == []int{g.NX, g.NY, g.NZ}[a]-1
			o := g.Open[a][c]
			if o < 0 || o > 1 || o > 0 && (last || g.Owner[c] < 0 || g.Owner[c+stride] < 0) {
				t.Fatalf("cell %d, axis %d: aperture %g", c, a, o)
			}
		}
	}
	sum := outside
	for b := 0; b < g.AirBase+len(g.Regions); b++ {
		sum += g.BodyVolumeM3(b)
	}
	near(t, "bodies, air and outside together", sum, domain, 1e-6) // Solid is float32
	for i, e := range g.Exposed {
		if e.AreaM2 <= 0 || g.Owner[e.Cell] < 0 || int(e.Body) >= g.AirBase || e.DistM < 0 {
			t.Fatalf("element %d: %+v", i, e)
		}
		near(t, "length of a normal", math.Sqrt(e.Normal[0]*e.Normal[0]+e.Normal[1]*e.Normal[1]+e.Normal[2]*e.Normal[2]), 1, 1e-12)
	}
}

func TestPlateOneCellThick(t *testing.T) {
	opt := grid.Options{Across: 1, MaxCellM: 5 * mm}
	g := build(t, opt, box(0, 0, 0, 40, 30, 1))
	checkSound(t, g, opt)
	if g.NX != 8 || g.NY != 6 || g.NZ != 1 {
		t.Fatalf("%d x %d x %d cells", g.NX, g.NY, g.NZ)
	}
	near(t, "volume", g.BodyVolumeM3(0), 40*30*1*1e-9, 1e-12)
	near(t, "surface", exposed(g, 0), 2*(40*30+40+30)*1e-6, 1e-12)
}

func TestAcrossAndGrowth(t *testing.T) {
	for _, growth := range []float64{1.5, 1.7, 2} {
		for _, across := range []int{1, 2, 3} {
			opt := grid.Options{Across: across, GrowthMax: growth, MaxCellM: 6 * mm}
			g := build(t, opt, hollow(0, 0, 0, 60, 90, 22, 1.5), box(1.5, 1.5, 18.7, 57, 87, 1.8), box(20, 50, 17.5, 14, 14, 1.2), box(5, 8, 1.5, 36, 60, 6.35))
			checkSound(t, g, opt)
			for a, p := range [][]float64{g.X, g.Y, g.Z} {
				for i := 1; i < len(p)-1; i++ {
					l, r := p[i]-p[i-1], p[i+1]-p[i]
					if q := math.Max(l/r, r/l); q > growth*(1+1e-6) {
						t.Errorf("growth %g across %d: axis %d: cells of %.4g and %.4g mm are neighbours (%.3g)", growth, across, a, l/mm, r/mm, q)
					}
					if math.Max(l, r) > opt.MaxCellM*(1+1e-9) {
						t.Errorf("a cell of %g mm", math.Max(l, r)/mm)
					}
				}
			}
			// cells across the plate, 18.7 to 20.5
			lo, _ := g.Index(2, 18.7001*mm)
			hi, _ := g.Index(2, 20.4999*mm)
			if hi-lo+1 < across {
				t.Errorf("%d cells across the plate, %d wanted", hi-lo+1, across)
			}
		}
	}
}

func TestLaterCutsEarlier(t *testing.T) {
	opt := grid.Options{MaxCellM: 3 * mm}
	g := build(t, opt, box(0, 0, 0, 20, 20, 20), box(5, 5, 10, 10, 10, 10))
	checkSound(t, g, opt)
	near(t, "block", g.BodyVolumeM3(0), (8000-1000)*1e-9, 1e-12)
	near(t, "inlay", g.BodyVolumeM3(1), 1000e-9, 1e-12)
	near(t, "exposed inlay", exposed(g, 1), 100e-6, 1e-12)
	near(t, "exposed block", exposed(g, 0), (6*400-100)*1e-6, 1e-12)
	c := g.Touch()
	if len(c) != 1 || c[0].A != 0 || c[0].B != 1 {
		t.Fatalf("contacts %+v", c)
	}
	near(t, "contact", c[0].AreaM2, (100+4*100)*1e-6, 1e-12)
	near(t, "contact of faces", c[0].FacesM2, 500e-6, 1e-12)
	cell, ok := g.Locate(part.Vec{10 * mm, 10 * mm, 15 * mm})
	if !ok || g.Owner[cell] != 1 {
		t.Errorf("the inlay is not where it should be")
	}
}

func TestLShape(t *testing.T) {
	l := must(part.Cut(box(0, 0, 0, 30, 20, 10), box(10, 10, -1, 40, 40, 12)))
	opt := grid.Options{}
	g := build(t, opt, l)
	checkSound(t, g, opt)
	near(t, "volume", g.BodyVolumeM3(0), (30*20-20*10)*10*1e-9, 1e-12)
	// an L has the perimeter of its bounding rectangle
	near(t, "surface", exposed(g, 0), (2*(30*20-20*10)+2*(30+20)*10)*1e-6, 1e-12)
	if len(g.Regions) != 0 {
		t.Errorf("%d sealed regions", len(g.Regions))
	}
}

func TestSealedAir(t *testing.T) {
	opt := grid.Options{MaxCellM: 4 * mm}
	shell := hollow(0, 0, 0, 60, 40, 20, 2)
	plate := box(2, 2, 10, 56, 36, 2)
	g := build(t, opt, shell, plate)
	checkSound(t, g, opt)
	if len(g.Regions) != 2 {
		t.Fatalf("a plate across the cavity makes two regions, not %d", len(g.Regions))
	}
	near(t, "lower air", g.Regions[0].VolumeM3, 56*36*8*1e-9, 1e-12)
	near(t, "upper air", g.Regions[1].VolumeM3, 56*36*6*1e-9, 1e-12)
	near(t, "exposed", exposed(g, 0)+exposed(g, 1), 2*(60*40+60*20+40*20)*1e-6, 1e-12)
	runs, lo, hi := g.AirRuns(2)
	c, _ := g.Locate(part.Vec{30 * mm, 20 * mm, 5 * mm})
	if lo[c] != 0 || hi[c] != 1 {
		t.Errorf("air between bodies %d and %d", lo[c], hi[c])
	}
	near(t, "air column", float64(runs[c]), 8*mm, 1e-6)
	for i := range runs {
		if (runs[i] > 0) != (int(g.Owner[i]) >= g.AirBase) {
			t.Fatalf("cell %d of owner %d has an air column of %g", i, g.Owner[i], runs[i])
		}
	}
	var air float64
	for _, c := range g.Touch() {
		if c.A == 1 && c.B >= g.AirBase {
			air += c.AreaM2
		}
	}
	near(t, "plate to air", air, 2*56*36*1e-6, 1e-12)

	// a smaller plate leaves one region; a hole in the shell opens it
	g = build(t, opt, shell, box(2, 2, 10, 50, 36, 2))
	if len(g.Regions) != 1 {
		t.Errorf("%d regions where the plate leaves a gap", len(g.Regions))
	}
	drilled := must(part.Cut(shell, box(28, 18, -1, 3, 3, 4)))
	g = build(t, opt, drilled, plate)
	checkSound(t, g, opt)
	if len(g.Regions) != 1 {
		t.Fatalf("%d regions with a hole in the back", len(g.Regions))
	}
	near(t, "what stays sealed", g.Regions[0].VolumeM3, 56*36*6*1e-9, 1e-12)
}

func TestTubeIsOpen(t *testing.T) {
	frame := must(part.Cut(box(0, 0, 0, 20, 20, 30), box(2, 2, -1, 16, 16, 40)))
	g := build(t, grid.Options{}, frame)
	if len(g.Regions) != 0 {
		t.Errorf("an open tube holds sealed air")
	}
	near(t, "surface", exposed(g, 0), (4*20*30+4*16*30+2*(400-256))*1e-6, 1e-12)
}

func TestFinBlock(t *testing.T) {
	p := part.FinBlockParams{Min: part.Vec{1 * mm, 2 * mm, 3 * mm}, BaseM: [2]float64{50 * mm, 80 * mm}, BaseThicknessM: 3 * mm,
		Count: 11, HeightM: 12 * mm, FinThicknessM: 1.2 * mm, Along: 1, OutAxis: 2, OutSign: 1}
	opt := grid.Options{}
	g := build(t, opt, must(part.NewFinBlock(p)))
	checkSound(t, g, opt)
	near(t, "volume", g.BodyVolumeM3(0), (50*80*3+11*1.2*12*80)*1e-9, 1e-12)
	// base bottom, four base sides, floors and tips (together the base's outline), fin sides, fin ends
	want := 50.*80 + 2*(50+80)*3 + 50*80 + 11*2*12*80 + 11*2*12*1.2
	near(t, "surface", exposed(g, 0), want*1e-6, 1e-12)
	gap := (50 - 11*1.2) / 10.0
	inner := 0.0
	for i := range g.Exposed {
		e := &g.Exposed[i]
		w, b, ok := g.FacingGap(e)
		if e.Axis == 0 && e.Centre[2] > 6*mm && e.Centre[0] > 1.1*mm && e.Centre[0] < 50.9*mm {
			if !ok || b != 0 {
				t.Fatalf("a channel wall at %v faces nothing", e.Centre)
			}
			near(t, "channel", w, gap*mm, 1e-9)
			inner += e.AreaM2
		} else if ok {
			t.Fatalf("an element at %v, side %d%+d faces something at %g", e.Centre, e.Axis, e.Sign, w)
		}
	}
	near(t, "channel walls", inner, 20*12*80*1e-6, 1e-12)
}

func TestRefineHalves(t *testing.T) {
	s := []part.Solid{hollow(0, 0, 0, 30, 20, 10, 1), box(1, 1, 1, 10, 10, 2)}
	g0 := build(t, grid.Options{Across: 1}, s...)
	g1 := build(t, grid.Options{Across: 1, Refine: 1}, s...)
	checkSound(t, g1, grid.Options{})
	for a, p := range [][]float64{g0.X, g0.Y, g0.Z} {
		q := [][]float64{g1.X, g1.Y, g1.Z}[a]
		if len(q) != 2*len(p)-1 {
			t.Fatalf("axis %d: %d planes become %d", a, len(p), len(q))
		}
		for i := range p {
			if q[2*i] != p[i] {
				t.Fatalf("plane %d moved", i)
			}
			if i > 0 {
				near(t, "half", q[2*i]-q[2*i-1], (p[i]-p[i-1])/2, 1e-9)
			}
		}
	}
	near(t, "surface", exposed(g1, 0), exposed(g0, 0), 1e-12)
}

func TestSnap(t *testing.T) {
	const snap = 0.02
	for _, tc := range []struct {
		name    string
		s       []part.Solid
		touches int
	}{
		{"a hair between two plates", []part.Solid{box(0, 0, 0, 40, 30, 1), box(5, 5, 1.01, 20, 20, 0.8)}, 1},
		{"a hair between a thin plate and a thick one", []part.Solid{box(0, 0, 0, 40, 30, 0.8), box(5, 5, 0.81, 20, 20, 3)}, 1},
		{"a hair of overlap", []part.Solid{box(0, 0, 0, 40, 30, 1), box(5, 5, 0.99, 20, 20, 0.8)}, 1},
		{"two blocks of nearly one height", []part.Solid{box(0, 0, 0, 40, 30, 1), box(5, 5, 1, 10, 10, 0.8), box(20, 5, 1, 10, 10, 0.81)}, 2},
		{"nearly flush sides", []part.Solid{box(0, 0, 0, 40, 30, 1), box(0.01, -0.01, 1, 40, 30, 0.8)}, 1},
		{"a chain of planes", []part.Solid{box(0, 0, 0, 40, 30, 1), box(0, 0, 1, 10, 10, 1.012), box(10, 0, 1, 10, 10, 1), box(20, 0, 1, 10, 10, 1.024), box(30, 0, 1, 10, 10, 1.036)}, 7},
		{"plate in a shell with a hair of air", []part.Solid{hollow(0, 0, 0, 40, 30, 12, 1), box(1.01, 1.01, 1.01, 37.98, 27.98, 1.5)}, 1},
	} {
		opt := grid.Options{SnapM: snap * mm}
		g := build(t, opt, tc.s...)
		checkSound(t, g, opt)
		for a, p := range [][]float64{g.X, g.Y, g.Z} {
			for i := 1; i < len(p); i++ {
				if p[i]-p[i-1] < snap*mm*(1-1e-9) {
					t.Errorf("%s: a cell of %.4g mm along axis %d", tc.name, (p[i]-p[i-1])/mm, a)
				}
			}
		}
		for b, s := range tc.s {
			want := s.VolumeM3()
			for _, later := range tc.s[b+1:] { // what later ones cut away, all boxes here
				if tc.name == "plate in a shell with a hair of air" {
					break
				}
				v := 1.0
				for a := 0; a < 3; a++ {
					x, y := s.Bounds(), later.Bounds()
					v *= math.Max(0, math.Min(x.Max[a], y.Max[a])-math.Max(x.Min[a], y.Min[a]))
				}
				want -= v
			}
			near(t, fmt.Sprintf("%s: volume of %d", tc.name, b), g.BodyVolumeM3(b), want, 0.01)
		}
		n := 0
		for _, c := range g.Touch() {
			if c.B < g.AirBase {
				n++
				if c.AreaM2 < 5e-6 {
					t.Errorf("%s: contact %+v", tc.name, c)
				}
			}
		}
		if n != tc.touches {
			t.Errorf("%s: %d contacts, %d expected: %+v", tc.name, n, tc.touches, g.Touch())
		}
	}
}

func TestSymmetry(t *testing.T) {
	g := build(t, grid.Options{}, hollow(-30, -45, -11, 60, 90, 22, 2), box(-7, -7, -9, 14, 14, 2), box(-20, -30, -7, 40, 60, 1.2))
	for a, p := range [][]float64{g.X, g.Y} {
		for i := range p {
			if d := p[i] + p[len(p)-1-i]; math.Abs(d) > 1e-12 {
				t.Errorf("axis %d: plane %d has no mirror image (%g)", a, i, d)
			}
		}
	}
	for c := range g.Owner {
		at := g.IJK(c)
		m := (at[2]*g.NY+g.NY-1-at[1])*g.NX + g.NX - 1 - at[0]
		if g.Owner[c] != g.Owner[m] {
			t.Fatalf("cell %d and its mirror image have owners %d and %d", c, g.Owner[c], g.Owner[m])
		}
	}
}

func TestDeterministic(t *testing.T) {
	s := []part.Solid{hollow(0, 0, 0, 40, 30, 12, 1), box(1.01, 1.01, 1.01, 20, 20, 1.5),
		must(part.NewCylinder(part.Vec{5 * mm, 5 * mm, 2.51 * mm}, 8*mm, 5*mm, 2)), must(part.Turned(box(20, 10, 3, 8, 8, 2), 0.4, 2))}
	a, b := build(t, grid.Options{}, s...), build(t, grid.Options{}, s...)
	if !reflect.DeepEqual(a.Owner, b.Owner) || !reflect.DeepEqual(a.Exposed, b.Exposed) || !reflect.DeepEqual(a.Mixed, b.Mixed) ||
		!reflect.DeepEqual(a.Open, b.Open) || !reflect.DeepEqual(a.Touch(), b.Touch()) || !reflect.DeepEqual(a.Regions, b.Regions) {
		t.Error("two builds of the same solids differ")
	}
}

func TestTargetAndErrors(t *testing.T) {
	s := []part.Solid{hollow(0, 0, 0, 60, 90, 22, 2), box(2, 2, 18.2, 56, 86, 1.8), box(22, 56, 17, 14, 14, 1.2), box(5, 8, 2, 36, 60, 6)}
	for _, target := range []int{6_000, 60_000} {
		g := build(t, grid.Options{TargetCells: target, Across: 1}, s...)
		if n := len(g.Owner); n > target || n < target/3 {
			t.Errorf("target of %d cells gives %d", target, n)
		}
	}
	for name, opt := range map[string]grid.Options{
		"too many": {MaxCells: 1000}, "not a number": {MaxCellM: math.NaN()}, "negative": {SnapM: -1}, "thin": {SnapM: 1.5 * mm},
	} {
		if _, err := grid.Build(s, opt); err == nil {
			t.Errorf("%s: no error", name)
		} else if _, ok := err.(*grid.Error); !ok {
			t.Errorf("%s: error %T", name, err)
		}
	}
	if _, err := grid.Build(nil, grid.Options{}); err == nil {
		t.Error("no solids, no error")
	}
	g := build(t, grid.Options{Extra: [3][]float64{{13.37 * mm}, nil, nil}}, s...)
	found := false
	for _, x := range g.X {
		found = found || x == 13.37*mm
	}
	if !found {
		t.Error("the extra plane is missing")
	}
}

func TestRandomBoxes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "n")
		size := rapid.Float64Range(0.3, 20)
		at := rapid.Float64Range(0, 20)
		var s []part.Solid
		for i := 0; i < n; i++ {
			x, y, z := at.Draw(t, "x"), at.Draw(t, "y"), at.Draw(t, "z")
			dx, dy, dz := size.Draw(t, "dx"), size.Draw(t, "dy"), size.Draw(t, "dz")
			if w := rapid.Float64Range(0.1, 3).Draw(t, "wall"); rapid.Bool().Draw(t, "hollow") && 2*w < math.Min(dx, math.Min(dy, dz)) {
				s = append(s, hollow(x, y, z, dx, dy, dz, w))
			} else {
				s = append(s, box(x, y, z, dx, dy, dz))
			}
		}
		opt := grid.Options{Across: 1, MaxCellM: 5 * mm, TargetCells: 20_000}
		g, err := grid.Build(s, opt)
		if err != nil {
			t.Fatal(err)
		}
		checkSound(t, g, opt)
	})
}

// reporter is what tests and property tests have in common.
type reporter interface {
	Helper()
	Errorf(string, ...any)
	Fatalf(string, ...any)
}
