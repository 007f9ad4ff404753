package skin

import (
	"fmt"
	"math"
	"reflect"
	"sort"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// The expected values in this file are what a person reads off the described shape with a rule: elementary geometry.

type fataler interface {
	Helper()
	Fatal(...any)
	Fatalf(string, ...any)
}

func must(t fataler) func(part.Solid, error) part.Solid {
	return func(s part.Solid, err error) part.Solid {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
}

// read cuts solids named by names and reads their surfaces; every reading is checked for what always holds.
func read(t fataler, names string, opt grid.Options, solids ...part.Solid) ([]Surface, *grid.Grid) {
	t.Helper()
	g, err := grid.Build(solids, opt)
	if err != nil {
		t.Fatal(err)
	}
	bodies := bodiesOf(names, solids)
	list := Read(g, bodies)
	sound(t, g, bodies, list)
	return list, g
}

func bodiesOf(names string, solids []part.Solid) []Body {
	bodies := make([]Body, len(solids))
	for i, n := range strings.Split(names, ",") {
		bodies[i].Name = n
		if c, ok := solids[i].(*part.Cylinder); ok {
			bodies[i].Round = &Round{Axis: SideVec(2*c.Axis + 1), Centre: c.Centre, DiameterM: c.DiameterM, LengthM: c.LengthM}
		}
	}
	return bodies
}

// sound checks that every element is in exactly one surface, that areas add up, names differ and numbers are numbers.
func sound(t fataler, g *grid.Grid, bodies []Body, list []Surface) {
	t.Helper()
	times := make([]int, len(g.Exposed))
	names := map[string]bool{}
	for _, s := range list {
		if names[s.Name] {
			t.Fatalf("two surfaces are called %q", s.Name)
		}
		names[s.Name] = true
		if len(s.Elements) == 0 || !sort.IntsAreSorted(s.Elements) {
			t.Fatalf("%s: elements %v", s.Name, s.Elements)
		}
		area := 0.0
		for _, i := range s.Elements {
			times[i]++
			area += g.Exposed[i].AreaM2
			if int(g.Exposed[i].Body) != s.Body {
				t.Fatalf("%s holds an element of %s", s.Name, bodies[g.Exposed[i].Body].Name)
			}
		}
		if math.Abs(area-s.AreaM2) > 1e-9*area {
			t.Fatalf("%s: area %g, its elements' %g", s.Name, s.AreaM2, area)
		}
		if !(s.UM > 1e-5 && s.VM > 1e-5) {
			t.Fatalf("%s: a run of %g by %g m", s.Name, s.UM, s.VM)
		}
		for what, v := range map[string]part.Vec{"normal": s.Normal, "U": s.U, "V": s.V} {
			if math.Abs(dot(v, v)-1) > 1e-9 {
				t.Fatalf("%s: %s %v is no unit vector", s.Name, what, v)
			}
		}
		if math.Abs(dot(s.U, s.V)) > 1e-9 || s.Round == nil && s.Channel == nil && (math.Abs(dot(s.U, s.Normal)) > 1e-9 || math.Abs(dot(s.V, s.Normal)) > 1e-9) {
			t.Fatalf("%s: axes %v, %v aslant, normal %v", s.Name, s.U, s.V, s.Normal)
		}
		if !(s.UM > 0) || !(s.VM > 0) {
			t.Fatalf("%s: run %g by %g m", s.Name, s.UM, s.VM)
		}
		if c := s.Channel; c != nil {
			if !(c.GapM > 0) || !(c.LengthM > 0) || c.DepthM < 0 || c.Count < 1 || math.Abs(dot(c.Along, c.Along)-1) > 1e-9 || s.FacingBody < 0 ||
				c.OneSided == (s.FacingBody == s.Body) {
				t.Fatalf("%s: %+v, facing %d", s.Name, *c, s.FacingBody)
			}
		}
	}
	for i, n := range times {
		if n != 1 {
			t.Fatalf("element %d is in %d surfaces", i, n)
		}
	}
}

func find(t fataler, list []Surface, name string) *Surface {
	t.Helper()
	for i := range list {
		if list[i].Name == name {
			return &list[i]
		}
	}
	t.Fatalf("no surface %q among %s", name, all(list))
	return nil
}

func all(list []Surface) string {
	var names []string
	for _, s := range list {
		names = append(names, s.Name)
	}
	return strings.Join(names, "; ")
}

func box(t fataler, x, y, z, dx, dy, dz float64) part.Solid {
	t.Helper()
	return must(t)(part.NewBox(part.Vec{x * 1e-3, y * 1e-3, z * 1e-3}, part.Vec{dx * 1e-3, dy * 1e-3, dz * 1e-3}))
}

// near compares in millimetres (or square millimetres) to a share.
func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)+1e-12) {
		t.Errorf("%s: %.6g, want %.6g", what, got, want)
	}
}

