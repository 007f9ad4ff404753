package radiate

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Estimated views are true ones with the scatter of counts; Smooth makes them exact enclosures again.
func TestSmoothClosesAnything(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		area, _, v := enclosure(rt)
		true0 := append([]float64(nil), v.Share...)
		noise := rapid.Float64Range(-3, 3)
		for k, f := range v.Share {
			if f > 0 {
				v.Share[k] = min(1, math.Max(0, f+0.01*math.Sqrt(f)*noise.Draw(rt, "noise")))
			}
		}
		if err := v.Smooth(area); err != nil {
			rt.Fatal(err)
		}
		if r, c := v.Defect(area); r > 1e-10 || c > 1e-10 {
			rt.Fatalf("after smoothing reciprocity is off by %g, closure by %g", r, c)
		}
		for k, f := range v.Share {
			if !(f >= 0) {
				rt.Fatalf("share %d is %g", k, f)
			}
			if i := k / (v.N + v.Far); true0[k] == 0 && f > 1e-6 && k%(v.N+v.Far) != i {
				rt.Fatalf("share %d was zero and is %g", k, f)
			}
		}
	})
}

// What is possible already stays as it is.
func TestSmoothLeavesTruth(t *testing.T) {
	area, v := channelViews(6, 25, 60)
	was := append([]float64(nil), v.Share...)
	if err := v.Smooth(area); err != nil {
		t.Fatal(err)
	}
	for k := range was {
		if v.Share[k] != was[k] {
			t.Errorf("share %d: %.17g became %.17g", k, was[k], v.Share[k])
		}
	}
}

// A small surface near a large one: its own rays tell its view far better than the large one's few hits. A disk of 1 cm²
// facing a plate of 1000 cm²: the disk's row says 0.6; the plate's says 0.6/1000, here estimated 70 % too high. The
// small surface's view must not move by more than the large one's weight in the mean, 1/1001 of 70 %.
func TestSmoothTrustsTheSmallSurface(t *testing.T) {
	area := []float64{1, 1000}
	v := &Views{N: 2, Far: 1, Share: []float64{0, 0.6, 0.4, 1.7 * 0.6e-3, 0, 0.999}}
	if err := v.Smooth(area); err != nil {
		t.Fatal(err)
	}
	near(t, "small to large", v.Row(0)[1], 0.6, 0.7/1000)
	near(t, "large to small", v.Row(1)[0], 0.6e-3, 0.7/1000)
	near(t, "large to far", v.Row(1)[2], 1-0.6e-3, 1e-6)
}

// The nearest in the measure Smooth states: no possible enclosure nearby is nearer. Neighbours are reached by moving exchange
// area around a loop of two surfaces and the far field, which keeps every row closed.
func TestSmoothIsNearest(t *testing.T) {
	area := []float64{1, 0.3, 2}
	raw := []float64{0.1, 0.2, 0.3, 0.42, 0.6, 0, 0.21, 0.2, 0.16, 0.03, 0.02, 0.8}
	v := &Views{N: 3, Far: 1, Share: append([]float64(nil), raw...)}
	if err := v.Smooth(area); err != nil {
		t.Fatal(err)
	}
	distance := func(share func(i, j int) float64) float64 {
		sum := 0.0
		for i := range 3 {
			for j := i; j < 4; j++ {
				c, x0 := area[i], area[i]*raw[i*4+j]
				if j != i && j < 3 {
					c = area[i] * area[j] / (area[i] + area[j])
					x0 = c * (raw[i*4+j] + raw[j*4+i])
				}
				if x := area[i] * share(i, j); x0 > 0 {
					sum += (x*math.Log(x/x0) - x + x0) / c
				}
			}
		}
		return sum
	}
	at := func(i, j int) float64 { return v.Row(i)[j] }
	best := distance(at)
	for _, d := range []float64{1e-3, -1e-3} {
		for _, p := range [][2]int{{0, 1}, {0, 2}, {1, 2}} {
			moved := distance(func(i, j int) float64 {
				f := at(i, j)
				switch {
				case i == p[0] && j == p[1]:
					f += d / area[i]
				case j == 3 && (i == p[0] || i == p[1]):
					f -= d / area[i]
				}
				return f
			})
			if moved <= best {
				t.Errorf("moving %g between %v is nearer: %g, not %g", d, p, moved, best)
			}
		}
	}
}

func TestSmoothOddInput(t *testing.T) {
	for name, tc := range map[string]struct {
		area []float64
		v    *Views
	}{
		"sees nothing":                   {[]float64{1, 2}, &Views{N: 2, Far: 1, Share: []float64{0, 0, 0, 0, 0, 1}}},
		"no area":                        {[]float64{0, 2}, &Views{N: 2, Far: 1, Share: []float64{0, 0.5, 0.5, 0.1, 0, 0.9}}},
		"only each other, unlike areas":  {[]float64{1, 1.01}, &Views{N: 2, Share: []float64{0, 1, 1, 0}}},
		"tiny beside huge":               {[]float64{1e-9, 1}, &Views{N: 2, Far: 1, Share: []float64{0, 1, 0, 0, 0.5, 0.5}}},
		"nothing":                        {nil, NewViews(0, 1)},
		"all without area":               {[]float64{0}, &Views{N: 1, Far: 1, Share: []float64{0.2, 0.3}}},
		"hits one way only, closed pair": {[]float64{1, 5}, &Views{N: 2, Far: 0, Share: []float64{0, 1, 0, 1}}},
	} {
		if err := tc.v.Smooth(tc.area); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if r, c := tc.v.Defect(tc.area); !(r <= 1e-9 && c <= 1e-9) {
			t.Errorf("%s: reciprocity off by %g, closure by %g: %v", name, r, c, tc.v.Share)
		}
	}
}
