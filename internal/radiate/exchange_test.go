package radiate

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// lossW is the net loss of every surface, W.
func lossW(x *Exchange, tK []float64) []float64 {
	q := make([]float64, x.N)
	for i := range q {
		for j, a := range x.Row(i) {
			q[i] += a * StefanBoltzmann * (math.Pow(tK[i], 4) - math.Pow(tK[j], 4))
		}
	}
	return q
}

func exchange(t interface{ Fatal(...any) }, areaM2, emissivity []float64, v *Views) *Exchange {
	x, err := NewExchange(areaM2, emissivity, v)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func TestTwoSurfaces(t *testing.T) {
	for _, e := range [][2]float64{{0.05, 0.05}, {0.8, 0.3}, {1, 0.3}, {1, 1}, {1e-9, 0.5}} {
		// Large parallel planes: Incropera et al., 6th ed., eq. 13.19.
		x := exchange(t, []float64{3, 3}, e[:], &Views{N: 2, Share: []float64{0, 1, 1, 0}})
		near(t, "planes", x.AreaM2[1], 3/(1/e[0]+1/e[1]-1), 1e-12)
		// A convex body in a closed shell (concentric spheres, boxes one in the other): eq. 13.21, A1/(1/ε1 + (1-ε2)/ε2 A1/A2);
		// with areas in the ratio of radii it is eq. 13.20 for long cylinders.
		a1, a2 := 0.02, 0.07
		x = exchange(t, []float64{a1, a2}, e[:], &Views{N: 2, Share: []float64{0, 1, a1 / a2, 1 - a1/a2}})
		near(t, "shell", x.AreaM2[1], a1/(1/e[0]+(1-e[1])/e[1]*a1/a2), 1e-12)
	}
}

// Incropera et al., 6th ed., Example 13.7 (from memory): a long oven of triangular section, sides of 1 m, one heated to 1200 K of
// emissivity 0.8, one of painted panels at 500 K and 0.4, the third re-radiating: 37 kW/m, and the third at 1102 K.
func TestReradiatingWall(t *testing.T) {
	v := &Views{N: 3, Share: []float64{0, 0.5, 0.5, 0.5, 0, 0.5, 0.5, 0.5, 0}}
	area := []float64{1, 1, 1}
	x := exchange(t, area, []float64{0.8, 0.4, 0}, v)
	q := lossW(x, []float64{1200, 500, 700})
	near(t, "oven, kW/m", q[0]/1e3, 37, 2e-3)
	near(t, "panels", q[1], -q[0], 1e-12)
	if q[2] != 0 {
		t.Errorf("re-radiating wall loses %g W", q[2])
	}
	// The same with the wall black and adiabatic: its temperature is the one at which it loses nothing.
	x = exchange(t, area, []float64{0.8, 0.4, 1}, v)
	r := x.Row(2)
	t4 := (r[0]*math.Pow(1200, 4) + r[1]*math.Pow(500, 4)) / (r[0] + r[1])
	near(t, "wall, K", math.Pow(t4, 0.25), 1102, 1e-3)
	near(t, "oven with it", lossW(x, []float64{1200, 500, math.Pow(t4, 0.25)})[0], q[0], 1e-9)
}

// channelViews are base and two fins of an open channel, surroundings black.
func channelViews(gapM, depthM, lengthM float64) (areaM2 []float64, v *Views) {
	bf := ViewPerpendicular(lengthM, gapM, depthM)
	fb := bf * gapM / depthM
	ff := ViewParallel(depthM, lengthM, gapM)
	return []float64{gapM * lengthM, depthM * lengthM, depthM * lengthM}, &Views{N: 3, Far: 1, Share: []float64{
		0, bf, bf, 1 - 2*bf,
		fb, 0, ff, 1 - fb - ff,
		fb, ff, 0, 1 - fb - ff,
	}}
}

// Isothermal open channel, base S between two fins H, length L: radiosity of three uniform zones solved independently, heat
// over σT⁴ times base area; 0.5 %. The infinitely long one is the cavity of uniform radiosity 1/[1+(S/(S+2H))(1/ε-1)] less the
// 0.24 % by which three zones lie lower.
func TestOpenChannel(t *testing.T) {
	for _, tc := range []struct{ s, h, l, eps, perBase float64 }{
		{6, 25, 60, 0.1, 0.63551}, {6, 25, 60, 0.5, 1.39586}, {6, 25, 60, 0.85, 1.59193}, {6, 25, 60, 0.95, 1.62628}, {6, 25, 60, 1, 1.64133},
		{10, 10, 10, 0.1, 0.28125}, {10, 10, 10, 0.5, 1.12507}, {10, 10, 10, 0.85, 1.62780}, {10, 10, 10, 1, 1.80018},
		{10, 10, 1e5, 0.5, 0.74755}, {10, 10, 1e5, 0.85, 0.94319},
	} {
		area, v := channelViews(tc.s, tc.h, tc.l)
		x := exchange(t, area, []float64{tc.eps, tc.eps, tc.eps}, v)
		out := x.Row(0)[3] + x.Row(1)[3] + x.Row(2)[3]
		near(t, "per base", out/area[0], tc.perBase, 1e-3)
	}
	_, v := channelViews(6, 25, 60) // view factors of the same source
	near(t, "base to outside", v.Row(0)[3], 0.088458+2*0.045390, 1e-4)
	near(t, "fin to outside", v.Row(1)[3], 0.098491+2*0.038480, 1e-3)
}

// By hand: J_b = ε + 2(1-ε) F_bf J_f, J_f = ε + (1-ε)(F_fb J_b + F_ff J_f).
func TestOpenChannelByHand(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		mm := rapid.Float64Range(1, 80)
		s, h, l, eps := mm.Draw(rt, "s"), mm.Draw(rt, "h"), mm.Draw(rt, "l"), rapid.Float64Range(0.01, 1).Draw(rt, "eps")
		area, v := channelViews(s, h, l)
		x := exchange(rt, area, []float64{eps, eps, eps}, v)
		bf, fb, ff, r := v.Row(0)[1], v.Row(1)[0], v.Row(1)[2], 1-eps
		jf := eps * (1 + r*fb) / (1 - r*ff - 2*r*r*fb*bf)
		jb := eps + 2*r*bf*jf
		base, fin := jb-2*bf*jf, jf-fb*jb-ff*jf
		if d := math.Abs(x.Row(0)[3]/area[0] - base); d > 1e-9 {
			rt.Fatalf("base off by %g", d)
		}
		if d := math.Abs(x.Row(1)[3]/area[1] - fin); d > 1e-9 {
			rt.Fatalf("fin off by %g", d)
		}
	})
}