var coarse = grid.Options{MaxCellM: 3e-3, Across: 1}

func TestPlateHasSixFaces(t *testing.T) {
	list, _ := read(t, "plate", coarse, box(t, 0, 0, 0, 60, 90, 4))
	if want := "plate left; plate right; plate bottom; plate top; plate back; plate front"; all(list) != want {
		t.Fatalf("%s, want %s", all(list), want)
	}
	size := part.Vec{60e-3, 90e-3, 4e-3}
	for side, s := range list {
		u, v := 0, 2
		switch side / 2 {
		case 0:
			u = 1
		case 2:
			v = 1
		}
		near(t, s.Name+" area", s.AreaM2, size[u]*size[v], 1e-9)
		near(t, s.Name+" UM", s.UM, size[u], 1e-9)
		near(t, s.Name+" VM", s.VM, size[v], 1e-9)
		if s.Side != side || s.Normal != SideVec(side) || s.U != SideVec(2*u+1) || s.V != SideVec(2*v+1) || !s.Reach || s.Channel != nil || s.FacingBody != -1 || s.Round != nil {
			t.Errorf("%+v", s)
		}
		span := [3]float64{}
		span[u], span[v] = s.UM, s.VM
		if s.SpanM != span {
			t.Errorf("%s spans %v", s.Name, s.SpanM)
		}
	}
}

// A turned plate keeps six faces, with their true normals and sizes.
func TestTurnedPlate(t *testing.T) {
	for _, deg := range []float64{20, 45} {
		for axis := range 3 {
			t.Run(fmt.Sprintf("%v degrees about axis %d", deg, axis), func(t *testing.T) {
				rad := deg * math.Pi / 180
				list, _ := read(t, "plate", grid.Options{}, must(t)(part.Turned(box(t, 0, 0, 0, 60, 90, 8), rad, axis)))
				if len(list) != 6 {
					t.Fatalf("surfaces: %s", all(list))
				}
				size := part.Vec{60e-3, 90e-3, 8e-3}
				for side := range 6 {
					n := SideVec(side)
					u, v := (axis+1)%3, (axis+2)%3
					n[u], n[v] = n[u]*math.Cos(rad)-n[v]*math.Sin(rad), n[u]*math.Sin(rad)+n[v]*math.Cos(rad)
					found := 0
					for _, s := range list {
						if dot(s.Normal, n) < math.Cos(2*math.Pi/180) {
							continue
						}
						found++
						a, b := (side/2+1)%3, (side/2+2)%3
						// cells along an edge hold both faces when these look to the same side of the cell, as at 45 degrees: a narrow
						// face then gains or loses up to a cell
						tol := 0.06
						if deg == 45 {
							tol = 0.25
						}
						near(t, s.Name+" area", s.AreaM2, size[a]*size[b], tol)
						near(t, s.Name+" short side", math.Min(s.UM, s.VM), math.Min(size[a], size[b]), tol)
						near(t, s.Name+" long side", math.Max(s.UM, s.VM), math.Max(size[a], size[b]), 0.04)
					}
					if found != 1 {
						t.Errorf("%d surfaces look to %v: %s", found, n, all(list))
					}
				}
			})
		}
	}
	list, _ := read(t, "plate", grid.Options{}, must(t)(part.Turned(box(t, 0, 0, 0, 60, 90, 8), math.Pi/4, 0)))
	find(t, list, "plate bottom-front")
	find(t, list, "plate top-front")
}

