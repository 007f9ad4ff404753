package ray

import (
	"math"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"finwright/internal/grid"
	"finwright/internal/part"
	"finwright/internal/radiate"
)

// pair traces two surfaces, given by how their names begin.
func pair(t testing.TB, s *shape, from, to string) *Seen {
	t.Helper()
	var lists [2][]int
	for i, want := range [2]string{from, to} {
		for k, name := range s.names {
			if strings.HasPrefix(name, want) {
				lists[i] = append(lists[i], s.lists[k]...)
			}
		}
		if lists[i] == nil {
			t.Fatalf("no surface %q among %q", want, s.names)
		}
	}
	return Trace(s.g, lists[:], 0)
}

// agrees checks the view from the first to the second surface against a closed form, and that both rows belong together: raw
// reciprocity to 1 %, exact after smoothing.
func agrees(t *testing.T, what string, seen *Seen, want, rel float64) {
	t.Helper()
	near(t, what, seen.Closed.Row(0)[1], want, rel)
	a, b := seen.AreaM2[0]*seen.Raw.Row(0)[1], seen.AreaM2[1]*seen.Raw.Row(1)[0]
	near(t, what+", counts of one against the other", a, b, 1e-2)
	if r, c := seen.Closed.Defect(seen.AreaM2); r > 1e-9 || c > 1e-9 {
		t.Errorf("%s: reciprocity off by %g, closure by %g", what, r, c)
	}
}

// Howell, A Catalog of Radiation Heat Transfer Configuration Factors, C-11. The numbers are those of a Monte Carlo of 4e6 rays
// with another program (3e-4), so that the closed form is checked as well.
func TestAlignedRectangles(t *testing.T) {
	for _, tc := range []struct{ a, b, gap, f float64 }{
		{60, 25, 6, 0.726057}, {60, 25, 3, 0.849210}, {20, 20, 20, 0.199825}, {40, 20, 20, 0.285875}, {50, 50, 5, 0.826995}, {25, 10, 25, 0},
	} {
		s := read(t, []string{"lower", "upper"}, 2e-3, box(0, 0, 0, tc.a, tc.b, 1), box(0, 0, 1+tc.gap, tc.a, tc.b, 1))
		seen := pair(t, s, "lower front", "upper back")
		agrees(t, "rectangles", seen, radiate.ViewParallel(tc.a, tc.b, tc.gap), 5e-3)
		if tc.f > 0 {
			near(t, "rectangles as counted", seen.Raw.Row(0)[1], tc.f, 5e-3)
		}
		if seen.Strays != 0 {
			t.Errorf("%+v: %d strays", tc, seen.Strays)
		}
	}
}

// Howell C-14: from a floor (edge by w) to a wall (edge by h) along a common edge of length l.
func TestPerpendicularRectangles(t *testing.T) {
	for _, tc := range []struct{ h, l, w, f float64 }{
		{20, 20, 20, 0.200044}, {40, 20, 20, 0.232853}, {20, 20, 40, 0.116426}, {10, 20, 20, 0.146187}, {25, 60, 6, 0.410381}, {6, 60, 25, 0.098491},
		{3, 60, 25, 0}, {25, 10, 25, 0},
	} {
		s := read(t, []string{"floor", "wall", "corner"}, 2e-3, box(0, 0, -1, tc.w, tc.l, 1), box(-1, 0, 0, 1, tc.l, tc.h), box(-1, 0, -1, 1, tc.l, 1))
		seen := pair(t, s, "floor front", "wall right")
		agrees(t, "floor to wall", seen, radiate.ViewPerpendicular(tc.l, tc.w, tc.h), 5e-3)
		if tc.f > 0 {
			near(t, "floor to wall, published", seen.Closed.Row(0)[1], tc.f, 5e-3)
		}
		if seen.Strays != 0 {
			t.Errorf("%+v: %d strays", tc, seen.Strays)
		}
	}
}

// Open channel 6 x 25 x 60 mm: shares that leave it by mouth and ends, from the closed forms above.
func TestChannelSeesOut(t *testing.T) {
	s := read(t, []string{"base", "fin1", "fin2"}, 2e-3, box(0, 0, 0, 6, 60, 1), box(-1, 0, 0, 1, 60, 26), box(6, 0, 0, 1, 60, 26))
	var lists [][]int
	names := []string{"base front", "fin1 right, facing a wall", "fin2 left, facing a wall"}
	for _, name := range names {
		lists = append(lists, s.lists[s.find(t, name)])
	}
	seen := Trace(s.g, lists, 0)
	for i, want := range []float64{0.088458 + 2*0.045390, 0.098491 + 2*0.038480, 0.098491 + 2*0.038480} {
		near(t, names[i], seen.Closed.Row(i)[3], want, 5e-3)
	}
	// Split along the channel: up the run, half of what leaves by the ends and half of what leaves by the mouth is sky.
	v := seen.Split(part.Vec{0, 1, 0})
	for i := range 3 {
		near(t, "sky up the run", v.Row(i)[3], seen.Closed.Row(i)[3]/2, 5e-3)
	}
	if v = seen.Split(part.Vec{0, 0, 1}); v.Row(0)[4] != 0 {
		t.Errorf("mouth up: base sees %g of ground", v.Row(0)[4])
	}
	near(t, "mouth up, fin to sky", v.Row(1)[3], 0.098491+0.038480, 5e-3) // by symmetry half of the ends
}

