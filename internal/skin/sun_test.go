package skin

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// The closed forms in this file are plane geometry: what a lamp at an infinite distance lights is the outline seen from it, and
// a surface square to the beam takes in its area, one at an angle its area times the angle's cosine.

// litM2 is what the whole device takes in per W/m², m²: by geometry, the area of its outline seen along the beam.
func litM2(g *grid.Grid, list []Surface, towards part.Vec) float64 {
	sum := 0.0
	for i := range list {
		sum += list[i].AreaM2 * Lit(g, &list[i], towards)
	}
	return sum
}

func lit(t *testing.T, g *grid.Grid, list []Surface, name string, towards part.Vec, want, tol float64) {
	t.Helper()
	if got := Lit(g, find(t, list, name), towards); !(math.Abs(got-want) <= tol) {
		t.Errorf("%s towards %v: share %.5f, want %.5f ± %g", name, towards, got, want, tol)
	}
}

func TestSunOnABox(t *testing.T) {
	list, g := read(t, []string{"box"}, 5e-3, box(t, 0, 0, 0, 60, 90, 22))
	for side := range Sides {
		for k, name := range Sides {
			want := 0.0
			if k == side {
				want = 1
			}
			lit(t, g, list, "box "+name, SideVec(side), want, 1e-12)
		}
	}
	// an oblique beam: each of the three lit sides by its own cosine; the length of the direction does not count
	for _, tc := range []struct {
		side string
		cos  float64
	}{{"right", 2.0 / 7}, {"bottom", 3.0 / 7}, {"front", 6.0 / 7}, {"left", 0}, {"top", 0}, {"back", 0}} {
		lit(t, g, list, "box "+tc.side, part.Vec{2, -3, 6}, tc.cos, 1e-12)
	}
	if v := Lit(g, &list[0], part.Vec{}); v != 0 {
		t.Errorf("no direction: share %g", v)
	}
}

// A plate turned by 30° about x takes in cos 30° of the beam on its face and sin 30° on the long edge turned towards it.
func TestSunOnATurnedPlate(t *testing.T) {
	s, err := part.Turned(box(t, 0, 0, 0, 40, 60, 4), math.Pi/6, 0)
	list, g := read(t, []string{"plate"}, 2e-3, solid(t, s, err))
	up := part.Vec{0, 0, 1}
	lit(t, g, list, "plate front", up, math.Cos(math.Pi/6), 1e-6)
	lit(t, g, list, "plate back", up, 0, 0)
	want := 0.040 * (0.060*math.Cos(math.Pi/6) + 0.004*math.Sin(math.Pi/6))
	if got := litM2(g, list, up); math.Abs(got-want) > 0.01*want {
		t.Errorf("plate takes in %.6g m², want %.6g", got, want)
	}
}

func TestSunBehindAShade(t *testing.T) {
	wall := func() part.Solid { return box(t, 0, 0, 0, 60, 90, 22) }
	front := part.Vec{0, 0, 1}
	for name, tc := range map[string]struct {
		shade part.Solid
		want  float64
	}{
		"fully in front":  {box(t, -5, -5, 34, 70, 100, 1), 0},
		"half in front":   {box(t, 0, 0, 34, 60, 45, 1), 0.5},
		"far in front":    {box(t, 0, 0, 90, 20, 90, 1), 2.0 / 3},
		"a hole in front": {box(t, 10, 10, 34, 40, 70, 1), 1 - 40.0*70/(60*90)},
	} {
		t.Run(name, func(t *testing.T) {
			// the thread that keeps the two one device stands behind the wall's edge, out of the sun's way
			post := box(t, 59.8, 0, 22, 0.2, 0.2, tc.shade.Bounds().Min[2]*1e3-22)
			list, g := read(t, []string{"wall", "shade", "post"}, 5e-3, wall(), tc.shade, post)
			litM2, areaM2 := 0.0, 0.0 // what faces the shade and what stands open, together
			for i := range list {
				if s := &list[i]; s.Body == 0 && s.Side == 5 {
					litM2 += s.AreaM2 * Lit(g, s, front)
					areaM2 += s.AreaM2
				}
			}
			if got := litM2 / areaM2; math.Abs(got-tc.want) > 1e-4 {
				t.Errorf("wall lit to %.5f, want %.5f", got, tc.want)
			}
			lit(t, g, list, "shade front", front, 1, 1e-12)
			lit(t, g, list, "wall back", part.Vec{0, 0, -1}, 1, 1e-12)
		})
	}
}