const (
	finGapM    = 7e-3
	finHeightM = 25e-3
	finRunM    = 60e-3
)

// fins is six fins of 1 mm over 41 mm, which leave five channels of 7 mm, on a base of 2 mm.
func fins(t fataler, alongAxis, outAxis, sign int) part.Solid {
	across := 3 - alongAxis - outAxis
	base := [2]float64{0.041, finRunM}
	if across > alongAxis {
		base = [2]float64{finRunM, 0.041}
	}
	return must(t)(part.NewFinBlock(part.FinBlockParams{BaseM: base, BaseThicknessM: 2e-3, Count: 6, HeightM: finHeightM, FinThicknessM: 1e-3, Along: alongAxis, OutAxis: outAxis, OutSign: sign}))
}

func TestFinnedBlock(t *testing.T) {
	for alongAxis := range 3 {
		for outAxis := range 3 {
			if alongAxis == outAxis {
				continue
			}
			for _, sign := range []int{1, -1} {
				t.Run(fmt.Sprintf("along %d, out %d x %d", alongAxis, outAxis, sign), func(t *testing.T) {
					mouth := along(part.Vec{}, SideVec(2*outAxis+1), float64(sign))
					block := fins(t, alongAxis, outAxis, sign)
					list, _ := read(t, "fins", coarse, block)
					if len(list) != 7 {
						t.Fatalf("surfaces: %s", all(list))
					}
					s := find(t, list, "fins, channels")
					c := s.Channel
					near(t, "gap", c.GapM, finGapM, 1e-6)
					near(t, "depth", c.DepthM, finHeightM, 1e-6)
					near(t, "length", c.LengthM, finRunM, 1e-6)
					near(t, "area of flanks and floors", s.AreaM2, 5*(2*finHeightM+finGapM)*finRunM, 1e-6)
					if c.Count != 5 || c.Along != SideVec(2*alongAxis+1) || c.Mouth != mouth || s.Normal != mouth || s.Side != sideOf(mouth) ||
						!c.OpenLo || !c.OpenHi || !c.OpenMouth || c.OneSided || s.Reach || s.FacingBody != 0 {
						t.Errorf("%+v %+v", s, c)
					}
					tips := find(t, list, "fins, tips")
					near(t, "tips", tips.AreaM2, 6*1e-3*finRunM, 1e-6)
					near(t, "run on a tip", math.Min(tips.UM, tips.VM), 1e-3, 1e-6)
					if !tips.Reach || tips.Normal != mouth {
						t.Errorf("tips %+v", tips)
					}
					for _, end := range []int{2 * alongAxis, 2*alongAxis + 1} {
						near(t, "ends", find(t, list, "fins "+Sides[end]).AreaM2, 2e-3*41e-3+6*1e-3*finHeightM, 1e-6)
					}

					// a plate that lies on the tips, and one that stands before an end
					lo, hi := block.Bounds().Min, block.Bounds().Max
					min, size := lo, part.Vec{hi[0] - lo[0], hi[1] - lo[1], hi[2] - lo[2]}
					size[outAxis] = 1e-3
					min[outAxis] = hi[outAxis]
					if sign < 0 {
						min[outAxis] = lo[outAxis] - 1e-3
					}
					list, _ = read(t, "fins,shroud", coarse, block, must(t)(part.NewBox(min, size)))
					c = find(t, list, "fins, channels").Channel
					near(t, "shrouded depth", c.DepthM, finHeightM, 1e-6)
					if c.OpenMouth || !c.OpenLo || !c.OpenHi || c.Mouth != mouth || c.Count != 5 {
						t.Errorf("under a shroud: %+v", c)
					}
					lid := find(t, list, "shroud "+Sides[sideOf(along(part.Vec{}, mouth, -1))]+", facing fins")
					near(t, "shroud over channels", lid.AreaM2, 5*finGapM*finRunM, 1e-6)
					near(t, "its channels' gap", lid.Channel.GapM, finGapM, 1e-6)
					if lid.Reach || !lid.Channel.OneSided || lid.Channel.Count != 5 {
						t.Errorf("shroud: %+v", lid)
					}

					min, size = lo, part.Vec{hi[0] - lo[0], hi[1] - lo[1], hi[2] - lo[2]}
					min[alongAxis], size[alongAxis] = hi[alongAxis], 1e-3
					list, _ = read(t, "fins,wall", coarse, block, must(t)(part.NewBox(min, size)))
					c = find(t, list, "fins, channels").Channel
					if !c.OpenMouth || !c.OpenLo || c.OpenHi || c.Mouth != mouth || c.Along != SideVec(2*alongAxis+1) {
						t.Errorf("before a wall: %+v", c)
					}
				})
			}
		}
	}
}

