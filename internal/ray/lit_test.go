package ray

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// The closed forms in this file are plane geometry: what a lamp at an infinite distance lights is the outline seen from it, and
// a surface square to the beam takes in its area, one at an angle its area times the angle's cosine.

// litM2 is what the whole device takes in per W/m², m²: by geometry, the area of its outline seen along the beam.
func (s *shape) litM2(towards part.Vec) float64 {
	sum := 0.0
	for i, share := range Lit(s.g, s.lists, towards) {
		sum += s.areaM2(i) * share
	}
	return sum
}

func lit(t *testing.T, s *shape, name string, towards part.Vec, want, tol float64) {
	t.Helper()
	if got := Lit(s.g, [][]int{s.lists[s.find(t, name)]}, towards)[0]; !(math.Abs(got-want) <= tol) {
		t.Errorf("%s towards %v: share %.5f, want %.5f ± %g", name, towards, got, want, tol)
	}
}

func TestSunOnABox(t *testing.T) {
	s := read(t, []string{"box"}, 5e-3, box(0, 0, 0, 60, 90, 22))
	for side := range sides {
		for k, name := range sides {
			want := 0.0
			if k == side {
				want = 1
			}
			lit(t, s, "box "+name, outward(side), want, 1e-12)
		}
	}
	// an oblique beam: each of the three lit sides by its own cosine; the length of the direction does not count
	for _, tc := range []struct {
		side string
		cos  float64
	}{{"right", 2.0 / 7}, {"bottom", 3.0 / 7}, {"front", 6.0 / 7}, {"left", 0}, {"top", 0}, {"back", 0}} {
		lit(t, s, "box "+tc.side, part.Vec{2, -3, 6}, tc.cos, 1e-12)
	}
	for _, d := range []part.Vec{{}, {math.NaN(), 1, 1}, {math.Inf(1), 0, 0}} {
		if v := Lit(s.g, s.lists, d)[0]; v != 0 {
			t.Errorf("direction %v: share %g", d, v)
		}
	}
}

// A plate turned by 30° about x takes in cos 30° of the beam on its face and sin 30° on the long edge turned towards it.
func TestSunOnATurnedPlate(t *testing.T) {
	s := read(t, []string{"plate"}, 2e-3, must(part.Turned(box(0, 0, 0, 40, 60, 4), math.Pi/6, 0)))
	up := part.Vec{0, 0, 1}
	lit(t, s, "plate front", up, math.Cos(math.Pi/6), 1e-6)
	lit(t, s, "plate back", up, 0, 0)
	want := 0.040 * (0.060*math.Cos(math.Pi/6) + 0.004*math.Sin(math.Pi/6))
	if got := s.litM2(up); math.Abs(got-want) > 0.01*want {
		t.Errorf("plate takes in %.6g m², want %.6g", got, want)
	}
}

func TestSunBehindAShade(t *testing.T) {
	wall := func() part.Solid { return box(0, 0, 0, 60, 90, 22) }
	front := part.Vec{0, 0, 1}
	for name, tc := range map[string]struct {
		shade part.Solid
		want  float64
	}{
		"fully in front":  {box(-5, -5, 34, 70, 100, 1), 0},
		"half in front":   {box(0, 0, 34, 60, 45, 1), 0.5},
		"far in front":    {box(0, 0, 90, 20, 90, 1), 2.0 / 3},
		"a hole in front": {box(10, 10, 34, 40, 70, 1), 1 - 40.0*70/(60*90)},
	} {
		t.Run(name, func(t *testing.T) {
			// the thread that keeps the two one device stands behind the wall's edge, out of the sun's way
			post := box(59.8, 0, 22, 0.2, 0.2, tc.shade.Bounds().Min[2]*1e3-22)
			s := read(t, []string{"wall", "shade", "post"}, 5e-3, wall(), tc.shade, post)
			litM2, areaM2 := 0.0, 0.0 // what faces the shade and what stands open, together
			for i, share := range Lit(s.g, s.lists, front) {
				if strings.HasPrefix(s.names[i], "wall front") {
					litM2 += s.areaM2(i) * share
					areaM2 += s.areaM2(i)
				}
			}
			if got := litM2 / areaM2; math.Abs(got-tc.want) > 1e-4 {
				t.Errorf("wall lit to %.5f, want %.5f", got, tc.want)
			}
			lit(t, s, "shade front", front, 1, 1e-12)
			lit(t, s, "wall back", part.Vec{0, 0, -1}, 1, 1e-12)
		})
	}
}

