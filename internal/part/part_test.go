package part

import (
	"math"
	"sort"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

const milli = 1e-3

func must(s Solid, err error) Solid {
	if err != nil {
		panic(err)
	}
	return s
}

func vec(x, y, z float64) Vec { return Vec{x * milli, y * milli, z * milli} }

func fins(out, sign int) FinBlockParams {
	return FinBlockParams{Min: vec(1, 2, 3), BaseM: [2]float64{20 * milli, 30 * milli}, BaseThicknessM: 2 * milli, Count: 5, HeightM: 8 * milli,
		FinThicknessM: 1 * milli, Along: (out + 1) % 3, OutAxis: out, OutSign: sign}
}

// shape is a solid with its volume (mm³) and surface (mm²) from the closed forms of solid geometry.
type shape struct {
	name         string
	s            Solid
	volume, area float64
}

func shapes() []shape {
	pi := math.Pi
	block := must(NewBox(vec(1, 2, 3), vec(30, 20, 10)))
	list := []shape{
		{"block", block, 6000, 2200},
		{"hollow", must(NewHollow(vec(-5, 0, 3), vec(30, 20, 10), 1.5*milli)), 6000 - 27*17*7, 2200 + 2*(27*17+27*7+17*7)},
		{"bar along x", must(NewCylinder(vec(0, 1, 2), 12*milli, 40*milli, 0)), pi * 36 * 40, pi*12*40 + 2*pi*36},
		{"tube along y", must(NewTube(vec(0, 1, 2), 12*milli, 8*milli, 40*milli, 1)), pi * (36 - 16) * 40, pi*(12+8)*40 + 2*pi*(36-16)},
		{"can along z", must(NewCan(vec(0, 1, 2), 12*milli, 40*milli, 2, 1*milli)), pi*36*40 - pi*25*38, pi*12*40 + 2*pi*36 + pi*10*38 + 2*pi*25},
		// base 20 x 30 x 2 with 5 fins 8 high and 1 thick; they run along the base's other side, which is 30 or 20 long
		{"fins to +z", must(NewFinBlock(fins(2, 1))), 1200 + 5*8*20, 2*600 + 2*50*2 + 5*2*8*(20+1)},
		{"fins to -x", must(NewFinBlock(fins(0, -1))), 1200 + 5*8*20, 2*600 + 2*50*2 + 5*2*8*(20+1)},
		{"fins to +y", must(NewFinBlock(fins(1, 1))), 1200 + 5*8*30, 2*600 + 2*50*2 + 5*2*8*(30+1)},
		{"plate with a hole", must(Cut(must(NewBox(Vec{}, vec(30, 20, 3))), must(NewCylinder(vec(10, 5, -1), 8*milli, 9*milli, 2)))), 1800 - pi*16*3, 2*(600+90+60) - 2*pi*16 + pi*8*3},
		{"plate with a blind hole", must(Cut(must(NewBox(Vec{}, vec(30, 20, 3))), must(NewCylinder(vec(10, 5, 2), 8*milli, 9*milli, 2)))), 1800 - pi*16, 2*(600+90+60) + pi*8},
		{"corner cut away, twice over", must(Cut(block, must(NewBox(vec(-4, -3, -2), vec(15, 15, 15))), must(NewBox(vec(-4, -3, -2), vec(10, 10, 40))))), 6000 - 10*10*10, 2200},
		{"quarter sector cut off a disc", must(Cut(must(NewCylinder(Vec{}, 20*milli, 4*milli, 2)), must(NewBox(vec(10, 10, -1), vec(20, 20, 20))))), pi * 100 * 4 * 3 / 4, 2*pi*100*3/4 + (pi*20*3/4+20)*4},
	}
	for _, angle := range []float64{0.4, math.Pi / 4, math.Pi / 2, -2.2, math.Pi} {
		for axis := 0; axis < 3; axis++ {
			for _, base := range list[:8] {
				list = append(list, shape{base.name + " turned", must(Turned(base.s, angle, axis)), base.volume, base.area})
			}
		}
	}
	return list
}

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: got %.9g, want %.9g", what, got, want)
	}
}

func TestVolume(t *testing.T) {
	for _, c := range shapes() {
		tol := 1e-12
		if cut, ok := c.s.(*CutSolid); ok && !cut.VolumeExact() {
			tol = 1e-3
			if c.name != "quarter sector cut off a disc" {
				t.Errorf("%s: the volume should be closed form", c.name)
			}
		}
		near(t, c.name+": volume", c.s.VolumeM3(), c.volume*1e-9, tol)
	}
}