// enclosure draws a possible one: any symmetric exchange areas are one when the areas are their sums.
func enclosure(rt *rapid.T) (areaM2, eps []float64, v *Views) {
	n, far := rapid.IntRange(1, 7).Draw(rt, "n"), rapid.IntRange(0, 2).Draw(rt, "far")
	share := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1e-3, 1), rapid.Float64Range(1e-9, 1e-4))
	v = NewViews(n, far)
	areaM2, eps = make([]float64, n), make([]float64, n)
	for i := range n {
		for j := range v.Row(i) {
			if j >= i {
				v.Row(i)[j] = share.Draw(rt, "x")
				if j < n {
					v.Row(j)[i] = v.Row(i)[j]
				}
			}
		}
		eps[i] = rapid.OneOf(rapid.Just(0.0), rapid.Just(1.0), rapid.Float64Range(0, 1)).Draw(rt, "eps")
	}
	for i := range n {
		for _, x := range v.Row(i) {
			areaM2[i] += x
		}
		if areaM2[i] == 0 {
			areaM2[i], v.Row(i)[i] = 1, 1
		}
		for j := range v.Row(i) {
			v.Row(i)[j] /= areaM2[i]
		}
	}
	return areaM2, eps, v
}

func TestExchangeIsPhysical(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		area, eps, v := enclosure(rt)
		x := exchange(rt, area, eps, v)
		black := true
		for _, e := range eps {
			black = black && e == 1
		}
		for i := range v.N {
			sum := 0.0
			for j, a := range x.Row(i) {
				if !(a >= 0) || i == j && a != 0 {
					rt.Fatalf("exchange area %d-%d is %g m²", i, j, a)
				}
				if j < v.N && a != x.Row(j)[i] {
					rt.Fatalf("%d-%d: %g one way, %g the other", i, j, a, x.Row(j)[i])
				}
				if j != i && black && math.Abs(a-area[i]*v.Row(i)[j]) > 1e-12*area[i] {
					rt.Fatalf("black: %g m², A·F is %g", a, area[i]*v.Row(i)[j])
				}
				sum += a
			}
			if sum > area[i]*(eps[i]*(1+1e-9)+1e-300) { // a hair for numbers too small to be kept in full: no surface exchanges more than it emits
				rt.Fatalf("surface %d exchanges %g of %g m²", i, sum, area[i]*eps[i])
			}
		}
	})
}

