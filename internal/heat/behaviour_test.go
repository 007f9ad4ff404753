package heat

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// freeConvection is h = c ΔT^n to ambientK, the form of free convection.
func freeConvection(c, n, ambientK float64) Law {
	return lawFunc(func(t, _ float64) Film { return Film{HWm2K: c * math.Pow(math.Abs(t-ambientK), n), RefK: ambientK} })
}

// A slab whose faces are held at 0 from the initial profile cos: cells of any size
// solve it to second order. T = exp(-(π/2)² t) cos(πx/2).
func TestOrderInSpace(t *testing.T) {
	errorAt := func(cells int) float64 {
		b := box([3]int{cells, 1, 1}, [3]float64{1, 1, 1}, 1, 1)
		b.side("held", 0, 1, hold(0))
		st, err := NewStepper(b.Model, Options{FixedStepS: 1e-3, LinTolK: 1e-12})
		if err != nil {
			t.Fatal(err)
		}
		tK := make([]float64, cells)
		for i := range tK {
			tK[i] = math.Cos(math.Pi / 2 * (float64(i) + 0.5) * b.d[0])
		}
		if err := st.Init(tK, 0); err != nil {
			t.Fatal(err)
		}
		run(t, st, 0.2)
		worst := 0.0
		for i, got := range st.TK() {
			x := (float64(i) + 0.5) * b.d[0]
			worst = math.Max(worst, math.Abs(got-math.Exp(-math.Pi*math.Pi/4*0.2)*math.Cos(math.Pi/2*x)))
		}
		return worst
	}
	e8, e16, e32 := errorAt(8), errorAt(16), errorAt(32)
	near(t, "error ratio 8 to 16 cells", e8/e16, 4, 0.2)
	near(t, "error ratio 16 to 32 cells", e16/e32, 4, 0.2)
}

// One cell that radiates into a swinging ambient: no closed form, so errors are
// measured against a classical fourth-order Runge-Kutta solution in tiny steps.
func TestOrderInTime(t *testing.T) {
	const cap, area, sigma, endS = 100.0, 0.02, 5.670374419e-8, 400.0
	ambient := func(tS float64) float64 { return 300 + 30*math.Sin(tS/90) }
	slope := func(tS, T float64) float64 {
		a := ambient(tS)
		return (5 - area*sigma*(math.Pow(T, 4)-math.Pow(a, 4)) - area*3*math.Pow(math.Abs(T-300), 1.25)*sign(T-300)) / cap
	}
	want := 450.0
	const n = 40000
	for i := range n {
		h := endS / n
		s := float64(i) * h
		k1 := slope(s, want)
		k2 := slope(s+h/2, want+h/2*k1)
		k3 := slope(s+h/2, want+h/2*k2)
		k4 := slope(s+h, want+h*k3)
		want += h / 6 * (k1 + 2*k2 + 2*k3 + k4)
	}
	errorAt := func(hS float64) float64 {
		b := box([3]int{1, 1, 1}, [3]float64{1, 1, 1}, 1, cap)
		one := func(name string, law Law) Surface {
			return Surface{Name: name, Cells: []int32{0}, AreaM2: []float64{area}, HalfWK: []float64{math.Inf(1)}, Law: law}
		}
		b.Surfaces = []Surface{
			one("walls", lawFunc(func(m, s float64) Film {
				a := ambient(s)
				return Film{HWm2K: sigma * (m*m + a*a) * (m + a), RefK: a}
			})),
			one("air", freeConvection(3, 0.25, 300)),
		}
		b.source("chip", 0)
		st := begin(t, b.Model, Options{FixedStepS: hS, LinTolK: 1e-11}, 450, 5)
		run(t, st, endS)
		return math.Abs(st.TK()[0] - want)
	}
	e1, e2, e3 := errorAt(40), errorAt(20), errorAt(10)
	if e3 < 1e-4 {
		t.Fatalf("errors %.3g %.3g %.3g K are too near the film tolerance to tell an order", e1, e2, e3)
	}
	near(t, "error ratio 40 to 20 s", e1/e2, 4, 1)
	near(t, "error ratio 20 to 10 s", e2/e3, 4, 0.6)
}

func sign(v float64) float64 { return math.Copysign(1, v) }