// A wall 40 mm high under a roof that stands out by 10 mm: with the sun 45° up in front the roof's shadow is 10 mm long, with
// the sun at tan⁻¹(3) 30 mm.
func TestSunUnderAnOverhang(t *testing.T) {
	s := read(t, []string{"wall", "roof"}, 1e-3, box(0, 0, 0, 30, 40, 10), box(0, 40, 0, 30, 2, 20))
	lit(t, s, "wall front", part.Vec{0, 1, 1}, 30.0/40*math.Sqrt2/2, 0.005)
	lit(t, s, "wall front", part.Vec{0, 3, 1}, 10.0/40/math.Sqrt(10), 0.005)
	lit(t, s, "wall front", part.Vec{0, 0, 1}, 1, 1e-12)
	lit(t, s, "wall front", part.Vec{0, -1, 1}, math.Sqrt2/2, 1e-12)
	lit(t, s, "roof bottom", part.Vec{0, 1, 1}, 0, 0)
}

// Six fins of 1 mm and 25 mm height on 41 mm leave five channels of 7 mm.
func TestSunOnFins(t *testing.T) {
	fb := must(part.NewFinBlock(part.FinBlockParams{BaseM: [2]float64{0.041, 0.060}, BaseThicknessM: 2e-3, Count: 6, HeightM: 0.025, FinThicknessM: 1e-3, Along: 1, OutAxis: 2, OutSign: 1}))
	s := read(t, []string{"fins"}, 1e-3, fb)
	half := math.Sqrt2 / 2
	// straight down the channels: tips and bases, the whole outline, and no flank
	lit(t, s, "fins front", part.Vec{0, 0, 1}, 1, 1e-12)
	lit(t, s, "fins left, facing a wall", part.Vec{0, 0, 1}, 0, 0)
	// across the fins: the outermost flank alone
	lit(t, s, "fins right", part.Vec{1, 0, 0}, 1, 1e-12)
	lit(t, s, "fins right, facing a wall", part.Vec{1, 0, 0}, 0, 0)
	// along the fins: their ends, and nothing in the channels
	lit(t, s, "fins top", part.Vec{0, 1, 0}, 1, 1e-12)
	// 45° across the fins: each flank as deep as the channel is wide, no base
	lit(t, s, "fins right, facing a wall", part.Vec{1, 0, 1}, 7.0/25*half, 0.005)
	lit(t, s, "fins left, facing a wall", part.Vec{1, 0, 1}, 0, 0)
	lit(t, s, "fins front", part.Vec{1, 0, 1}, 6.0/41*half, 0.005)
	// 3.5 mm aside in 25 mm of depth: flanks whole, half of each base
	cos := 25 / math.Hypot(25, 3.5)
	lit(t, s, "fins right, facing a wall", part.Vec{3.5, 0, 25}, 3.5/math.Hypot(25, 3.5), 0.002)
	lit(t, s, "fins front", part.Vec{3.5, 0, 25}, (6+5*3.5)/41*cos, 0.01)
	// whatever the fins take from each other, together they take what the box around them would, as long as no light falls through
	for _, d := range []part.Vec{{0, 0, 1}, {1, 0, 0}, {0, 1, 0}, {1, 0, 1}, {3.5, 0, 25}} {
		want := 0.060*0.027*d[0] + 0.041*0.060*d[2]
		if d[1] > 0 { // the ends of the fins only, not the channels
			want = 0.041*0.002 + 6*0.001*0.025
		}
		want /= math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
		if got := s.litM2(d); math.Abs(got-want) > 0.01*want {
			t.Errorf("towards %v: %.6g m², want %.6g", d, got, want)
		}
	}
}