// The textbook's linear system, (I - diag(1-ε) F) J = ε E, as the slow twin.
func TestExchangeAgainstRadiosities(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		area, eps, v := enclosure(rt)
		for i := range eps {
			eps[i] = 0.02 + 0.98*eps[i] // the system is singular where nothing absorbs
		}
		x := exchange(rt, area, eps, v)
		n := v.N
		e := make([]float64, n+v.Far)
		for j := range e {
			e[j] = rapid.Float64Range(0, 2).Draw(rt, "E")
		}
		m, b := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
		for i := range n {
			rhs := eps[i] * e[i]
			for j, f := range v.Row(i) {
				if j < n {
					m.Set(i, j, -(1-eps[i])*f)
				} else {
					rhs += (1 - eps[i]) * f * e[j]
				}
			}
			m.Set(i, i, m.At(i, i)+1)
			b.SetVec(i, rhs)
		}
		var j mat.VecDense
		if err := j.SolveVec(m, b); err != nil {
			rt.Fatal(err)
		}
		for i := range n {
			falls, want := 0.0, 0.0
			for k, f := range v.Row(i) {
				if k < n {
					falls += f * j.AtVec(k)
				} else {
					falls += f * e[k]
				}
				want += x.Row(i)[k] * (e[i] - e[k])
			}
			if got := area[i] * eps[i] * (e[i] - falls); math.Abs(got-want) > 1e-9*area[i] {
				rt.Fatalf("surface %d: radiosities give %g, exchange areas %g", i, got, want)
			}
		}
	})
}

func TestOnlyItself(t *testing.T) {
	for _, eps := range []float64{0, 0.3, 1} {
		for _, a := range exchange(t, []float64{2}, []float64{eps}, &Views{N: 1, Far: 1, Share: []float64{1, 0}}).AreaM2 {
			if a != 0 {
				t.Errorf("ε %g: a surface that sees only itself exchanges %g m²", eps, a)
			}
		}
		near(t, "alone", exchange(t, []float64{2}, []float64{eps}, &Views{N: 1, Far: 1, Share: []float64{0, 1}}).AreaM2[1], 2*eps, 1e-12)
	}
	if x := exchange(t, nil, nil, NewViews(0, 2)); len(x.AreaM2) != 0 {
		t.Error("nothing exchanges something")
	}
}