// A shroud at a distance: nearer than two gaps it closes the mouth, further away not.
func TestShroudAtADistance(t *testing.T) {
	for _, tc := range []struct {
		mm   float64
		open bool
	}{{1, false}, {10, false}, {16, true}, {29, true}} {
		list, _ := read(t, "fins,shroud", coarse, fins(t, 1, 2, 1), box(t, 0, 0, 27+tc.mm, 41, 60, 1))
		if c := find(t, list, "fins, channels").Channel; c.OpenMouth != tc.open || c.Count != 5 {
			t.Errorf("shroud at %v mm: %+v", tc.mm, c)
		}
		near(t, "gap over the tips", find(t, list, "fins, tips, facing shroud").Channel.GapM, tc.mm*1e-3, 1e-6)
	}
}

func TestTurnedFins(t *testing.T) {
	for _, rad := range []float64{0.5, math.Pi / 4} {
		for axis := range 3 {
			if rad != 0.5 && axis != 1 {
				continue // one case of cells that mix tips and flanks
			}
			list, _ := read(t, "fins", grid.Options{TargetCells: 40_000}, must(t)(part.Turned(fins(t, 1, 2, 1), rad, axis)))
			if len(list) != 7 {
				t.Fatalf("turned about axis %d: %s", axis, all(list))
			}
			s := find(t, list, "fins, channels")
			c := s.Channel
			turn := func(v part.Vec) part.Vec {
				u, w := (axis+1)%3, (axis+2)%3
				v[u], v[w] = v[u]*math.Cos(rad)-v[w]*math.Sin(rad), v[u]*math.Sin(rad)+v[w]*math.Cos(rad)
				return v
			}
			near(t, "gap", c.GapM, finGapM, 0.03)
			near(t, "depth", c.DepthM, finHeightM, 0.05)
			near(t, "length", c.LengthM, finRunM, 0.05)
			near(t, "area", s.AreaM2, 5*(2*finHeightM+finGapM)*finRunM, 0.02)
			if c.Count != 5 || math.Abs(dot(c.Along, turn(part.Vec{0, 1, 0}))) < 0.998 || dot(c.Mouth, turn(part.Vec{0, 0, 1})) < 0.998 || !c.OpenLo || !c.OpenHi || !c.OpenMouth || s.Reach {
				t.Errorf("turned about axis %d: %+v", axis, c)
			}
			tips := find(t, list, "fins, tips")
			// at 45 degrees cells on the edges of a fin hold tip and flank in one element
			near(t, "run on a tip", math.Min(tips.UM, tips.VM), 1e-3, 0.30)
			near(t, "run along a tip", math.Max(tips.UM, tips.VM), finRunM, 0.05)
		}
	}
}