// Contains and Bounds against the closed-form volume: the share of evenly spread points (multiples of powers of 1/g modulo 1,
// g the root of g⁴ = g + 1) that is inside. 100 000 such points are right to some 0.3 %.
func TestContainsFillsTheVolume(t *testing.T) {
	const n, g = 100_000, 1.2207440846057596
	for _, c := range shapes() {
		b := c.s.Bounds()
		size := b.Size()
		in := 0
		for i := 1; i <= n; i++ {
			p, step := b.Min, 1.0
			for a := range p {
				step /= g
				_, frac := math.Modf(float64(i) * step)
				p[a] += size[a] * frac
			}
			if c.s.Contains(p) {
				in++
			}
		}
		near(t, c.name+": points inside", float64(in)/n*b.volumeM3(), c.volume*1e-9, 0.01)
		for a := 0; a < 3; a++ {
			p := c.s.Planes(a)
			if !sort.Float64sAreSorted(p) || math.Abs(p[0]-b.Min[a]) > 1e-15 || math.Abs(p[len(p)-1]-b.Max[a]) > 1e-15 {
				t.Errorf("%s: planes %v of bounds %v", c.name, p, b)
			}
		}
	}
}

// The elements of a surface that is wholly oblique sum up to the whole surface, their vectors to nothing, and by the
// divergence theorem their moments to three times the volume: ∮ p·n dA = 3 V.
func TestFacets(t *testing.T) {
	once := 0.35
	for _, c := range shapes() {
		if _, ok := c.s.(*CutSolid); ok {
			continue // cutters stick out: the caller sorts that out
		}
		s := must(Turned(must(Turned(c.s, once, 0)), 0.77, 1))
		var area, moment float64
		var sum Vec
		Facets(s, vec(0.5, 0.5, 0.5), func(f Facet) {
			area += f.AreaM2
			sum = add(sum, scale(f.Normal, f.AreaM2))
			moment += dot(f.At, f.Normal) * f.AreaM2
			if math.Abs(dot(f.Normal, f.Normal)-1) > 1e-12 {
				t.Fatalf("%s: normal %v", c.name, f.Normal)
			}
			in, out := add(f.At, scale(f.Normal, -1e-7)), add(f.At, scale(f.Normal, 1e-7))
			if !s.Contains(in) || s.Contains(out) {
				t.Fatalf("%s: the normal at %v does not point out", c.name, f.At)
			}
		})
		near(t, c.name+": area", area, c.area*1e-6, 1e-9)
		near(t, c.name+": moments", moment/3, c.volume*1e-9, 5e-3) // midpoints of curved elements
		if l := math.Sqrt(dot(sum, sum)); l > 1e-9*area {
			t.Errorf("%s: the surface is open by %g", c.name, l/area)
		}
	}
	// an aligned solid has no oblique surface
	Facets(must(NewHollow(Vec{}, vec(10, 10, 10), milli)), vec(1, 1, 1), func(Facet) { t.Fatal("a facet") })
}

// Against agrees with Contains: points of a box the solid fills are inside, of one it is apart from are not, and between two
// planes of an aligned solid there is no doubt.
func TestAgainst(t *testing.T) {
	all := shapes()
	rapid.Check(t, func(t *rapid.T) {
		c := all[rapid.IntRange(0, len(all)-1).Draw(t, "shape")]
		b := c.s.Bounds()
		var box Box
		for a := range box.Min {
			lo, l := rapid.Float64Range(-0.2, 1).Draw(t, "lo"), rapid.Float64Range(0.001, 0.4).Draw(t, "length")
			box.Min[a] = b.Min[a] + lo*b.Size()[a]
			box.Max[a] = box.Min[a] + l*b.Size()[a]
		}
		rel := c.s.Against(box)
		if rel == Crosses {
			return
		}
		for i := 0; i < 20; i++ {
			p := box.Min
			for a := range p {
				p[a] += rapid.Float64Range(0.001, 0.999).Draw(t, "p") * box.Size()[a]
			}
			if c.s.Contains(p) != (rel == Fills) {
				t.Fatalf("%s: relation %d to %v, but contains %v: %v", c.name, rel, box, p, c.s.Contains(p))
			}
		}
	})
	for _, c := range all {
		if !c.s.Aligned() {
			continue
		}
		x, y, z := c.s.Planes(0), c.s.Planes(1), c.s.Planes(2)
		for i := 1; i < len(x); i++ {
			for j := 1; j < len(y); j++ {
				for k := 1; k < len(z); k++ {
					cell := Box{Min: Vec{x[i-1] + 1e-9, y[j-1] + 1e-9, z[k-1] + 1e-9}, Max: Vec{x[i] - 1e-9, y[j] - 1e-9, z[k] - 1e-9}}
					if c.s.Against(cell) == Crosses {
						t.Fatalf("%s: crosses %v, which lies between its planes", c.name, cell)
					}
				}
			}
		}
	}
}