func TestErrorsOfExchange(t *testing.T) {
	ok := &Views{N: 1, Far: 1, Share: []float64{0.5, 0.5}}
	for what, err := range map[string]error{
		"emissivity of 1.2": func() error { _, err := NewExchange([]float64{1}, []float64{1.2}, ok); return err }(),
		"emissivity of NaN": func() error { _, err := NewExchange([]float64{1}, []float64{math.NaN()}, ok); return err }(),
		"area of -1":        func() error { _, err := NewExchange([]float64{-1}, []float64{1}, ok); return err }(),
		"need 1 areas":      func() error { _, err := NewExchange(nil, []float64{1}, ok); return err }(),
		"many values":       func() error { _, err := NewExchange([]float64{1}, nil, ok); return err }(),
		"smooth them first": func() error {
			_, err := NewExchange([]float64{1}, []float64{1}, &Views{N: 1, Far: 1, Share: []float64{0.5, 0.4}})
			return err
		}(),
		"between 0 and 1":      (&Views{N: 1, Far: 1, Share: []float64{-0.5, 0.4}}).Smooth([]float64{1}),
		"absorptance of -1":    func() error { _, err := Absorbed([]float64{1}, []float64{-1}, ok, []float64{1}); return err }(),
		"incident light":       func() error { _, err := Absorbed([]float64{1}, []float64{1}, ok, nil); return err }(),
		"light on surface 1: ": func() error { _, err := Absorbed([]float64{1}, []float64{1}, ok, []float64{math.Inf(1)}); return err }(),
	} {
		if err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%q: error %v", what, err)
		}
	}
}

func TestAbsorbed(t *testing.T) {
	absorbed := func(area, alpha []float64, v *Views, in ...float64) []float64 {
		out, err := Absorbed(area, alpha, v, in)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	// To and fro between two planes is a geometric series: 1/(1-ρ1ρ2).
	for _, a := range [][2]float64{{0.2, 0.7}, {0, 0.7}, {1, 0.7}, {0.2, 0}} {
		out := absorbed([]float64{2, 2}, a[:], &Views{N: 2, Share: []float64{0, 1, 1, 0}}, 100, 0)
		s := 1 - (1-a[0])*(1-a[1])
		near(t, "lit plane", out[0], 100*a[0]/s, 1e-12)
		near(t, "other plane", out[1], 100*(1-a[0])*a[1]/s, 1e-12)
	}
	// A hollow of which the share f of all directions leads out takes in α/[1-(1-α)(1-f)]: geometric series again.
	near(t, "hollow", absorbed([]float64{1}, []float64{0.3}, &Views{N: 1, Far: 1, Share: []float64{0.8, 0.2}}, 50)[0], 50*0.3/(1-0.7*0.8), 1e-12)
	if out := absorbed([]float64{1}, []float64{0}, &Views{N: 1, Share: []float64{1}}, 50); out[0] != 0 {
		t.Errorf("a white closed hollow takes in %g", out[0])
	}
}

func TestLightIsConserved(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		area, alpha, v := enclosure(rt)
		in := make([]float64, v.N)
		for i := range in {
			alpha[i] = 0.01 + 0.99*alpha[i]
			in[i] = rapid.Float64Range(0, 1000).Draw(rt, "in")
		}
		out, err := Absorbed(area, alpha, v, in)
		if err != nil {
			rt.Fatal(err)
		}
		fed, kept := 0.0, 0.0
		for i := range out {
			h := out[i] / alpha[i] // all that falls on it
			falls := in[i]
			for j := range v.N {
				falls += v.Row(i)[j] * (1 - alpha[j]) * out[j] / alpha[j]
			}
			if math.Abs(h-falls) > 1e-9*(1+h) {
				rt.Fatalf("surface %d: %g W/m² falls on it, by its views %g", i, h, falls)
			}
			fed += area[i] * in[i]
			kept += area[i] * out[i]
			for _, f := range v.Row(i)[v.N:] {
				kept += area[i] * (1 - alpha[i]) * h * f
			}
		}
		if math.Abs(fed-kept) > 1e-9*(1+fed) {
			rt.Fatalf("%g W fed, %g W absorbed or out", fed, kept)
		}
	})
}
