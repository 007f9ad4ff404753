package heat

import (
	"context"
	"math"
	"testing"
)

// Conductances that follow the temperatures are renewed between steps, and yet the
// method stays of second order: two lumps that exchange heat through a gap whose
// conductance grows with the third power of their mean, against the classical
// fourth-order Runge-Kutta method in tiny steps.
func TestRefreshIsOfSecondOrder(t *testing.T) {
	const c0, c1, power, filmWK, startK, endS = 60.0, 90.0, 6.0, 0.08, 300.0, 2000.0
	link := func(a, b float64) float64 {
		m := (a + b) / 2 / 300
		return 0.05 * m * m * m
	}
	slope := func(a, b float64) (float64, float64) {
		q := link(a, b) * (a - b)
		return (power - q) / c0, (q - filmWK*(b-startK)) / c1
	}
	wantA, wantB := startK, startK
	const n = 20000
	for range n {
		h := endS / n
		a1, b1 := slope(wantA, wantB)
		a2, b2 := slope(wantA+h/2*a1, wantB+h/2*b1)
		a3, b3 := slope(wantA+h/2*a2, wantB+h/2*b2)
		a4, b4 := slope(wantA+h*a3, wantB+h*b3)
		wantA, wantB = wantA+h/6*(a1+2*a2+2*a3+a4), wantB+h/6*(b1+2*b2+2*b3+b4)
	}
	off := func(steps int) float64 {
		b := box([3]int{2, 1, 1}, [3]float64{2, 1, 1}, 1, 1)
		b.CapJK[0], b.CapJK[1], b.GX[0] = c0, c1, link(startK, startK)
		b.Refresh = func(tK []float64, _ int) bool {
			b.GX[0] = link(tK[0], tK[1])
			return true
		}
		b.Surfaces = []Surface{{Name: "air", Cells: []int32{1}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)}, Law: convect(filmWK, startK)}}
		b.source("chip", 0)
		st := begin(t, b.Model, Options{FixedStepS: endS / float64(steps), LinTolK: 1e-9}, startK, power)
		run(t, st, endS)
		return math.Hypot(st.TK()[0]-wantA, st.TK()[1]-wantB)
	}
	coarse, middle, fine := off(16), off(32), off(64)
	for _, r := range []float64{coarse / middle, middle / fine} {
		if !(r > 3.3 && r < 5) {
			t.Errorf("half the step leaves 1/%.2f of the error (%.3g, %.3g, %.3g K), want 1/4", r, coarse, middle, fine)
		}
	}
	// conductances of a step's start alone would leave about 0.85 h dG/dt: some tenths of a kelvin here
	if !(fine < 0.02) {
		t.Errorf("64 steps end %.3g K off", fine)
	}
}

// The number of processors changes no bit: films that look at others, conductances
// that are renewed, inactive cells, enough cells for several pieces of every pass.
func TestWorkersChangeNothing(t *testing.T) {
	var first []float64
	for _, workers := range []int{1, 2, 5} {
		b := box([3]int{40, 30, 24}, [3]float64{0.08, 0.06, 0.02}, 3, 2e6)
		for c := range b.CapJK { // a sealed hollow with air, and one without anything
			switch i, j, k := b.Coordinates(c); {
			case i > 4 && i < 30 && j > 4 && j < 20 && k > 8 && k < 16:
				b.CapJK[c] *= 1e-3
				b.GX[c], b.GY[c], b.GZ[c] = b.GX[c]*0.01, b.GY[c]*0.01, b.GZ[c]*0.01
			case i > 32 && i < 38 && j > 22 && j < 28 && k > 4 && k < 20:
				for _, d := range []struct {
					g  []float64
					nb int
				}{{b.GX, c - 1}, {b.GY, c - b.NX}, {b.GZ, c - b.NX*b.NY}} {
					d.g[c], d.g[d.nb] = 0, 0
				}
				b.CapJK[c] = 0
			}
		}
		full, factor := append([]float64(nil), b.GZ...), 1.0
		b.Refresh = func(tK []float64, _ int) bool {
			f := 1 + 0.01*(tK[12*40*30]-300)
			if math.Abs(f-factor) < 1e-9 {
				return false
			}
			factor = f
			for c := 9 * 40 * 30; c < 15*40*30; c++ {
				b.GZ[c] = f * full[c]
			}
			return true
		}
		law := lawFunc(func(m, _ float64) Film { return Film{HWm2K: 5 + 0.05*(m-300), RefK: 300} })
		b.side("left", 0, -1, law)
		b.side("right", 0, 1, law)
		b.side("top", 2, 1, law)
		b.source("chip", int32((3*30+15)*40+20), int32((3*30+16)*40+20))
		st := begin(t, b.Model, Options{Workers: workers}, 300, 4)
		run(t, st, 900)
		rest, _, err := Steady(context.Background(), b.Model, []float64{4}, Options{Workers: workers}, st.TK())
		if err != nil {
			t.Fatal(err)
		}
		all := append(append([]float64(nil), st.TK()...), rest...)
		if first == nil {
			first = all
			continue
		}
		for c, v := range all {
			if v != first[c] {
				t.Fatalf("%d workers: cell %d at %.17g K, with one at %.17g K", workers, c%len(b.CapJK), v, first[c])
			}
		}
	}
}