// A hollow box is closed: its cavity is no outer surface. With a side cut open its inside is.
func TestBoxOpenOnOneSide(t *testing.T) {
	hollow := must(t)(part.NewHollow(part.Vec{}, part.Vec{60e-3, 90e-3, 22e-3}, 2e-3))
	list, _ := read(t, "box", coarse, hollow)
	total := 0.0
	for _, s := range list {
		total += s.AreaM2
	}
	if len(list) != 6 {
		t.Errorf("closed box: %s", all(list))
	}
	near(t, "closed box", total, 2*(60*90+60*22+90*22)*1e-6, 1e-9)

	list, _ = read(t, "box", coarse, must(t)(part.Cut(hollow, box(t, 2, 2, 20, 56, 86, 2))))
	want := "box left; box right; box bottom; box top; box back; box front; box inside right; box inside left; box inside top; box inside bottom; box inside back"
	if all(list) != want {
		t.Errorf("open box: %s, want %s", all(list), want)
	}
	near(t, "floor", find(t, list, "box inside back").AreaM2, 56*86e-6, 1e-9)
	near(t, "inside left", find(t, list, "box inside left").AreaM2, 86*20e-6, 1e-9)
	for _, s := range list {
		if !s.Reach || s.Channel != nil {
			t.Errorf("a hand gets to all of it: %+v", s)
		}
	}

	// open by a slit of 5 mm: there is air inside that is outer air, and no finger gets there
	list, _ = read(t, "box", coarse, must(t)(part.Cut(hollow, box(t, 20, 2, 20, 5, 86, 2))))
	s := find(t, list, "box, channel")
	near(t, "inside walls", s.AreaM2, (2*56*86+2*56*18+2*86*18-5*86)*1e-6, 1e-9)
	if c := s.Channel; s.Reach || c.OpenLo || c.OpenHi || c.OpenMouth || math.Abs(c.GapM-18e-3) > 1e-9 {
		t.Errorf("inside: %+v", c)
	}

	// a narrow pocket
	list, _ = read(t, "block", coarse, must(t)(part.Cut(box(t, 0, 0, 0, 30, 40, 20), box(t, 10, 5, 5, 6, 30, 15))))
	s = find(t, list, "block, channel")
	near(t, "pocket", s.AreaM2, (2*30*15+2*6*15+6*30)*1e-6, 1e-9)
	if c := s.Channel; c.OpenLo || c.OpenHi || !c.OpenMouth || c.Count != 1 || c.Mouth != SideVec(5) || c.Along != SideVec(3) || s.Reach {
		t.Errorf("pocket: %+v", c)
	}
}

// A foot: an upright leg under the plate's right end and a tongue 4 mm below the plate.
func TestFootUnderAPlate(t *testing.T) {
	foot := must(t)(part.Cut(box(t, 20, 0, 0, 40, 50, 14), box(t, 20, 0, 10, 30, 50, 4)))
	list, _ := read(t, "plate,foot", coarse, box(t, 0, 0, 14, 60, 50, 3), foot)
	for name, normal := range map[string]int{"plate back, facing foot": 4, "foot front, facing plate": 5} {
		s := find(t, list, name)
		c := s.Channel
		near(t, name+" area", s.AreaM2, 30*50e-6, 1e-9)
		near(t, name+" gap", c.GapM, 4e-3, 1e-6)
		near(t, name+" depth", c.DepthM, 30e-3, 1e-6)
		near(t, name+" length", c.LengthM, 50e-3, 1e-6)
		if c.Along != SideVec(3) || c.Mouth != SideVec(0) || !c.OpenLo || !c.OpenHi || !c.OpenMouth || !c.OneSided || s.Reach || s.Side != normal || s.Normal != SideVec(normal) {
			t.Errorf("%s: %+v %+v", name, s, c)
		}
	}
	near(t, "plate beyond the foot", find(t, list, "plate back").AreaM2, 20*50e-6, 1e-9)
	if c := find(t, list, "foot left").Channel; c != nil {
		t.Errorf("the tongue's end and the leg's wall face nothing: %+v", c)
	}

	// a tongue longer than it is wide: the corner closes an end
	foot = must(t)(part.Cut(box(t, 0, 0, 0, 60, 20, 14), box(t, 0, 0, 10, 50, 20, 4)))
	list, _ = read(t, "plate,foot", coarse, box(t, 0, 0, 14, 60, 20, 3), foot)
	c := find(t, list, "plate back, facing foot").Channel
	near(t, "long tongue's depth", c.DepthM, 50e-3, 1e-6)
	near(t, "long tongue's run", c.LengthM, 20e-3, 1e-6)
	if c.Along != SideVec(3) || c.Mouth != SideVec(0) || !c.OpenLo || !c.OpenHi || !c.OpenMouth {
		t.Errorf("long tongue: %+v", c)
	}
}