// The stability function of TR-BDF2 with γ = 2−√2 on C dT/dt = −G T,
// R(z) = [1+(1−2d+..)z]/(1−dz)²: computed here from its definition by stages.
func TestStabilityFunction(t *testing.T) {
	for _, z := range []float64{0.1, 1, 3, 30, 1e3, 1e6} {
		rg := (1 - Diagonal*z) / (1 + Diagonal*z)
		want := (1 - Weight*z*(1+rg)) / (1 + Diagonal*z)
		b := box([3]int{1, 1, 1}, [3]float64{1, 1, 1}, 1, 1)
		b.Surfaces = []Surface{{Name: "air", Cells: []int32{0}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)}, Law: convect(z, 0)}}
		st := begin(t, b.Model, Options{FixedStepS: 1}, 1)
		run(t, st, 1)
		near(t, fmt.Sprintf("R(-%g)", z), st.TK()[0], want, 1e-9)
		if z >= 1e3 && math.Abs(st.TK()[0]) > 6/z {
			t.Errorf("z=%g: a stiff component of %g is left", z, st.TK()[0])
		}
	}
}

// A thin layer on a good contact beside a slow block: with steps a million times its
// time constant it must follow the block, not ring.
func TestStiffLayerDoesNotRing(t *testing.T) {
	b := box([3]int{2, 1, 1}, [3]float64{1, 1, 1}, 1, 1)
	copy(b.CapJK, []float64{1e-3, 1000})
	b.GX[0] = 100 // time constant of the layer 10 µs
	b.Surfaces = []Surface{{Name: "air", Cells: []int32{1}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)}, Law: convect(1, 300)}}
	st, err := NewStepper(b.Model, Options{FixedStepS: 10})
	if err != nil {
		t.Fatal(err)
	}
	if err := st.Init([]float64{400, 350}, 0); err != nil {
		t.Fatal(err)
	}
	for range 5 {
		run(t, st, st.Time()+10)
		if d := st.TK()[0] - st.TK()[1]; math.Abs(d) > 0.01 {
			t.Errorf("layer is %g K off its block at %g s", d, st.Time())
		}
		mid := st.ProbeAt([]int32{0}, []float64{1}, st.Time()-5)
		if mid > 401 || mid < 300 {
			t.Errorf("dense output strays to %g K", mid)
		}
	}
}

