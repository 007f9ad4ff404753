package heat

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"
)

const sigma = 5.670374419e-8

// exchange is long-wave exchange with another surface, of emissivities such that
// pair = 1/(1/ε + 1/ε' − 1): infinite parallel plates.
type exchange struct {
	with int
	pair float64
}

func (e exchange) Film(meansK []float64, own int, _ float64) Film {
	t, o := meansK[own], meansK[e.with]
	return Film{HWm2K: e.pair * sigma * (t*t + o*o) * (t + o), RefK: o}
}

// plates are single cells in a row, not joined.
func plates(capJK ...float64) body {
	b := box([3]int{len(capJK), 1, 1}, [3]float64{float64(len(capJK)), 1, 1}, 1, 1)
	clear(b.GX)
	copy(b.CapJK, capJK)
	return b
}

// on puts a law on a whole cell; halfWK +Inf: at its centre.
func (b body) on(name string, cell int32, areaM2, halfWK float64, law Law) {
	b.Surfaces = append(b.Surfaces, Surface{Name: name, Cells: []int32{cell}, AreaM2: []float64{areaM2}, HalfWK: []float64{halfWK}, Law: law})
}

// Two plates that see only each other: what one gives the other takes, so that their
// heat stays, and they end at the mean weighted by their capacities. On the way they
// follow dT1/dt = −A F σ (T1⁴ − T2⁴)/C1 and its mirror, integrated here by the
// classical fourth-order Runge-Kutta method in tiny steps.
func TestTwoPlatesInVacuum(t *testing.T) {
	const c1, c2, area, pair = 40.0, 100.0, 0.02, 0.7
	slope := func(a, b float64) (float64, float64) {
		q := area * pair * sigma * (math.Pow(a, 4) - math.Pow(b, 4))
		return -q / c1, q / c2
	}
	exact := func(endS float64) (float64, float64) {
		a, b := 500.0, 280.0
		const n = 20000
		h := endS / n
		for range n {
			a1, b1 := slope(a, b)
			a2, b2 := slope(a+h/2*a1, b+h/2*b1)
			a3, b3 := slope(a+h/2*a2, b+h/2*b2)
			a4, b4 := slope(a+h*a3, b+h*b3)
			a, b = a+h/6*(a1+2*a2+2*a3+a4), b+h/6*(b1+2*b2+2*b3+b4)
		}
		return a, b
	}
	const endK = (c1*500 + c2*280) / (c1 + c2)
	for _, halfWK := range []float64{math.Inf(1), 0.5} {
		for _, opt := range []Options{{TolK: 1e-3}, {}, {FixedStepS: 500}} {
			name := fmt.Sprintf("half cell %g W/K, %+v", halfWK, opt)
			b := plates(c1, c2)
			b.on("first", 0, area, halfWK, exchange{1, pair})
			b.on("second", 1, area, halfWK, exchange{0, pair})
			st, err := NewStepper(b.Model, opt)
			if err != nil {
				t.Fatal(err)
			}
			if err := st.Init([]float64{500, 280}, 0); err != nil {
				t.Fatal(err)
			}
			for _, endS := range []float64{300, 1000, 3000, 1e5} {
				run(t, st, endS)
				if opt.FixedStepS == 0 && math.IsInf(halfWK, 1) {
					w1, w2 := exact(endS)
					tolK := 10 * math.Max(opt.TolK, 1e-3) // tolerance per step, some of them
					if opt.TolK == 0 {
						tolK = 0.1
					}
					near(t, fmt.Sprintf("%s: first at %g s", name, endS), st.TK()[0], w1, tolK)
					near(t, fmt.Sprintf("%s: second at %g s", name, endS), st.TK()[1], w2, tolK)
				}
				bal := st.Balance()
				passed := math.Abs(bal.SurfaceOutJ[0])
				if !(math.Abs(bal.StoredJ) <= 1e-9*passed) || !(passed > 500) {
					t.Errorf("%s: of %g J exchanged until %g s %.2g J are lost", name, passed, endS, bal.StoredJ)
				}
			}
			near(t, name+": first in the end", st.TK()[0], endK, 1e-3)
			near(t, name+": second in the end", st.TK()[1], endK, 1e-3)
		}
	}
}

