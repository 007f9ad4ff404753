package grid_test

import (
	"math"
	"testing"

	"finwright/internal/grid"
	"finwright/internal/part"
	"pgregory.net/rapid"
)

func cylinder(x, y, z, d, l float64, axis int) part.Solid {
	return must(part.NewCylinder(part.Vec{x * mm, y * mm, z * mm}, d*mm, l*mm, axis))
}

// Volumes and areas of curved and oblique solids against the closed forms of solid geometry; volume to 1 %, area to 2 %.
func TestCurvedVolumeAndArea(t *testing.T) {
	pi := math.Pi
	tube := must(part.NewTube(part.Vec{1 * mm, 2 * mm, 3 * mm}, 30*mm, 24*mm, 40*mm, 0))
	for _, tc := range []struct {
		name         string
		s            part.Solid
		volume, area float64 // mm³, mm²
	}{
		{"cylinder along z", cylinder(0, 0, 0, 20, 30, 2), pi * 100 * 30, 2*pi*100 + pi*20*30},
		{"cylinder along x", cylinder(3, 1, -7, 12, 50, 0), pi * 36 * 50, 2*pi*36 + pi*12*50},
		{"thin disc along y", cylinder(0, 0, 0, 40, 1, 1), pi * 400 * 1, 2*pi*400 + pi*40},
		{"tube along x", tube, pi / 4 * (900 - 576) * 40, pi*(30+24)*40 + 2*pi/4*(900-576)},
		{"box turned 30 degrees", must(part.Turned(box(0, 0, 0, 30, 20, 10), pi/6, 2)), 6000, 2 * (600 + 300 + 200)},
		{"box turned 45 degrees", must(part.Turned(box(0, 0, 0, 20, 20, 10), pi/4, 0)), 4000, 2 * (400 + 200 + 200)},
		{"box turned twice", must(part.Turned(must(part.Turned(box(0, 0, 0, 30, 20, 10), 0.5, 2)), 0.7, 0)), 6000, 2 * (600 + 300 + 200)},
		{"thin plate turned", must(part.Turned(box(0, 0, 0, 40, 2, 30), 0.35, 2)), 2400, 2 * (80 + 1200 + 60)},
		{"hole through a plate", must(part.Cut(box(0, 0, 0, 30, 20, 3), cylinder(10, 5, -1, 8, 10, 2))), 1800 - pi*16*3, 2*(600+90+60) - 2*pi*16 + pi*8*3},
		{"quarter-turned fins", must(part.Turned(must(part.NewFinBlock(part.FinBlockParams{BaseM: [2]float64{20 * mm, 30 * mm}, BaseThicknessM: 2 * mm, Count: 5, HeightM: 8 * mm, FinThicknessM: 1 * mm, Along: 1, OutAxis: 2, OutSign: 1})), pi/2, 0)),
			20*30*2 + 5*8*30, 2*20*30 + 2*50*2 + 5*2*8*(30+1)},
		{"turned fins", must(part.Turned(must(part.NewFinBlock(part.FinBlockParams{BaseM: [2]float64{20 * mm, 30 * mm}, BaseThicknessM: 2 * mm, Count: 5, HeightM: 8 * mm, FinThicknessM: 1 * mm, Along: 1, OutAxis: 2, OutSign: 1})), 0.3, 1)),
			20*30*2 + 5*8*30, 2*20*30 + 2*50*2 + 5*2*8*(30+1)},
	} {
		for _, opt := range []grid.Options{{}, {Across: 1, TargetCells: 6000}} {
			g := build(t, opt, tc.s)
			checkSound(t, g, opt)
			near(t, tc.name+": volume in cells", g.BodyVolumeM3(0), tc.volume*1e-9, 0.01)
			near(t, tc.name+": area", exposed(g, 0), tc.area*1e-6, 0.02)
			if len(g.Regions) != 0 {
				t.Errorf("%s: sealed air where there is none: %+v", tc.name, g.Regions)
			}
			t.Logf("%-24s %6d cells %5d elements, volume %+.3f %%, area %+.3f %%", tc.name, len(g.Owner), len(g.Exposed),
				100*(g.BodyVolumeM3(0)/(tc.volume*1e-9)-1), 100*(exposed(g, 0)/(tc.area*1e-6)-1))
		}
	}
}