// The same layer with the steps left to the error estimate: its transient of some 10 µs
// is followed although the block weighs a million times as much, and once it is over
// the steps grow by seven orders of magnitude.
func TestThinLayerIsFollowedThenLeft(t *testing.T) {
	b := box([3]int{2, 1, 1}, [3]float64{1, 1, 1}, 1, 1)
	copy(b.CapJK, []float64{1e-3, 1000})
	b.GX[0] = 100
	b.Surfaces = []Surface{{Name: "air", Cells: []int32{1}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)}, Law: convect(1, 300)}}
	st, err := NewStepper(b.Model, Options{FirstStepS: 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := st.Init([]float64{400, 350}, 0); err != nil {
		t.Fatal(err)
	}
	for _, s := range []float64{1e-6, 5e-6, 2e-5, 1e-4} {
		run(t, st, s)
		near(t, fmt.Sprintf("layer over its block at %g s", s), st.TK()[0]-st.TK()[1], 50*math.Exp(-s/1e-5), 0.1)
	}
	run(t, st, 1000)
	if s := st.Stats(); s.Steps > 60 {
		t.Errorf("%d steps, %d rejected", s.Steps, s.Rejected)
	}
	near(t, "layer after one time constant of the block", st.TK()[0], 300+50*math.Exp(-1), 0.1)
}

// draw makes a small random model with everything in it.
func draw(t *rapid.T, sources bool) (*Model, []float64, float64, float64) {
	cells := [3]int{rapid.IntRange(1, 4).Draw(t, "nx"), rapid.IntRange(1, 4).Draw(t, "ny"), rapid.IntRange(1, 3).Draw(t, "nz")}
	b := box(cells, [3]float64{0.01 * float64(cells[0]), 0.01 * float64(cells[1]), 0.01 * float64(cells[2])}, 1, 2e6)
	scale := rapid.Float64Range(-2, 2)
	for c := range b.CapJK {
		b.CapJK[c] *= math.Pow(10, scale.Draw(t, "cap")/2)
		b.GX[c] *= math.Pow(10, scale.Draw(t, "gx"))
		b.GY[c] *= math.Pow(10, scale.Draw(t, "gy"))
		b.GZ[c] *= math.Pow(10, scale.Draw(t, "gz"))
	}
	loK, hiK := math.Inf(1), math.Inf(-1)
	for i := range rapid.IntRange(1, 5).Draw(t, "surfaces") {
		ambientK := rapid.Float64Range(260, 340).Draw(t, "ambient")
		loK, hiK = math.Min(loK, ambientK), math.Max(hiK, ambientK)
		var law Law
		switch rapid.IntRange(0, 4).Draw(t, "law") {
		case 0:
			law = convect(rapid.Float64Range(0.1, 50).Draw(t, "h"), ambientK)
		case 1:
			law = radiate(0.9, 5.67e-8, ambientK)
		case 2:
			law = lawFunc(func(m, s float64) Film {
				a := freeConvection(1.5, 1./3, ambientK).Film([]float64{m}, 0, s)
				r := radiate(0.9, 5.67e-8, ambientK).Film([]float64{m}, 0, s)
				return Film{HWm2K: a.HWm2K + r.HWm2K, RefK: ambientK}
			})
		case 3:
			law = hold(ambientK)
		default:
			law = convect(0, ambientK)
		}
		axis, side := rapid.IntRange(0, 2).Draw(t, "axis"), rapid.SampledFrom([]int{-1, 1}).Draw(t, "side")
		b.side(fmt.Sprint("surface ", i), axis, side, law)
		s := &b.Surfaces[i]
		if _, held := law.(fixedFilm); !(held && law.(fixedFilm).HWm2K > 1e9) && rapid.Bool().Draw(t, "at the centre") {
			for e := range s.HalfWK {
				s.HalfWK[e] = math.Inf(1)
			}
		}
	}
	b.side("always", 0, 1, convect(5, loK))
	var powerW []float64
	if sources {
		b.source("chip", int32(rapid.IntRange(0, b.Cells()-1).Draw(t, "chip")))
		b.source("cell", 0)
		powerW = []float64{rapid.Float64Range(0, 5).Draw(t, "w1"), rapid.Float64Range(0, 2).Draw(t, "w2")}
	}
	return b.Model, powerW, loK, hiK
}

func TestBalanceCloses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, powerW, _, _ := draw(t, true)
		opt := Options{}
		if rapid.Bool().Draw(t, "fixed") {
			opt.FixedStepS = rapid.Float64Range(0.1, 300).Draw(t, "step")
		}
		st, err := NewStepper(m, opt)
		if err != nil {
			t.Fatal(err)
		}
		if err := st.InitUniform(300, 0); err != nil {
			t.Fatal(err)
		}
		inJ := 0.0
		for k := range 3 {
			w := make([]float64, len(powerW))
			for i := range w {
				w[i] = powerW[i] * float64(k%2)
			}
			if err := st.SetPower(w); err != nil {
				t.Fatal(err)
			}
			for until := st.Time() + 500; st.Time() < until; {
				s, err := st.Advance(context.Background(), until)
				if err != nil {
					t.Fatal(err)
				}
				if rapid.IntRange(0, 9).Draw(t, "rewind") == 0 {
					if err := st.RewindTo((s.FromS + s.ToS) / 2); err != nil {
						t.Fatal(err)
					}
				}
			}
			for _, v := range w {
				inJ += 500 * v
			}
		}
		b := st.Balance()
		// rounding of 300 K adds up over the steps; the least heat it is measured by is 1 mK everywhere
		if !(b.ClosureRel <= 1e-7) {
			t.Fatalf("open by %.2g", b.ClosureRel)
		}
		if math.Abs(b.InJ-inJ) > 1e-9*inJ {
			t.Fatalf("put in %g J, account says %g J", inJ, b.InJ)
		}
	})
}

// At rest and without sources no cell is outside the temperatures it looks at; with
// small steps neither in time.
func TestMaximumPrinciple(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, _, loK, hiK := draw(t, false)
		tK, _, err := Steady(context.Background(), m, nil, Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for c, v := range tK {
			if v < loK-1e-3 || v > hiK+1e-3 {
				t.Fatalf("at rest cell %d is at %g K, surroundings are %g to %g K", c, v, loK, hiK)
			}
		}
		st, err := NewStepper(m, Options{TolK: 0.002})
		if err != nil {
			t.Fatal(err)
		}
		start := rapid.Float64Range(260, 340).Draw(t, "start")
		if err := st.InitUniform(start, 0); err != nil {
			t.Fatal(err)
		}
		for k := 0; k < 60 && st.Time() < 1e4; k++ {
			if _, err := st.Advance(context.Background(), 1e4); err != nil {
				t.Fatal(err)
			}
			for c, v := range st.TK() {
				if v < math.Min(loK, start)-0.02 || v > math.Max(hiK, start)+0.02 {
					t.Fatalf("cell %d at %g K at %g s, surroundings %g to %g K, start %g K", c, v, st.Time(), loK, hiK, start)
				}
			}
		}
	})
}

func TestSteadyIsWhereTransientEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, powerW, _, _ := draw(t, true)
		tK, stats, err := Steady(context.Background(), m, powerW, Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !(stats.ClosureRel <= 1e-8) {
			t.Fatalf("open by %.2g", stats.ClosureRel)
		}
		again, _, err := Steady(context.Background(), m, powerW, Options{}, tK)
		if err != nil {
			t.Fatal(err)
		}
		st, err := NewStepper(m, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if err := st.InitUniform(300, 0); err != nil {
			t.Fatal(err)
		}
		if err := st.SetPower(powerW); err != nil {
			t.Fatal(err)
		}
		for st.Time() < 1e7 {
			if _, err := st.Advance(context.Background(), 1e7); err != nil {
				t.Fatal(err)
			}
		}
		for c := range tK {
			if math.Abs(st.TK()[c]-tK[c]) > 0.01 || math.Abs(again[c]-tK[c]) > 1e-3 {
				t.Fatalf("cell %d: at rest %g K, from there again %g K, after 1e7 s %g K", c, tK[c], again[c], st.TK()[c])
			}
		}
	})
}

// What is symmetric stays symmetric.
func TestSymmetry(t *testing.T) {
	b := box([3]int{9, 7, 4}, [3]float64{0.09, 0.07, 0.02}, 2, 2e6)
	law := lawFunc(func(m, _ float64) Film { return Film{HWm2K: 5 + 0.05*(m-300), RefK: 300} })
	for axis := range 3 {
		b.side("-", axis, -1, law)
		b.side("+", axis, 1, law)
	}
	b.source("middle", int32((1*7+3)*9+4), int32((2*7+3)*9+4))
	st := begin(t, b.Model, Options{LinTolK: 1e-5}, 300, 3)
	run(t, st, 600)
	for c, v := range st.TK() {
		i, j, k := b.Coordinates(c)
		for _, d := range []int{(k*7+j)*9 + 8 - i, (k*7+6-j)*9 + i, ((3-k)*7+j)*9 + i} {
			if math.Abs(v-st.TK()[d]) > 2e-5 {
				t.Fatalf("cell %d at %.8g K, its mirror %d at %.8g K", c, v, d, st.TK()[d])
			}
		}
	}
}

// Elements by hand: the limits of the eliminated surface.
func TestElementLimits(t *testing.T) {
	inf := math.Inf(1)
	for _, tc := range []struct {
		name           string
		halfWK, areaM2 float64
		film           Film
		cellK          float64
		outW, surfaceK float64
	}{
		{"film and half cell", 2, 0.5, Film{4, 300, 0}, 320, 20, 310},
		{"film, half cell and gain", 2, 0.5, Film{4, 300, 40}, 320, 10, 315},
		{"no film", 2, 0.5, Film{0, 300, 0}, 320, 0, 320},
		{"pure gain", 2, 0.5, Film{0, 300, 40}, 320, -20, 330},
		{"held", 2, 0.5, Film{inf, 300, 0}, 320, 40, 300},
		{"no half cell", inf, 0.5, Film{4, 300, 0}, 320, 40, 320},
		{"no half cell, gain", inf, 0.5, Film{4, 300, 40}, 320, 20, 320},
		{"no half cell, no film, gain", inf, 0.5, Film{0, 300, 40}, 320, -20, 320},
	} {
		u, in := elementFlow(tc.halfWK, tc.areaM2, tc.film)
		near(t, tc.name+", heat out", u*(tc.cellK-tc.film.RefK)-in, tc.outW, 1e-12)
		near(t, tc.name+", surface", elementK(tc.halfWK, tc.areaM2, tc.cellK, tc.film), tc.surfaceK, 1e-12)
	}
}