// A convex body sees nothing of itself; a face at angle β from facing up sees the sky over (1+cos β)/2 of its hemisphere
// (isotropic sky: Liu & Jordan 1963).
func TestBoxUnderTheSky(t *testing.T) {
	s := read(t, []string{"box"}, 5e-3, box(0, 0, 0, 60, 90, 22))
	seen := Trace(s.g, s.lists, 0)
	for _, up := range []part.Vec{{0, 0, 1}, {0, 1, 0}, {1, 0, 1}, {2, -3, 6}, {0, -5, 1}} {
		v := seen.Split(up)
		for i, list := range s.lists {
			cos := dot(s.g.Exposed[list[0]].Normal, up) / math.Sqrt(dot(up, up))
			if d := v.Row(i)[6] - (1+cos)/2; math.Abs(d) > 1e-3 {
				t.Errorf("%s, up %v: sky %.5f, want %.5f", s.names[i], up, v.Row(i)[6], (1+cos)/2)
			}
			if d := v.Row(i)[6] + v.Row(i)[7] - 1; math.Abs(d) > 1e-12 {
				t.Errorf("%s: sky and ground off 1 by %g", s.names[i], d)
			}
		}
	}
	if seen.Strays != 0 {
		t.Errorf("%d strays", seen.Strays)
	}
}

// The void in a closed box is not seen, nor does it see.
func TestHollowBoxIsABox(t *testing.T) {
	s := read(t, []string{"box"}, 5e-3, must(part.NewHollow(part.Vec{}, part.Vec{0.06, 0.09, 0.022}, 2e-3)))
	seen := Trace(s.g, s.lists, 4096)
	for i := range s.lists {
		if seen.Closed.Row(i)[len(s.lists)] != 1 {
			t.Errorf("%s sees out over %g", s.names[i], seen.Closed.Row(i)[len(s.lists)])
		}
	}
}

func TestRoundParts(t *testing.T) {
	const d, l = 0.020, 0.030
	bar := read(t, []string{"bar"}, 1.5e-3, must(part.NewCylinder(part.Vec{}, d, l, 1)))
	seen := Trace(bar.g, bar.lists, 0)
	for i := range bar.lists { // convex
		if out := seen.Raw.Row(i)[len(bar.lists)]; out < 0.999 {
			t.Errorf("%s of a bar sees out over %.4f only", bar.names[i], out)
		}
	}
	few(t, "bar", seen)

	// The bore of a tube: what reaches both ends, by the view between its two ends as disks.
	const bore = 0.014
	tube := read(t, []string{"tube"}, 1e-3, must(part.NewTube(part.Vec{}, d, bore, l, 1)))
	var in, rest []int
	for k := range tube.g.Exposed {
		e := &tube.g.Exposed[k]
		if r := (e.Centre[0]-d/2)*e.Normal[0] + (e.Centre[2]-d/2)*e.Normal[2]; r < -bore/4 {
			in = append(in, k)
		} else {
			rest = append(rest, k)
		}
	}
	seen = Trace(tube.g, [][]int{in, rest}, 0)
	near(t, "area of the bore", seen.AreaM2[0], math.Pi*bore*l, 0.01)
	ends := 2 * math.Pi / 4 * bore * bore
	near(t, "bore to outside", seen.Closed.Row(0)[2], ends/(math.Pi*bore*l)*(1-radiate.ViewDisks(bore/2, bore/2, l)), 5e-3)
	few(t, "tube", seen)

	// Two bars side by side: [√(X²-1) + asin(1/X) - X]/π with X = 1 + gap/diameter, by crossed strings (Hottel) for endless ones. At a length of 60 diameters the ends take less than 1 %.
	two := readWith(t, []string{"a", "b"}, grid.Options{MaxCellM: 6e-3, Across: 8}, must(part.NewCylinder(part.Vec{}, 0.010, 0.6, 1)), must(part.NewCylinder(part.Vec{0.015, 0, 0}, 0.010, 0.6, 1)))
	lists := make([][]int, 3) // the curved sides, the ends
	for k := range two.g.Exposed {
		if e := &two.g.Exposed[k]; e.Axis == 1 {
			lists[2] = append(lists[2], k)
		} else {
			lists[e.Body] = append(lists[e.Body], k)
		}
	}
	seen = Trace(two.g, lists, 0)
	x := 1.5
	near(t, "bar to bar", seen.Closed.Row(0)[1], (math.Sqrt(x*x-1)+math.Asin(1/x)-x)/math.Pi, 0.02)
	few(t, "bars", seen)
}