// The outer surface of any closed body balances: the vectors of its elements sum up to nothing (divergence theorem).
func TestSurfaceCloses(t *testing.T) {
	for name, s := range map[string][]part.Solid{
		"cylinder":                  {cylinder(0, 0, 0, 20, 30, 2)},
		"turned box":                {must(part.Turned(box(0, 0, 0, 30, 20, 10), 0.6, 1))},
		"rod out of a turned block": {must(part.Turned(box(0, 0, 0, 30, 20, 10), 0.6, 1)), cylinder(10, 5, -8, 8, 30, 2)},
		"cylinder on a plate":       {box(0, 0, 0, 40, 40, 2), cylinder(10, 10, 2, 16, 12, 2)},
	} {
		g := build(t, grid.Options{}, s...)
		var sum part.Vec
		total := 0.0
		for _, e := range g.Exposed {
			total += e.AreaM2
			for a := range sum {
				sum[a] += e.AreaM2 * e.Normal[a]
			}
		}
		for a := range sum {
			if math.Abs(sum[a]) > 0.01*total {
				t.Errorf("%s: the surface is open by %.3g of its area along axis %d", name, sum[a]/total, a)
			}
		}
	}
}

func TestCanHoldsAir(t *testing.T) {
	pi := math.Pi
	can := must(part.NewCan(part.Vec{}, 40*mm, 60*mm, 1, 1.5*mm))
	for _, opt := range []grid.Options{{}, {Across: 1, TargetCells: 8000}} {
		g := build(t, opt, can)
		checkSound(t, g, opt)
		if len(g.Regions) != 1 {
			t.Fatalf("a can holds one region of air, not %d", len(g.Regions))
		}
		near(t, "air", g.Regions[0].VolumeM3, pi/4*37*37*57*1e-9, 0.01)
		near(t, "wall", g.BodyVolumeM3(0), pi/4*(40*40*60-37*37*57)*1e-9, 0.01)
		near(t, "outer area", exposed(g, 0), (pi*40*60+2*pi*400)*1e-6, 0.02)
		c := g.Touch()
		if len(c) != 1 || c[0].B != g.AirBase {
			t.Fatalf("contacts %+v", c)
		}
		near(t, "inner area", c[0].AreaM2, (pi*37*57+2*pi/4*37*37)*1e-6, 0.02)
	}
	g := build(t, grid.Options{}, must(part.Cut(can, cylinder(18, -1, 18, 4, 5, 1))))
	if len(g.Regions) != 0 {
		t.Error("a can with a hole in its end is not sealed")
	}
}

func TestRoundContacts(t *testing.T) {
	pi := math.Pi
	// a pin in its hole, the hole either left to the pin to cut or drilled to the same diameter
	pin := cylinder(7, 7, 0, 6, 10, 2)
	for name, plate := range map[string]part.Solid{
		"pin cuts":   box(0, 0, 0, 20, 20, 10),
		"pin fitted": must(part.Cut(box(0, 0, 0, 20, 20, 10), cylinder(7, 7, -1, 6, 12, 2))),
	} {
		g := build(t, grid.Options{}, plate, pin)
		checkSound(t, g, grid.Options{})
		c := g.Touch()
		if len(c) != 1 {
			t.Fatalf("%s: contacts %+v", name, c)
		}
		near(t, name+": contact", c[0].AreaM2, pi*6*10*1e-6, 0.02)
		if q := c[0].FacesM2 / c[0].AreaM2; q < 1 || q > 1.45 {
			t.Errorf("%s: stairs are %.3g times the contact", name, q)
		}
		near(t, name+": plate", g.BodyVolumeM3(0), (4000-pi*9*10)*1e-9, 0.01)
		near(t, name+": pin", g.BodyVolumeM3(1), pi*9*10*1e-9, 0.01)
		near(t, name+": exposed pin", exposed(g, 1), 2*pi*9*1e-6, 0.02)
		if len(g.Regions) != 0 {
			t.Errorf("%s: sealed air around the pin", name)
		}
	}
	// a round bar standing on a plate touches by its end
	g := build(t, grid.Options{}, box(0, 0, 0, 40, 40, 2), cylinder(10, 10, 2, 16, 12, 2))
	c := g.Touch()
	if len(c) != 1 {
		t.Fatalf("contacts %+v", c)
	}
	near(t, "end", c[0].AreaM2, pi*64*1e-6, 0.02)
	near(t, "plate", exposed(g, 0), (2*1600+4*80-pi*64)*1e-6, 0.01)
	near(t, "bar", exposed(g, 1), (pi*16*12+pi*64)*1e-6, 0.02)
}

// Two round bars side by side face each other across their gap; one alone faces nothing.
func TestGapOfRoundBars(t *testing.T) {
	alone := build(t, grid.Options{}, cylinder(0, 0, 0, 10, 20, 2))
	for i := range alone.Exposed {
		if d, b, ok := alone.FacingGap(&alone.Exposed[i]); ok {
			t.Fatalf("a bar alone faces body %d at %g mm from %v", b, d/mm, alone.Exposed[i])
		}
	}
	two := build(t, grid.Options{}, cylinder(0, 0, 0, 10, 20, 2), cylinder(13, 0, 0, 10, 20, 2))
	least, n := math.Inf(1), 0
	for i := range two.Exposed {
		e := &two.Exposed[i]
		d, b, ok := two.FacingGap(e)
		if !ok {
			continue
		}
		if b == int(e.Body) {
			t.Fatalf("a bar faces itself at %g mm from %+v", d/mm, e)
		}
		n++
		least = math.Min(least, d)
	}
	if n == 0 || math.Abs(least-3*mm) > 0.5*mm {
		t.Errorf("%d elements face each other, nearest %g mm; the bars stand 3 mm apart", n, least/mm)
	}
}