func TestTurned(t *testing.T) {
	// counter-clockwise seen from the axis' positive end: about z, +x goes to +y
	s := must(Turned(must(NewBox(vec(0, 0, 0), vec(40, 10, 6))), math.Pi/2, 2))
	b := s.Bounds()
	for a, want := range [3][2]float64{{15, 25}, {-15, 25}, {0, 6}} {
		if math.Abs(b.Min[a]-want[0]*milli) > 1e-15 || math.Abs(b.Max[a]-want[1]*milli) > 1e-15 {
			t.Errorf("axis %d: %g to %g mm, want %v", a, b.Min[a]/milli, b.Max[a]/milli, want)
		}
	}
	if !s.Aligned() {
		t.Error("a box turned by a quarter is aligned")
	}
	// fins to +z turned by +90° about x point to −y; the positive turn takes +y to +z
	f := must(Turned(must(NewFinBlock(fins(2, 1))), math.Pi/2, 0))
	tips, err := Face(f, "bottom")
	if err != nil || tips.Axis != 1 || tips.Sign != -1 {
		t.Fatalf("%+v, %v", tips, err)
	}
	near(t, "tips", tips.Center[1], f.Bounds().Min[1], 1e-12)
	base, err := Face(f, "top")
	if err != nil || base.Sign != 1 {
		t.Fatal(base, err)
	}
	near(t, "base", base.Center[1], f.Bounds().Max[1], 1e-12)
	// exact bounds of a square bar turned by 45°: the diagonal; a round bar turned about its own axis keeps its bounds
	d := must(Turned(must(NewBox(Vec{}, vec(10, 10, 5))), math.Pi/4, 2)).Bounds().Size()
	near(t, "diagonal", d[0], 10*math.Sqrt2*milli, 1e-12)
	r := must(Turned(must(NewCylinder(Vec{}, 10*milli, 20*milli, 2)), 0.3, 2)).Bounds().Size()
	near(t, "round", r[0], 10*milli, 1e-12)
	if s, _ := Turned(s, 2*math.Pi, 1); s.Bounds() != b {
		t.Error("a whole turn changes nothing")
	}
}

func TestFace(t *testing.T) {
	shell := must(NewHollow(vec(0, 0, 0), vec(60, 90, 22), 2*milli))
	bar := must(NewCylinder(vec(0, 0, 0), 10*milli, 30*milli, 0))
	block := must(NewFinBlock(FinBlockParams{BaseM: [2]float64{20 * milli, 30 * milli}, BaseThicknessM: 2 * milli, Count: 5, HeightM: 8 * milli,
		FinThicknessM: 1 * milli, Along: 1, OutAxis: 2, OutSign: 1}))
	for _, c := range []struct {
		s          Solid
		name       string
		center     Vec
		axis, sign int
		size       [2]float64
		inside     bool
	}{
		{shell, "front", vec(30, 45, 22), 2, 1, [2]float64{60, 90}, false},
		{shell, "left", vec(0, 45, 11), 0, -1, [2]float64{90, 22}, false},
		{shell, "inside back", vec(30, 45, 2), 2, 1, [2]float64{56, 86}, true},
		{shell, "Inside  Top", vec(30, 88, 11), 1, -1, [2]float64{56, 18}, true},
		{bar, "right", vec(30, 5, 5), 0, 1, [2]float64{10, 10}, false},
		{bar, "top", vec(15, 10, 5), 1, 1, [2]float64{30, 10}, false},
		{block, "front", vec(10, 15, 10), 2, 1, [2]float64{20, 30}, false},
		{block, "back", vec(10, 15, 0), 2, -1, [2]float64{20, 30}, false},
		{block, "right", vec(20, 15, 1), 0, 1, [2]float64{30, 2}, false},
	} {
		f, err := Face(c.s, c.name)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		d := sub(f.Center, c.center)
		if math.Sqrt(dot(d, d)) > 1e-12 || f.Axis != c.axis || f.Sign != c.sign || f.Inside != c.inside ||
			math.Abs(f.Size[0]-c.size[0]*milli) > 1e-12 || math.Abs(f.Size[1]-c.size[1]*milli) > 1e-12 {
			t.Errorf("%s: %+v", c.name, f)
		}
	}
	for name, s := range map[string]Solid{"frnt": shell, "inside": shell, "": bar, "inside left": bar} {
		if f, err := Face(s, name); err == nil {
			t.Errorf("face %q: %+v", name, f)
		}
	}
}