// Two blocks 5 mm apart on nothing: a slot open all round.
func TestTwoBlocks(t *testing.T) {
	list, _ := read(t, "a,b", coarse, box(t, 0, 0, 0, 10, 12, 30), box(t, 15, 0, 0, 10, 12, 30))
	if len(list) != 12 {
		t.Errorf("surfaces: %s", all(list))
	}
	for _, name := range []string{"a right, facing b", "b left, facing a"} {
		s := find(t, list, name)
		c := s.Channel
		near(t, name+" gap", c.GapM, 5e-3, 1e-6)
		near(t, name+" length", c.LengthM, 30e-3, 1e-6)
		near(t, name+" width", s.VM, 12e-3, 1e-6)
		if c.DepthM != 0 || !c.OpenLo || !c.OpenHi || !c.OpenMouth || c.Along != SideVec(5) || !c.OneSided || s.Reach {
			t.Errorf("%s: %+v", name, c)
		}
	}
	// 11 mm apart is more than 10 mm deep: open faces
	list, _ = read(t, "a,b", coarse, box(t, 0, 0, 0, 10, 10, 30), box(t, 21, 0, 0, 10, 10, 30))
	if s := find(t, list, "a right"); s.Channel != nil || !s.Reach || len(list) != 12 {
		t.Errorf("%+v", s)
	}
}

// A shade 12 mm in front of a shell: one gap on each, and what sticks out stays in the open.
func TestShadeOverAShell(t *testing.T) {
	list, _ := read(t, "shell,shade", coarse, box(t, 0, 0, 0, 60, 90, 22), box(t, -5, -5, 34, 70, 100, 1))
	near(t, "shell", find(t, list, "shell front, facing shade").AreaM2, 60*90e-6, 1e-9)
	near(t, "shade", find(t, list, "shade back, facing shell").AreaM2, 60*90e-6, 1e-9)
	near(t, "shade's rim", find(t, list, "shade back").AreaM2, (70*100-60*90)*1e-6, 1e-9)
	s := find(t, list, "shell front, facing shade")
	near(t, "gap", s.Channel.GapM, 12e-3, 1e-6)
	if !s.Reach || s.Channel.Along != SideVec(3) || s.Channel.DepthM != 0 {
		t.Errorf("%+v %+v", s, s.Channel)
	}
}

func TestRoundBodies(t *testing.T) {
	for axis := range 3 {
		list, _ := read(t, "bar", grid.Options{}, must(t)(part.NewCylinder(part.Vec{}, 0.020, 0.050, axis)))
		if len(list) != 3 {
			t.Fatalf("bar: %s", all(list))
		}
		s := find(t, list, "bar, round side")
		near(t, "round side", s.AreaM2, math.Pi*0.020*0.050, 0.02)
		near(t, "end", find(t, list, "bar "+Sides[2*axis]).AreaM2, math.Pi/4*0.020*0.020, 0.02)
		if s.Round == nil || s.Round.DiameterM != 0.020 || s.U != SideVec(2*axis+1) || s.UM != 0.050 || s.VM != 0.020 || !s.Reach || s.Channel != nil {
			t.Errorf("%+v", s)
		}

		list, _ = read(t, "tube", grid.Options{}, must(t)(part.NewTube(part.Vec{}, 0.020, 0.014, 0.050, axis)))
		if len(list) != 4 {
			t.Fatalf("tube: %s", all(list))
		}
		near(t, "tube's round side", find(t, list, "tube, round side").AreaM2, math.Pi*0.020*0.050, 0.02)
		s = find(t, list, "tube, bore")
		near(t, "bore", s.AreaM2, math.Pi*0.014*0.050, 0.02)
		near(t, "bore's width", s.Channel.GapM, 0.014, 0.02)
		if c := s.Channel; c.LengthM != 0.050 || !c.OpenLo || !c.OpenHi || c.OpenMouth || c.Along != SideVec(2*axis+1) || c.Mouth != (part.Vec{}) || c.OneSided || !s.Reach {
			t.Errorf("bore: %+v, reach %v", c, s.Reach)
		}

		// a lid on one end, and a bore no finger fits
		var lid part.Vec
		lid[axis] = 0.050
		size := part.Vec{0.020, 0.020, 0.020}
		size[axis] = 0.002
		list, _ = read(t, "tube,lid", grid.Options{}, must(t)(part.NewTube(part.Vec{}, 0.020, 0.007, 0.050, axis)), must(t)(part.NewBox(lid, size)))
		s = find(t, list, "tube, bore")
		if c := s.Channel; !c.OpenLo || c.OpenHi || s.Reach {
			t.Errorf("bore under a lid: %+v, reach %v", c, s.Reach)
		}
	}
}