// A cell held at its centre: its surface's heat is what the rest of it leaves over.
func TestHeldCell(t *testing.T) {
	b := box([3]int{3, 1, 1}, [3]float64{3, 1, 1}, 2, 10)
	held := Surface{Name: "held", Cells: []int32{0}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)}, Law: hold(300)}
	b.Surfaces = []Surface{held}
	b.side("air", 0, 1, convect(1, 350))
	b.source("heater", 0)
	tK, stats, err := Steady(context.Background(), b.Model, []float64{7}, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	// 350 K through 1 + 1/4 + 1/2 + 1/2 K/W to 300 K
	flow := 50 / 2.25
	near(t, "held cell", tK[0], 300, 0)
	near(t, "next cell", tK[1], 300+flow/2, 1e-4)
	near(t, "heat of the held surface", stats.SurfaceHeatW[0], 7+flow, 1e-4)
	st := begin(t, b.Model, Options{}, 310, 7)
	run(t, st, 2000)
	near(t, "held cell after a while", st.TK()[0], 300, 0)
	near(t, "next cell after a while", st.TK()[1], 300+flow/2, 0.01)
	near(t, "its surface", st.SurfaceState(0).HeatW, 7+flow, 0.02)

	other := held
	other.Name, other.Law = "other", hold(301)
	b.Surfaces = append(b.Surfaces, other)
	var bad *LawError
	if _, _, err := Steady(context.Background(), b.Model, []float64{7}, Options{}, nil); !errors.As(err, &bad) || !bad.Conflict {
		t.Errorf("two holds on one cell: %v", err)
	}
}

func TestNoWayOut(t *testing.T) {
	b := box([3]int{4, 1, 1}, [3]float64{0.04, 1, 1}, 1, 1e6)
	b.GX[1] = 0 // two bodies apart
	b.side("air", 0, 1, freeConvection(1.3, 0.25, 300))
	b.source("chip", 0)
	b.source("lamp", 3)
	var none *NoWayOutError
	_, _, err := Steady(context.Background(), b.Model, []float64{2, 1}, Options{}, nil)
	if !errors.As(err, &none) || len(none.Sources) != 1 || none.Sources[0] != "chip" || none.PowerW != 2 || none.Cells != 2 {
		t.Fatalf("got %v", err)
	}
	b.GX[1] = 1
	tK, stats, err := Steady(context.Background(), b.Model, []float64{2, 1}, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "surface", stats.MeanK[0], 300+math.Pow(3/1.3, 0.8), 1e-3) // 3 W = 1.3 ΔT^1.25 on 1 m2
	if tK[0] < tK[3] {
		t.Error("the far end should be hotter")
	}
}

// Films that jump or bend hard must settle, in time and at rest. The plate is nearly
// one lump: 200 W/m2 leave by one side, so the rest temperatures follow by hand.
func TestHardLaws(t *testing.T) {
	step := func(below, above float64) Law {
		return lawFunc(func(m, _ float64) Film {
			if m > 320 {
				return Film{HWm2K: above, RefK: 300}
			}
			return Film{HWm2K: below, RefK: 300}
		})
	}
	steep := 300.0 // root of exp(d/5) d = 200, by bisection
	for w := 20.0; w > 1e-9; w /= 2 {
		if d := steep + w - 300; math.Exp(d/5)*d < 200 {
			steep += w
		}
	}
	for _, tc := range []struct {
		name  string
		law   Law
		restK []float64 // any of these
	}{
		{"jump down: two states of rest", step(15, 5), []float64{300 + 200./15, 300 + 200./5}},
		{"jump up: rests on the jump", step(5, 15), []float64{320}},
		{"steep", lawFunc(func(m, _ float64) Film { return Film{HWm2K: math.Exp((m - 300) / 5), RefK: 300} }), []float64{steep}},
		{"free", freeConvection(1.2, 1./3, 300), []float64{300 + math.Pow(200/1.2, 0.75)}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			b := box([3]int{5, 5, 1}, [3]float64{0.05, 0.05, 0.01}, 150, 2e6)
			b.side("air", 2, 1, tc.law)
			b.source("chip", 12)
			check := func(when string, meanK, heatW, tolK float64) {
				off := math.Inf(1)
				for _, r := range tc.restK {
					off = math.Min(off, math.Abs(meanK-r))
				}
				if off > tolK {
					t.Errorf("%s at %g K, want one of %v", when, meanK, tc.restK)
				}
				near(t, when+", heat out", heatW, 0.5, 0.005)
			}
			_, stats, err := Steady(context.Background(), b.Model, []float64{0.5}, Options{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			check("at rest", stats.MeanK[0], stats.SurfaceHeatW[0], 1e-3)
			st := begin(t, b.Model, Options{}, 300, 0.5)
			run(t, st, 60000)
			check("after 60000 s", st.SurfaceState(0).MeanK, st.SurfaceState(0).HeatW, 0.02)
		})
	}
}

// The tolerance per step governs the error of the whole: the two nodes of
// TestTwoNodes against their matrix exponential at 300 s.
func TestTolerance(t *testing.T) {
	steps := 0
	for _, tolK := range []float64{0.02, 0.002, 0.0002} {
		b := box([3]int{2, 1, 1}, [3]float64{1, 1, 1}, 1, 1)
		copy(b.CapJK, []float64{50, 150})
		b.GX[0] = 0.5
		b.Surfaces = []Surface{{Name: "air", Cells: []int32{1}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)}, Law: convect(0.2, 0)}}
		b.source("chip", 0)
		st := begin(t, b.Model, Options{TolK: tolK}, 0, 3)
		run(t, st, 300)
		near(t, fmt.Sprintf("node 1 at 300 s, %g K per step", tolK), st.TK()[0], 7.59050, 3*tolK)
		if st.Stats().Steps <= steps {
			t.Errorf("%d steps at %g K, %d at ten times that", st.Stats().Steps, tolK, steps)
		}
		steps = st.Stats().Steps
	}
}