// Rays start on the surface: on a bar's ends within its radius, on its side at it, but for the hair by which a plane through a
// cell differs from a curve.
func TestRaysStartOnTheSurface(t *testing.T) {
	const r = 0.010
	s := read(t, []string{"bar"}, 1.5e-3, must(part.NewCylinder(part.Vec{}, 2*r, 0.030, 1)))
	sc := newScene(s.g)
	for k := range s.g.Exposed {
		for _, x := range spread(64) {
			p, _ := sc.place(k, x[0], x[1])
			d := math.Hypot(p[0]-r, p[2]-r)
			if end := s.g.Exposed[k].Axis == 1; d > 1.015*r || !end && d < 0.985*r {
				t.Fatalf("a ray of element %d (%+v) starts %.3f mm from the axis", k, s.g.Exposed[k], d*1e3)
			}
		}
	}
	// none where the bar stands on a plate
	s = read(t, []string{"plate", "bar"}, 1.5e-3, box(-10, -10, -2, 40, 40, 2), must(part.NewCylinder(part.Vec{}, 2*r, 0.030, 2)))
	sc = newScene(s.g)
	for _, k := range s.lists[s.find(t, "plate front")] {
		for _, x := range spread(64) {
			p, _ := sc.place(k, x[0], x[1])
			if d := math.Hypot(p[0]-r, p[1]-r); d < 0.985*r {
				t.Fatalf("a ray of the plate starts under the bar, %.3f mm from its axis", d*1e3)
			}
		}
	}
}

// few checks that rays whose end is not certain are fewer than 0.1 %.
func few(t *testing.T, what string, seen *Seen) {
	t.Helper()
	if share := float64(seen.Strays) / float64(seen.Rays*len(seen.AreaM2)); share > 1e-3 {
		t.Errorf("%s: %.2f %% strays", what, 100*share)
	}
}

// Disks facing each other: Howell C-41.
func TestDisks(t *testing.T) {
	for _, tc := range []struct{ d1, d2, gap float64 }{{20, 20, 10}, {20, 30, 20}} {
		lift := (30 - tc.d2) / 2
		s := read(t, []string{"lower", "upper"}, 1.5e-3,
			must(part.NewCylinder(part.Vec{(15 - tc.d1/2) * 1e-3, (15 - tc.d1/2) * 1e-3, 0}, tc.d1*1e-3, 2e-3, 2)),
			must(part.NewCylinder(part.Vec{lift * 1e-3, lift * 1e-3, (2 + tc.gap) * 1e-3}, tc.d2*1e-3, 2e-3, 2)))
		seen := pair(t, s, "lower front", "upper back")
		agrees(t, "disks", seen, radiate.ViewDisks(tc.d1/2, tc.d2/2, tc.gap), 0.01)
		few(t, "disks", seen)
	}
}

// A turned fin block sees of itself what a straight one does: faces cut by cells much wider than the fins against faces along
// the cells.
func TestTurnedFins(t *testing.T) {
	fins := must(part.NewFinBlock(part.FinBlockParams{BaseM: [2]float64{0.041, 0.060}, BaseThicknessM: 2e-3, Count: 6, HeightM: 0.025, FinThicknessM: 1e-3, Along: 1, OutAxis: 2, OutSign: 1}))
	straight := read(t, []string{"fins"}, 2e-3, fins)
	turned := read(t, []string{"fins"}, 4e-3, must(part.Turned(fins, math.Pi/9, 1)))
	out := func(s *shape) float64 { // exchange area of the whole block with the surroundings, black
		var all []int
		for _, l := range s.lists {
			all = append(all, l...)
		}
		seen := Trace(s.g, [][]int{all}, 0)
		few(t, "fins", seen)
		return seen.AreaM2[0] * seen.Closed.Row(0)[1]
	}
	near(t, "turned fins", out(turned), out(straight), 0.01)
}