// A hole of 8 mm through a plate of 6 mm is a curved face of its own, not part of the edges.
func TestHole(t *testing.T) {
	list, _ := read(t, "plate", grid.Options{}, must(t)(part.Cut(box(t, 0, 0, 0, 30, 20, 6), must(t)(part.NewCylinder(part.Vec{10e-3, 5e-3, -1e-3}, 8e-3, 10e-3, 2)))))
	if len(list) != 7 {
		t.Errorf("surfaces: %s", all(list))
	}
	near(t, "hole", find(t, list, "plate, curved face").AreaM2, math.Pi*8*6e-6, 0.03)
	near(t, "edge", find(t, list, "plate left").AreaM2, 20*6e-6, 1e-6)
}

// A bar that nobody said is round, turned: two ends and one curved face, no slivers where it touches the cells' planes.
func TestTurnedBarUntold(t *testing.T) {
	bar := must(t)(part.Turned(must(t)(part.NewCylinder(part.Vec{}, 20e-3, 60e-3, 1)), 0.5, 0))
	list, _ := read(t, "bar", grid.Options{}, bar)
	if want := "bar bottom-back; bar top-front; bar, curved face"; all(list) != want {
		t.Fatalf("%s, want %s", all(list), want)
	}
	near(t, "side", list[2].AreaM2, math.Pi*20*60e-6, 0.02)
	near(t, "end", list[0].AreaM2, math.Pi*100e-6, 0.02)
}

// A drilled block, turned, one layer of cells high: its wall and hole are as high as it is, though all their elements have their
// middles at one height.
func TestDrilledBlockOneLayer(t *testing.T) {
	hole := must(t)(part.NewCylinder(part.Vec{4e-3, 4e-3, -1e-3}, 3.74e-3, 8e-3, 2))
	block := must(t)(part.Turned(must(t)(part.Cut(box(t, 0, 0, 0, 9, 16, 4.5), hole)), 1.02, 2))
	list, _ := read(t, "block", grid.Options{MaxCellM: 6e-3, Across: 1}, block)
	for _, s := range list {
		if math.Abs(s.Normal[2]) < 0.5 && !(math.Max(s.UM, s.VM) > 3e-3 && math.Min(s.UM, s.VM) > 1e-3) {
			t.Errorf("%s: a run of %g by %g m", s.Name, s.UM, s.VM)
		}
	}
}

// What little of a plate a small chip stands over stays with the plate's face; for the chip the gap is a face of its own.
func TestSmallNeighbour(t *testing.T) {
	list, _ := read(t, "plate,chip", coarse, box(t, 0, 0, 0, 60, 90, 4), box(t, 20, 20, 6, 6, 6, 2))
	near(t, "plate", find(t, list, "plate front").AreaM2, 60*90e-6, 1e-9)
	if s := find(t, list, "chip back, facing plate"); len(list) != 12 || s.Reach || s.Channel.GapM > 2.001e-3 {
		t.Errorf("%s; %+v", all(list), s)
	}
}