// A wall whose face is suddenly held 100 K away, from a first step far too long.
func TestSuddenHold(t *testing.T) {
	b := box([3]int{200, 1, 1}, [3]float64{0.02, 1, 1}, 0.2, 2e6)
	b.side("held", 0, -1, hold(400))
	st := begin(t, b.Model, Options{FirstStepS: 50}, 300)
	run(t, st, 20000)
	for c, v := range st.TK() {
		near(t, fmt.Sprintf("cell %d", c), v, 400-b.lateFall(c, 20000), 0.05)
	}
}

// lateFall is 100 K times the series of a slab held on one face and insulated on
// the other (Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., sect. 3.4).
func (b body) lateFall(c int, tS float64) float64 {
	const lengthM, aM2s = 0.02, 1e-7
	x, sum := (float64(c)+0.5)*b.d[0], 0.0
	for n := range 20 {
		z := (float64(n) + 0.5) * math.Pi
		sum += 2 / z * math.Sin(z*x/lengthM) * math.Exp(-z*z*aM2s*tS/(lengthM*lengthM))
	}
	return 100 * sum
}

func TestBadLawIsAnError(t *testing.T) {
	for _, f := range []Film{{HWm2K: math.NaN()}, {HWm2K: -1}, {HWm2K: 1, RefK: math.NaN()}, {GainWm2: math.Inf(1)}} {
		b := box([3]int{2, 1, 1}, [3]float64{1, 1, 1}, 1, 1e3)
		b.side("air", 0, 1, lawFunc(func(_, tS float64) Film {
			if tS > 10 {
				return f
			}
			return Film{HWm2K: 1, RefK: 300}
		}))
		st := begin(t, b.Model, Options{}, 320)
		var err error
		for err == nil && st.Time() < 100 {
			_, err = st.Advance(context.Background(), 100)
		}
		var bad *LawError
		if !errors.As(err, &bad) || bad.Surface != "air" {
			t.Errorf("%+v: got %v at %g s", f, err, st.Time())
		}
		if _, _, err := Steady(context.Background(), b.Model, nil, Options{AtS: 11}, nil); !errors.As(err, &bad) {
			t.Errorf("%+v at rest: got %v", f, err)
		}
	}
}