// A rod in a hole with a hairline of clearance does not touch the plate, and nothing conducts between the two.
func TestHairlineGapDoesNotTouch(t *testing.T) {
	plate := must(part.Cut(box(0, 0, 0, 20, 20, 10), cylinder(6.9, 6.9, -1, 6.2, 12, 2)))
	g := build(t, grid.Options{}, plate, cylinder(7, 7, 0, 6, 10, 2))
	for _, c := range g.Touch() {
		if c.A == 0 && c.B == 1 {
			t.Errorf("contact %+v", c)
		}
	}
	for c := range g.Owner {
		for a, stride := range []int{1, g.NX, g.NX * g.NY} {
			if g.Open[a][c] > 0 && g.Owner[c] != g.Owner[c+stride] && int(max(g.Owner[c], g.Owner[c+stride])) < g.AirBase {
				t.Fatalf("the face between cells %d and %d conducts", c, c+stride)
			}
		}
	}
}

// A ring of air too thin to own a cell, closed in by a cap, is neither outer air nor a region, and nothing is exposed to it.
func TestPocketExposesNothing(t *testing.T) {
	block := must(part.Cut(box(0, 0, 0, 20, 20, 10), cylinder(6.985, 6.985, 2, 6.03, 12, 2)))
	g := build(t, grid.Options{}, block, cylinder(7, 7, 2, 6, 8, 2), box(0, 0, 10, 20, 20, 2))
	checkSound(t, g, grid.Options{})
	if len(g.Regions) != 0 {
		t.Errorf("%d sealed regions", len(g.Regions))
	}
	near(t, "exposed", exposed(g, 0)+exposed(g, 1)+exposed(g, 2), 2*(400+240+240)*1e-6, 1e-12)
	near(t, "exposed pin", exposed(g, 1)+1, 1, 1e-15)
}

// Thin oblique walls stay tight.
func TestTurnedHollowHoldsAir(t *testing.T) {
	for _, angle := range []float64{0.1, 0.5, math.Pi / 4, 1.2} {
		for _, opt := range []grid.Options{{TargetCells: 60_000}, {Across: 1, TargetCells: 6000}} {
			s := must(part.Turned(hollow(0, 0, 0, 40, 30, 12, 1.2), angle, 2))
			g := build(t, opt, s)
			checkSound(t, g, opt)
			if len(g.Regions) != 1 {
				t.Fatalf("angle %g: %d sealed regions", angle, len(g.Regions))
			}
			near(t, "air", g.Regions[0].VolumeM3, 37.6*27.6*9.6*1e-9, 0.01)
			near(t, "walls", g.BodyVolumeM3(0), (40*30*12-37.6*27.6*9.6)*1e-9, 0.01)
			near(t, "outer area", exposed(g, 0), 2*(1200+480+360)*1e-6, 0.02)
		}
	}
}

func TestRandomRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at, size := rapid.Float64Range(0, 20), rapid.Float64Range(2, 15)
		s := []part.Solid{box(0, 0, 0, 30, 30, 2)}
		for i := rapid.IntRange(1, 3).Draw(t, "n"); i > 0; i-- {
			x, y, z, d, l, axis := at.Draw(t, "x"), at.Draw(t, "y"), at.Draw(t, "z"), size.Draw(t, "d"), size.Draw(t, "l"), rapid.IntRange(0, 2).Draw(t, "axis")
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				s = append(s, cylinder(x, y, z, d, l, axis))
			case 1:
				s = append(s, must(part.Turned(box(x, y, z, d, l, size.Draw(t, "h")), rapid.Float64Range(-3, 3).Draw(t, "angle"), axis)))
			case 2:
				s = append(s, must(part.NewTube(part.Vec{x * mm, y * mm, z * mm}, d*mm, 0.8*d*mm, l*mm, axis)))
			}
		}
		opt := grid.Options{Across: 1, TargetCells: 3000}
		g, err := grid.Build(s, opt)
		if err != nil {
			t.Fatal(err)
		}
		checkSound(t, g, opt)
		last := len(s) - 1 // nothing cuts the last one
		near(t, "volume of the last", g.BodyVolumeM3(last), s[last].VolumeM3(), 0.01)
	})
}