// Round parts take in their outline: a cylinder's is d·l across and πd²/4 along its axis, a tube's end the ring.
func TestSunOnRoundParts(t *testing.T) {
	const dM, lM, boreM = 0.020, 0.030, 0.014
	bar := read(t, []string{"bar"}, 1.5e-3, must(part.NewCylinder(part.Vec{}, dM, lM, 1)))
	tube := read(t, []string{"tube"}, 1.5e-3, must(part.NewTube(part.Vec{}, dM, boreM, lM, 1)))
	for _, tc := range []struct {
		what string
		s    *shape
		d    part.Vec
		want float64
	}{
		{"bar across", bar, part.Vec{0, 0, 1}, dM * lM},
		{"bar across", bar, part.Vec{-1, 0, 0}, dM * lM},
		{"bar slanting across", bar, part.Vec{-1, 0, 2}, dM * lM},
		{"bar along", bar, part.Vec{0, 1, 0}, math.Pi / 4 * dM * dM},
		{"bar slanting", bar, part.Vec{0, 1, 1}, (math.Pi/4*dM*dM + dM*lM) / math.Sqrt2},
		{"tube across", tube, part.Vec{0, 0, 1}, dM * lM},
		{"tube along", tube, part.Vec{0, -1, 0}, math.Pi / 4 * (dM*dM - boreM*boreM)},
	} {
		if got := tc.s.litM2(tc.d); math.Abs(got-tc.want) > 0.02*tc.want {
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
		all := make([]int, len(g.Exposed))
		areaM2 := 0.0
		for k := range all {
			all[k] = k
			areaM2 += g.Exposed[k].AreaM2
		}
		side := rapid.IntRange(0, 5).Draw(rt, "side")
		u, v := (side/2+1)%3, (side/2+2)%3
		want := 0.0 // sizes are whole millimetres: count the squares
		for i := 0; i < 32; i++ {
			for j := 0; j < 32; j++ {
				x, y := (float64(i)+0.5)*1e-3, (float64(j)+0.5)*1e-3
				for _, body := range solids {
					if b := body.Bounds(); x > b.Min[u] && x < b.Max[u] && y > b.Min[v] && y < b.Max[v] {
						want += 1e-6
						break
					}
				}
			}
		}
		got := areaM2 * Lit(g, [][]int{all}, outward(side))[0]
		if math.Abs(got-want) > 1e-6*want {
			rt.Fatalf("from %s: %.8g m², want %.8g", sides[side], got, want)
		}
	})
}

// A post on a plate, the sun 45° above the plate: the shadow is as long as the post is high, and as wide as the post seen from
// the sun.
func TestShadowOfAPost(t *testing.T) {
	const plate, high, wide = 60.0, 10.0, 4.0
	round := must(part.NewCylinder(part.Vec{28e-3, 28e-3, 2e-3}, wide*1e-3, high*1e-3, 2))
	for _, tc := range []struct {
		what        string
		post        part.Solid
		foot, width float64
		d           part.Vec
	}{
		{"square post, sun along x", box(28, 28, 2, wide, wide, high), wide * wide, wide, part.Vec{1, 0, 1}},
		{"square post, sun along -y", box(28, 28, 2, wide, wide, high), wide * wide, wide, part.Vec{0, -1, 1}},
		{"square post, sun across", box(28, 28, 2, wide, wide, high), wide * wide, wide * math.Sqrt2, part.Vec{1, 1, math.Sqrt2}},
		{"round post, sun along x", round, math.Pi / 4 * wide * wide, wide, part.Vec{1, 0, 1}},
		{"round post, sun anywhere", round, math.Pi / 4 * wide * wide, wide, part.Vec{-3, 4, 5}},
	} {
		s := read(t, []string{"plate", "post"}, 1e-3, box(0, 0, 0, plate, plate, 2), tc.post)
		list := s.lists[s.find(t, "plate front")]
		shadow := (1 - Lit(s.g, [][]int{list}, tc.d)[0]*math.Sqrt2) * s.areaM2(s.find(t, "plate front")) * 1e6
		near(t, tc.what+", shadow in mm²", shadow, high*tc.width, 0.05)
		// from straight above there is no shadow: what the post covers is no part of the surface
		lit(t, s, "plate front", part.Vec{0, 0, 1}, 1, 1e-12)
		near(t, tc.what+", plate in mm²", s.areaM2(s.find(t, "plate front"))*1e6, plate*plate-tc.foot, 1e-3)
	}
}

func outward(side int) (v part.Vec) {
	v[side/2] = float64(2*(side%2) - 1)
	return v
}