// Floating shields between two plates: N of the plates' emissivity let through 1/(N+1)
// of the heat (Incropera, DeWitt, Bergman & Lavine, 6th ed., sect. 13.3.4).
func TestRadiationShields(t *testing.T) {
	const hotK, coldK, emissivity, area = 400.0, 300.0, 0.8, 0.5
	pair := 1 / (2/emissivity - 1)
	bare := area * pair * sigma * (math.Pow(hotK, 4) - math.Pow(coldK, 4))
	for _, n := range []int{0, 1, 2, 5, 10} {
		caps := make([]float64, n+2)
		for i := range caps {
			caps[i] = 100
		}
		b := plates(caps...)
		inf := math.Inf(1)
		b.on("hot back", 0, area, inf, hold(hotK))
		b.on("cold back", int32(n+1), area, inf, hold(coldK))
		for i := range n + 1 { // the gap from plate i to the next
			b.on(fmt.Sprint("upper ", i), int32(i), area, inf, exchange{3 + 2*i, pair})
			b.on(fmt.Sprint("lower ", i), int32(i+1), area, inf, exchange{2 + 2*i, pair})
		}
		tK, stats, err := Steady(context.Background(), b.Model, nil, Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if stats.Passes > 3*n+5 { // plain iteration takes some 300 for ten
			t.Errorf("%d shields: %d passes", n, stats.Passes)
		}
		near(t, fmt.Sprint("heat through ", n, " shields"), stats.SurfaceHeatW[1], bare/float64(n+1), 1e-5*bare/float64(n+1))
		for i := range n {
			f := float64(i+1) / float64(n+1)
			near(t, fmt.Sprint("shield ", i), tK[i+1], math.Pow((1-f)*math.Pow(hotK, 4)+f*math.Pow(coldK, 4), 0.25), 1e-3)
		}
		// in time, from cold, with steps as long as they may get
		st := begin(t, b.Model, Options{}, coldK)
		run(t, st, 1e5)
		near(t, fmt.Sprint("heat through ", n, " shields after a day"), st.SurfaceState(1).HeatW, bare/float64(n+1), 2e-4*bare/float64(n+1))
	}
}

// Laws that bend hard, jump, or fall silent, beside others that they look at: a hot
// plate with a step-like film and the sun on it, one that faces it, and air that
// the first warms for the second. At rest against the same balances solved by
// bisection here; in time the same end.
func TestHardJointLaws(t *testing.T) {
	const area, roomK = 0.02, 300.0
	for _, tc := range []struct {
		name  string
		film  func(t float64) float64 // h of the first plate in air
		power float64
	}{
		{"smooth", func(float64) float64 { return 6 }, 3},
		{"free", func(t float64) float64 { return 1.4 * math.Pow(math.Abs(t-roomK), 0.33) }, 3},
		{"jump up", func(t float64) float64 {
			if t > 320 {
				return 15
			}
			return 4
		}, 3},
		{"steep", func(t float64) float64 { return math.Exp((t - roomK) / 5) }, 3},
		{"glowing", func(t float64) float64 { return 0.9 * sigma * (t*t + roomK*roomK) * (t + roomK) }, 600},
	} {
		for _, halfWK := range []float64{math.Inf(1), 2} {
			b := plates(30, 20)
			b.on("first", 0, area, halfWK, lawFunc(func(t, _ float64) Film { return Film{HWm2K: tc.film(t), RefK: roomK, GainWm2: 20} }))
			b.on("first, facing", 0, area, halfWK, exchange{2, 0.8})
			b.on("second, facing", 1, area, halfWK, exchange{1, 0.8})
			// its air is the room's, warmed by a third of the first plate's rise
			b.on("second", 1, area, halfWK, lookFunc(func(m []float64) Film {
				return Film{HWm2K: 8, RefK: roomK + math.Max(0, m[0]-roomK)/3}
			}))
			b.source("chip", 0)
			tK, stats, err := Steady(context.Background(), b.Model, []float64{tc.power}, Options{}, nil)
			if err != nil {
				t.Fatalf("%s, half cell %g: %v", tc.name, halfWK, err)
			}
			st := begin(t, b.Model, Options{}, roomK, tc.power)
			run(t, st, 20000)
			name := fmt.Sprintf("%s, half cell %g", tc.name, halfWK)
			if stats.Passes > 30 {
				t.Errorf("%s: %d passes", name, stats.Passes)
			}
			near(t, name+": first in the end", st.TK()[0], tK[0], 0.03)
			near(t, name+": second in the end", st.TK()[1], tK[1], 0.03)
			if !math.IsInf(halfWK, 1) {
				continue
			}
			// for a first plate at a, the second's balance gives b; the first's is left over
			second := func(a float64) float64 {
				lo, hi := 0.0, 5000.0
				for range 60 {
					m := (lo + hi) / 2
					if 0.8*sigma*(math.Pow(m, 4)-math.Pow(a, 4))+8*(m-roomK-math.Max(0, a-roomK)/3) > 0 {
						hi = m
					} else {
						lo = m
					}
				}
				return lo
			}
			lo, hi := 250.0, 5000.0
			for range 60 {
				m := (lo + hi) / 2
				out := tc.film(m)*(m-roomK) - 20 + 0.8*sigma*(math.Pow(m, 4)-math.Pow(second(m), 4))
				if area*out > tc.power {
					hi = m
				} else {
					lo = m
				}
			}
			near(t, name+": first at rest", tK[0], lo, 2e-3)
			near(t, name+": second at rest", tK[1], second(lo), 2e-3)
		}
	}
}

// lookFunc is a law that knows only the means of all.
type lookFunc func(meansK []float64) Film

func (f lookFunc) Film(meansK []float64, _ int, _ float64) Film { return f(meansK) }

// Two plates that see only each other have no way out for their heat.
func TestJointNoWayOut(t *testing.T) {
	b := plates(10, 10)
	b.on("first", 0, 0.01, math.Inf(1), exchange{1, 0.9})
	b.on("second", 1, 0.01, math.Inf(1), exchange{0, 0.9})
	b.source("chip", 1)
	_, _, err := Steady(context.Background(), b.Model, []float64{2}, Options{}, nil)
	var none *NoWayOutError
	if !errors.As(err, &none) || none.PowerW != 2 || none.Cells != 2 || len(none.Sources) != 1 {
		t.Fatalf("got %v", err)
	}
}