// A wall 40 mm high under a roof that stands out by 10 mm: with the sun 45° up in front the roof's shadow is 10 mm long, with
// the sun at tan⁻¹(3) 30 mm.
func TestSunUnderAnOverhang(t *testing.T) {
	list, g := read(t, []string{"wall", "roof"}, 1e-3, box(t, 0, 0, 0, 30, 40, 10), box(t, 0, 40, 0, 30, 2, 20))
	lit(t, g, list, "wall front", part.Vec{0, 1, 1}, 30.0/40*math.Sqrt2/2, 0.005)
	lit(t, g, list, "wall front", part.Vec{0, 3, 1}, 10.0/40/math.Sqrt(10), 0.005)
	lit(t, g, list, "wall front", part.Vec{0, 0, 1}, 1, 1e-12)
	lit(t, g, list, "wall front", part.Vec{0, -1, 1}, math.Sqrt2/2, 1e-12)
	lit(t, g, list, "roof bottom", part.Vec{0, 1, 1}, 0, 0)
}

// Six fins of 1 mm and 25 mm height on 41 mm leave five channels of 7 mm.
func TestSunOnFins(t *testing.T) {
	fb, err := part.NewFinBlock(part.FinBlockParams{BaseM: [2]float64{0.041, 0.060}, BaseThicknessM: 2e-3, Count: 6, HeightM: 0.025, FinThicknessM: 1e-3, Along: 1, OutAxis: 2, OutSign: 1})
	list, g := read(t, []string{"fins"}, 1e-3, solid(t, fb, err))
	half := math.Sqrt2 / 2
	// straight down the channels: tips and bases, the whole outline, and no flank
	lit(t, g, list, "fins front", part.Vec{0, 0, 1}, 1, 1e-12)
	lit(t, g, list, "fins left, facing a wall", part.Vec{0, 0, 1}, 0, 0)
	// across the fins: the outermost flank alone
	lit(t, g, list, "fins right", part.Vec{1, 0, 0}, 1, 1e-12)
	lit(t, g, list, "fins right, facing a wall", part.Vec{1, 0, 0}, 0, 0)
	// along the fins: their ends, and nothing in the channels
	lit(t, g, list, "fins top", part.Vec{0, 1, 0}, 1, 1e-12)
	// 45° across the fins: each flank as deep as the channel is wide, no base
	lit(t, g, list, "fins right, facing a wall", part.Vec{1, 0, 1}, 7.0/25*half, 0.005)
	lit(t, g, list, "fins left, facing a wall", part.Vec{1, 0, 1}, 0, 0)
	lit(t, g, list, "fins front", part.Vec{1, 0, 1}, 6.0/41*half, 0.005)
	// 3.5 mm aside in 25 mm of depth: flanks whole, half of each base
	cos := 25 / math.Hypot(25, 3.5)
	lit(t, g, list, "fins right, facing a wall", part.Vec{3.5, 0, 25}, 3.5/math.Hypot(25, 3.5), 0.002)
	lit(t, g, list, "fins front", part.Vec{3.5, 0, 25}, (6+5*3.5)/41*cos, 0.01)
	// whatever the fins take from each other, together they take what the box around them would, as long as no light falls through
	for _, d := range []part.Vec{{0, 0, 1}, {1, 0, 0}, {0, 1, 0}, {1, 0, 1}, {3.5, 0, 25}} {
		want := 0.060*0.027*d[0] + 0.041*0.060*d[2]
		if d[1] > 0 { // the ends of the fins only, not the channels
			want = 0.041*0.002 + 6*0.001*0.025
		}
		want /= math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
		if got := litM2(g, list, d); math.Abs(got-want) > 0.01*want {
			t.Errorf("towards %v: %.6g m², want %.6g", d, got, want)
		}
	}
}