func TestFinsAreFlushAndEven(t *testing.T) {
	f := must(NewFinBlock(fins(2, 1))).(*FinBlock) // along x (axis 0), one after the other along y, 30 wide
	near(t, "pitch", f.PitchM, 29./4*milli, 1e-12)
	near(t, "gap", f.GapM, (30-5.)/4*milli, 1e-12)
	if f.Fin(0).Min[1] != f.Base.Min[1] || f.Fin(4).Max[1] != f.Base.Max[1] {
		t.Errorf("outer fins %v %v on base %v", f.Fin(0), f.Fin(4), f.Base)
	}
	if n := len(f.Planes(1)); n != 10 {
		t.Errorf("%d planes across five fins", n)
	}
	p := fins(2, 1)
	p.Count = 1
	one := must(NewFinBlock(p)).(*FinBlock)
	near(t, "single fin in the middle", one.Fin(0).Centre()[1], one.Base.Centre()[1], 1e-12)
	near(t, "volume of a single fin", one.VolumeM3(), (1200+8*20)*1e-9, 1e-12)
}

func TestErrorsTellABenchPerson(t *testing.T) {
	size := vec(60, 90, 22)
	box := must(NewBox(Vec{}, size))
	wide, along, none := fins(2, 1), fins(2, 1), fins(2, 1)
	wide.Count, along.Along, none.Count = 31, 2, 0
	tip := fins(2, 0)
	for _, c := range []struct {
		says string
		make func() (Solid, error)
	}{
		{"size along y is 0 mm; it must be above zero", func() (Solid, error) { return NewBox(Vec{}, vec(1, 0, 1)) }},
		{"size along z is -2 mm", func() (Solid, error) { return NewBox(Vec{}, vec(1, 1, -2)) }},
		{"size along x is not a number", func() (Solid, error) { return NewBox(Vec{}, Vec{math.NaN(), 1, 1}) }},
		{"check the unit", func() (Solid, error) { return NewBox(Vec{}, Vec{1, 1, 1e5}) }},
		{"place along y is not a number", func() (Solid, error) { return NewBox(Vec{0, math.Inf(1), 0}, size) }},
		{"wall of 11 mm leaves no cavity in the 22 mm along z: make the wall thinner than 11 mm", func() (Solid, error) { return NewHollow(Vec{}, size, 11*milli) }},
		{"its wall is 0 mm", func() (Solid, error) { return NewHollow(Vec{}, size, 0) }},
		{"inner diameter of 8 mm leaves no wall", func() (Solid, error) { return NewTube(Vec{}, 8*milli, 8*milli, 1*milli, 0) }},
		{"wall of 5 mm leaves no cavity: make it thinner than 5 mm", func() (Solid, error) { return NewCan(Vec{}, 10*milli, 30*milli, 0, 5*milli) }},
		{"axis is not x, y or z", func() (Solid, error) { return NewCylinder(Vec{}, 1*milli, 1*milli, 3) }},
		{"31 fins of 1 mm need more than the base's 30 mm along y: take fewer than 30 fins", func() (Solid, error) { return NewFinBlock(wide) }},
		{"run along z and also point along z", func() (Solid, error) { return NewFinBlock(along) }},
		{"it has 0 fins", func() (Solid, error) { return NewFinBlock(none) }},
		{"direction they point", func() (Solid, error) { return NewFinBlock(tip) }},
		{"angle it is turned by is not a number", func() (Solid, error) { return Turned(box, math.NaN(), 0) }},
		{"cut-out 1 lies beside the part", func() (Solid, error) { return Cut(box, must(NewBox(vec(70, 0, 0), size))) }},
		{"cut-out 1 takes the whole part away", func() (Solid, error) { return Cut(box, must(NewBox(vec(-1, -1, -1), vec(100, 100, 100)))) }},
		{"take the whole part away", func() (Solid, error) {
			return Cut(box, must(NewBox(Vec{}, vec(30, 90, 22))), must(NewBox(vec(30, 0, 0), size)))
		}},
	} {
		s, err := c.make()
		if err == nil {
			t.Errorf("no error, want %q", c.says)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("error %q, want %q in it", err, c.says)
		} else if s != nil {
			t.Errorf("%q: a solid besides the error", c.says)
		}
	}
}

func BenchmarkAgainst(b *testing.B) {
	s := must(NewFinBlock(fins(2, 1)))
	box := Box{Min: vec(5, 10, 6), Max: vec(6, 11, 7)}
	b.ReportAllocs()
	for b.Loop() {
		s.Against(box)
	}
}