// Boxes anywhere: nothing is lost, and the same device gives the same list.
func TestAnyStackOfBoxes(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		size, at := rapid.IntRange(1, 14), rapid.IntRange(0, 20)
		var solids []part.Solid
		var names []string
		for i := range rapid.IntRange(1, 5).Draw(rt, "boxes") {
			solids = append(solids, box(rt, float64(at.Draw(rt, "x")), float64(at.Draw(rt, "y")), float64(at.Draw(rt, "z")),
				float64(size.Draw(rt, "dx")), float64(size.Draw(rt, "dy")), float64(size.Draw(rt, "dz"))))
			names = append(names, fmt.Sprintf("b%d", i))
		}
		if deg := rapid.IntRange(-90, 90).Draw(rt, "turn"); deg > 45 {
			solids[0] = must(rt)(part.Turned(solids[0], float64(deg)*math.Pi/180, rapid.IntRange(0, 2).Draw(rt, "axis")))
		}
		if rapid.Bool().Draw(rt, "tube") {
			solids = append(solids, must(rt)(part.NewTube(part.Vec{float64(at.Draw(rt, "x")) * 1e-3, 0, 0}, 12e-3, 8e-3, float64(size.Draw(rt, "l"))*1e-3, rapid.IntRange(0, 2).Draw(rt, "axis"))))
			names = append(names, "tube")
		}
		opt := grid.Options{MaxCellM: 4e-3, Across: 1}
		a, _ := read(rt, strings.Join(names, ","), opt, solids...)
		b, _ := read(rt, strings.Join(names, ","), opt, solids...)
		if !reflect.DeepEqual(a, b) {
			rt.Fatalf("two readings differ: %s; %s", all(a), all(b))
		}
	})
}

// Which axis is called x does not matter: the same boxes with the axes renamed have surfaces of the same areas and gaps.
func TestAxesAreAlike(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		size, at := rapid.IntRange(1, 14), rapid.IntRange(0, 20)
		var a, b []part.Solid
		var names []string
		for i := range rapid.IntRange(1, 4).Draw(rt, "boxes") {
			var p, d [3]float64
			for k := range p {
				p[k], d[k] = float64(at.Draw(rt, "at")), float64(size.Draw(rt, "size"))
			}
			a = append(a, box(rt, p[0], p[1], p[2], d[0], d[1], d[2]))
			b = append(b, box(rt, p[1], p[2], p[0], d[1], d[2], d[0]))
			names = append(names, fmt.Sprintf("b%d", i))
		}
		measures := func(solids []part.Solid) []string {
			list, _ := read(rt, strings.Join(names, ","), coarse, solids...)
			var out []string
			for _, s := range list {
				gapM := 0.0
				if s.Channel != nil {
					gapM = s.Channel.GapM
				}
				out = append(out, fmt.Sprintf("%d: %.4f mm², gap %.4f mm, reach %v, faces %d", s.Body, s.AreaM2*1e6, gapM*1e3, s.Reach, s.FacingBody))
			}
			sort.Strings(out)
			return out
		}
		if x, y := measures(a), measures(b); !reflect.DeepEqual(x, y) {
			rt.Fatalf("%s\n%s", strings.Join(x, "\n"), strings.Join(y, "\n"))
		}
	})
}

// BenchmarkFinned reads a device of some 200 000 cells with fins.
func BenchmarkFinned(b *testing.B) {
	solids := []part.Solid{must(b)(part.NewHollow(part.Vec{}, part.Vec{60e-3, 90e-3, 22e-3}, 2e-3)), box(b, 2, 2, 18.2, 56, 86, 1.8), box(b, 22, 56, 17, 14, 14, 1.2),
		must(b)(part.NewFinBlock(part.FinBlockParams{Min: part.Vec{2e-3, 5e-3, 22e-3}, BaseM: [2]float64{56e-3, 80e-3}, BaseThicknessM: 3e-3,
			Count: 12, HeightM: 10e-3, FinThicknessM: 1.2e-3, Along: 1, OutAxis: 2, OutSign: 1}))}
	for _, turned := range []bool{false, true} {
		s := solids
		if turned {
			s = append(solids[:3:3], must(b)(part.Turned(solids[3], 0.3, 2)))
		}
		g, err := grid.Build(s, grid.Options{TargetCells: 220_000, Across: 3})
		if err != nil {
			b.Fatal(err)
		}
		bodies := bodiesOf("shell,plate,chip,fins", s)
		b.Run(fmt.Sprintf("turned=%v", turned), func(b *testing.B) {
			for b.Loop() {
				Read(g, bodies)
			}
			b.ReportMetric(float64(len(g.Owner)), "cells")
			b.ReportMetric(float64(len(g.Exposed)), "elements")
		})
	}
}