// A black device exchanges with the surroundings at least what the box that carries the fins does, and at the most what a solid
// box in place of the fins would add: light that leaves a channel goes through its mouth or its ends.
func TestFinnedDevice(t *testing.T) {
	s := finned(t)
	seen := Trace(s.g, s.lists, 1<<14)
	if seen.Strays != 0 {
		t.Errorf("%d strays", seen.Strays)
	}
	if r, c := seen.Raw.Defect(seen.AreaM2); r > 1e-2 || c > 1e-12 {
		t.Errorf("raw: reciprocity off by %.2g of the smaller area, closure by %.2g", r, c)
	}
	if r, c := seen.Closed.Defect(seen.AreaM2); r > 1e-9 || c > 1e-9 {
		t.Errorf("smoothed: reciprocity off by %.2g, closure by %.2g", r, c)
	}
	n := len(s.lists)
	moved := 0.0
	for i := range n {
		for j, f := range seen.Closed.Row(i) {
			moved = math.Max(moved, math.Abs(f-seen.Raw.Row(i)[j]))
		}
	}
	if moved > 5e-3 {
		t.Errorf("smoothing moved a share by %.4f", moved)
	}
	out := 0.0
	for i := range n {
		out += seen.AreaM2[i] * seen.Closed.Row(i)[n]
	}
	shell := 2 * (0.060*0.090 + 0.060*0.022 + 0.090*0.022)
	withBlock := shell + 2*0.013*(0.056+0.080)
	if out < shell || out > withBlock {
		t.Errorf("exchange area with the surroundings %.6f m², between %.6f and %.6f wanted", out, shell, withBlock)
	}
}

func TestSameOnAnyNumberOfCores(t *testing.T) {
	s := read(t, []string{"a", "b", "c"}, 2e-3, box(0, 0, 0, 30, 30, 5), box(5, 5, 5, 4, 4, 12), must(part.NewCylinder(part.Vec{0.015, 0.012, 0.005}, 8e-3, 9e-3, 2)))
	was := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(was)
	one := Trace(s.g, s.lists, 4096)
	oneLit := Lit(s.g, s.lists, part.Vec{1, 2, 3})
	runtime.GOMAXPROCS(4)
	four := Trace(s.g, s.lists, 4096)
	if !reflect.DeepEqual(one, four) {
		t.Error("four cores give another result than one")
	}
	if !reflect.DeepEqual(oneLit, Lit(s.g, s.lists, part.Vec{1, 2, 3})) {
		t.Error("four cores give other light than one")
	}
}

// Elements that no surface lists count for the surface that looks at them; empty surfaces and lists do no harm.
func TestListsLeftOut(t *testing.T) {
	s := read(t, []string{"lower", "upper"}, 2e-3, box(0, 0, 0, 20, 20, 1), box(0, 0, 21, 20, 20, 1))
	list := s.lists[s.find(t, "lower front, facing a wall")]
	seen := Trace(s.g, [][]int{list, nil}, 8192)
	near(t, "own", seen.Raw.Row(0)[0], radiate.ViewParallel(20, 20, 20), 0.03)
	if got := float64(seen.Strays) / 8192; got != seen.Raw.Row(0)[0] {
		t.Errorf("%g of the rays are strays, %g end on nobody", got, seen.Raw.Row(0)[0])
	}
	if v := seen.Split(part.Vec{0, 0, 1}); len(v.Share) != 2*4 || v.Row(1)[2] != 0 {
		t.Errorf("%+v", v)
	}
	if v := Trace(s.g, nil, 16).Split(part.Vec{}); v.N != 0 || v.Far != 2 {
		t.Errorf("%+v", v)
	}
}

// Boxes anywhere, one in another too: every ray ends for certain, rows close, and no face sees one that looks the same way.
func TestAnyBoxes(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		size, place := rapid.IntRange(1, 12), rapid.IntRange(0, 20)
		var solids []part.Solid
		for range rapid.IntRange(1, 4).Draw(rt, "boxes") {
			var at, dim [3]float64
			for a := range at {
				at[a], dim[a] = float64(place.Draw(rt, "at")), float64(size.Draw(rt, "size"))
			}
			solids = append(solids, box(at[0], at[1], at[2], dim[0], dim[1], dim[2]))
		}
		g, err := grid.Build(solids, grid.Options{MaxCellM: 4e-3, Across: 1})
		if err != nil {
			rt.Fatal(err)
		}
		lists := make([][]int, 6)
		for k := range g.Exposed {
			lists[g.Exposed[k].Side()] = append(lists[g.Exposed[k].Side()], k)
		}
		seen := Trace(g, lists, 256)
		if seen.Strays != 0 {
			rt.Fatalf("%d strays", seen.Strays)
		}
		for i := range 6 {
			if f := seen.Raw.Row(i)[i]; f != 0 {
				rt.Fatalf("%s sees %g of itself", sides[i], f)
			}
		}
		if r, c := seen.Closed.Defect(seen.AreaM2); r > 1e-9 || c > 1e-9 {
			rt.Fatalf("reciprocity off by %g, closure by %g", r, c)
		}
	})
}