func TestBadModels(t *testing.T) {
	good := func() body {
		b := box([3]int{2, 2, 1}, [3]float64{1, 1, 1}, 1, 1e3)
		b.side("air", 0, 1, convect(1, 300))
		b.source("chip", 0)
		return b
	}
	if _, err := NewStepper(good().Model, Options{}); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(b body){
		"NaN capacity":      func(b body) { b.CapJK[1] = math.NaN() },
		"no capacity":       func(b body) { clear(b.CapJK) },
		"inactive joined":   func(b body) { b.CapJK[3] = 0 },
		"NaN conductance":   func(b body) { b.GX[0] = math.NaN() },
		"negative":          func(b body) { b.GY[0] = -1 },
		"share":             func(b body) { b.Sources[0].Share[0] = 0.9 },
		"cell out of grid":  func(b body) { b.Sources[0].Cells[0] = 4 },
		"area":              func(b body) { b.Surfaces[0].AreaM2[0] = 0 },
		"half":              func(b body) { b.Surfaces[0].HalfWK[0] = 0 },
		"no law":            func(b body) { b.Surfaces[0].Law = nil },
		"short GZ":          func(b body) { b.Model.GZ = b.GZ[:3] },
		"conductance leads": func(b body) { b.GX[1] = 1 },
	} {
		b := good()
		spoil(b)
		if _, err := NewStepper(b.Model, Options{}); err == nil {
			t.Errorf("%s: no error", name)
		}
		if _, _, err := Steady(context.Background(), b.Model, []float64{1}, Options{}, nil); err == nil {
			t.Errorf("%s: no error at rest", name)
		}
	}
	st := begin(t, good().Model, Options{}, 300, 1)
	if err := st.SetPower([]float64{math.NaN()}); err == nil {
		t.Error("NaN power: no error")
	}
	if err := st.Init([]float64{300, math.Inf(1), 300, 300}, 0); err == nil {
		t.Error("infinite start: no error")
	}
	if _, err := st.Advance(context.Background(), 0); err == nil {
		t.Error("step of no length: no error")
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	b := box([3]int{4, 1, 1}, [3]float64{1, 1, 1}, 1, 1e3)
	calls := 0
	b.side("air", 0, 1, lawFunc(func(_, _ float64) Film {
		if calls++; calls == 12 {
			cancel()
		}
		return Film{HWm2K: 1, RefK: 300}
	}))
	st := begin(t, b.Model, Options{}, 350)
	var err error
	for err == nil {
		_, err = st.Advance(ctx, 1e6)
	}
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("got %v", err)
	}
	run(t, st, 100) // it can go on
	if _, _, err := Steady(ctx, b.Model, nil, Options{}, nil); !errors.Is(err, context.Canceled) {
		t.Fatalf("at rest got %v", err)
	}
}

// A change of conductances between steps: a third body's worth of radiation that
// Refresh turns into a conductance.
func TestRefresh(t *testing.T) {
	b := box([3]int{2, 1, 1}, [3]float64{0.02, 0.1, 0.1}, 1, 1e5)
	const sigma = 5.670374419e-8
	link := func(a, c float64) float64 { return 0.8 * sigma * 0.01 * (a*a + c*c) * (a + c) }
	b.GX[0] = link(300, 300)
	b.Refresh = func(tK []float64, _ int) bool {
		g := link(tK[0], tK[1])
		if math.Abs(g-b.GX[0]) < 1e-4*g {
			return false
		}
		b.GX[0] = g
		return true
	}
	b.side("cold", 0, 1, hold(300))
	b.source("chip", 0)
	tK, _, err := Steady(context.Background(), b.Model, []float64{2}, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	// cold cell: 2 W through 2 W/K; hot: fourth powers
	want := math.Pow(math.Pow(301, 4)+2/(0.8*sigma*0.01), 0.25)
	near(t, "cold cell", tK[1], 301, 1e-3)
	near(t, "hot cell", tK[0], want, 0.02)
	st := begin(t, b.Model, Options{}, 300, 2)
	run(t, st, 1e5)
	near(t, "hot cell in the end", st.TK()[0], want, 0.05)
}

// An event found with the dense output, rewound to, and gone on from.
func TestDenseOutputAndRewind(t *testing.T) {
	b := box([3]int{1, 1, 1}, [3]float64{1, 1, 1}, 1, 6000)
	b.Surfaces = []Surface{{Name: "air", Cells: []int32{0}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)}, Law: convect(10, 0)}}
	b.source("chip", 0)
	exact := func(tS float64) float64 { return 50 * (1 - math.Exp(-tS/600)) }
	st := begin(t, b.Model, Options{TolK: 2e-3}, 0, 500)
	field := make([]float64, 1)
	worst := 0.0
	for st.Time() < 1500 {
		s, err := st.Advance(context.Background(), 1500)
		if err != nil {
			t.Fatal(err)
		}
		for _, u := range []float64{0, 0.2, 0.5, 0.9, 1} {
			at := s.FromS + u*(s.ToS-s.FromS)
			st.At(field, at, nil)
			worst = math.Max(worst, math.Abs(field[0]-exact(at)))
			if p := st.ProbeAt([]int32{0}, []float64{1}, at); math.Abs(p-field[0]) > 1e-12 {
				t.Fatalf("ProbeAt %g, At %g", p, field[0])
			}
		}
	}
	if worst > 0.02 {
		t.Errorf("dense output is %g K off", worst)
	}

	st = begin(t, b.Model, Options{TolK: 2e-3}, 0, 500)
	for {
		s, err := st.Advance(context.Background(), 1500)
		if err != nil {
			t.Fatal(err)
		}
		if s.ToS < 700 {
			continue
		}
		if err := st.RewindTo(s.ToS + 1); err == nil {
			t.Error("rewound forward")
		}
		if err := st.SetPower([]float64{0}); err != nil { // must not touch the step that is rewound
			t.Fatal(err)
		}
		if err := st.RewindTo(700); err != nil && s.ToS != 700 {
			t.Fatal(err)
		}
		break
	}
	near(t, "time", st.Time(), 700, 0)
	near(t, "temperature at the event", st.TK()[0], exact(700), 0.01)
	near(t, "heat put in until then", st.Balance().InJ, 500*700, 1e-6)
	run(t, st, 1300)
	near(t, "cooled after it", st.TK()[0], exact(700)*math.Exp(-1), 0.01)
	near(t, "heat put in", st.Balance().InJ, 500*700, 1e-6)
}