// Round parts take in their outline: a cylinder's is d·l across and πd²/4 along its axis, a tube's end the ring.
func TestSunOnRoundParts(t *testing.T) {
	const dM, lM, boreM = 0.020, 0.030, 0.014
	cyl, err := part.NewCylinder(part.Vec{}, dM, lM, 1)
	cylinder, g := read(t, []string{"bar"}, 1.5e-3, solid(t, cyl, err))
	tb, err := part.NewTube(part.Vec{}, dM, boreM, lM, 1)
	tube, gt := read(t, []string{"tube"}, 1.5e-3, solid(t, tb, err))
	for _, tc := range []struct {
		what string
		g    *grid.Grid
		list []Surface
		d    part.Vec
		want float64
	}{
		{"bar across", g, cylinder, part.Vec{0, 0, 1}, dM * lM},
		{"bar across", g, cylinder, part.Vec{-1, 0, 0}, dM * lM},
		{"bar along", g, cylinder, part.Vec{0, 1, 0}, math.Pi / 4 * dM * dM},
		{"tube across", gt, tube, part.Vec{0, 0, 1}, dM * lM},
		{"tube along", gt, tube, part.Vec{0, -1, 0}, math.Pi / 4 * (dM*dM - boreM*boreM)},
	} {
		if got := litM2(tc.g, tc.list, tc.d); math.Abs(got-tc.want) > 0.02*tc.want {
			t.Errorf("%s %v: %.6g m², want %.6g", tc.what, tc.d, got, tc.want)
		}
	}
}

// Boxes anywhere: what they take in together from a side is the area their outlines cover together from there.
func TestSunIsTheOutline(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		size := rapid.IntRange(1, 12)
		place := rapid.IntRange(0, 20)
		var solids []part.Solid
		var names []string
		var boxes []part.Box
		for i := 0; i < rapid.IntRange(1, 4).Draw(rt, "boxes"); i++ {
			var min, dim part.Vec
			for a := range min {
				min[a] = float64(place.Draw(rt, "at")) * 1e-3
				dim[a] = float64(size.Draw(rt, "size")) * 1e-3
			}
			s, err := part.NewBox(min, dim)
			if err != nil {
				rt.Fatal(err)
			}
			solids, names, boxes = append(solids, s), append(names, "b"), append(boxes, s.Bounds())
		}
		g, err := grid.Build(solids, grid.Options{MaxCellM: 4e-3, Across: 1})
		if err != nil {
			rt.Fatal(err)
		}
		list := Read(g, bodiesOf(names))
		side := rapid.IntRange(0, 5).Draw(rt, "side")
		u, v := (side/2+1)%3, (side/2+2)%3
		want := 0.0 // sizes are whole millimetres: count the squares
		for i := 0; i < 32; i++ {
			for j := 0; j < 32; j++ {
				x, y := (float64(i)+0.5)*1e-3, (float64(j)+0.5)*1e-3
				for _, b := range boxes {
					if x > b.Min[u] && x < b.Max[u] && y > b.Min[v] && y < b.Max[v] {
						want += 1e-6
						break
					}
				}
			}
		}
		got := litM2(g, list, SideVec(side))
		if math.Abs(got-want) > 1e-6*want {
			rt.Fatalf("from %s: %.8g m², want %.8g", Sides[side], got, want)
		}
		if again := litM2(g, list, SideVec(side)); again != got {
			rt.Fatalf("%g m², then %g", got, again)
		}
	})
}