// A new ambient, told by Restart.
func TestRestart(t *testing.T) {
	ambient := 300.0
	b := box([3]int{1, 1, 1}, [3]float64{1, 1, 1}, 1, 6000)
	b.Surfaces = []Surface{{Name: "air", Cells: []int32{0}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)},
		Law: lawFunc(func(_, _ float64) Film { return Film{HWm2K: 10, RefK: ambient} })}}
	st := begin(t, b.Model, Options{}, 300)
	run(t, st, 1000)
	ambient = 320
	st.Restart()
	run(t, st, 1600)
	near(t, "one time constant later", st.TK()[0], 320-20*math.Exp(-1), 0.05)
}

// Inactive cells keep what they were given and disturb nothing.
func TestInactiveCells(t *testing.T) {
	b := box([3]int{3, 3, 1}, [3]float64{0.03, 0.03, 0.01}, 1, 1e6)
	for _, c := range []int{4} {
		b.CapJK[c], b.GX[c], b.GX[c-1], b.GY[c], b.GY[c-3] = 0, 0, 0, 0, 0
	}
	b.side("air", 0, 1, convect(5, 300))
	b.source("chip", 0)
	st := begin(t, b.Model, Options{}, 290, 0.1)
	run(t, st, 5000)
	near(t, "inactive cell", st.TK()[4], 290, 0)
	tK, _, err := Steady(context.Background(), b.Model, []float64{0.1}, Options{}, st.TK())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "inactive cell at rest", tK[4], 290, 0)
}

func TestAdvanceAllocatesNothing(t *testing.T) {
	b := box([3]int{12, 10, 6}, [3]float64{0.12, 0.1, 0.02}, 5, 2e6)
	for axis := range 3 {
		b.side("side", axis, 1, radiate(0.9, 5.67e-8, 300))
	}
	b.source("chip", 300)
	st := begin(t, b.Model, Options{FixedStepS: 5, Workers: 1}, 300, 2)
	ctx := context.Background()
	run(t, st, 20)
	if n := testing.AllocsPerRun(20, func() {
		if _, err := st.Advance(ctx, 1e9); err != nil {
			t.Fatal(err)
		}
	}); n != 0 {
		t.Errorf("%g allocations per step", n)
	}
}

func BenchmarkAdvance(b *testing.B) {
	m := box([3]int{60, 60, 30}, [3]float64{0.06, 0.09, 0.022}, 5, 2e6)
	for axis := range 3 {
		m.side("side", axis, 1, radiate(0.9, 5.67e-8, 300))
		m.side("side", axis, -1, radiate(0.9, 5.67e-8, 300))
	}
	m.source("chip", 50_000)
	st := begin(b, m.Model, Options{FixedStepS: 10}, 300, 4)
	run(b, st, 100)
	before := st.Stats().LinearIterations
	b.ResetTimer()
	for range b.N {
		if _, err := st.Advance(context.Background(), 1e12); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(st.Stats().LinearIterations-before)/float64(b.N), "iterations/step")
}
