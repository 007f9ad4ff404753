package heat

import (
	"context"
	"fmt"
	"math"
	"testing"
)

// Source of the exact columns: series, eigenvalues or matrix exponentials of the
// fully stated problems, recomputed independently of this package.

// NAFEMS T2, The Standard NAFEMS Benchmarks, TNSB Rev. 3, 1990: one-dimensional
// conduction with radiation, target 927.0 K.
func TestNAFEMST2(t *testing.T) {
	b := box([3]int{50, 1, 1}, [3]float64{0.1, 1, 1}, 55.6, 7850*460)
	b.side("hot", 0, -1, hold(1000))
	b.side("radiating", 0, 1, radiate(0.98, 5.67e-8, 300))
	tK, stats, err := Steady(context.Background(), b.Model, nil, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	_ = tK
	near(t, "temperature of the radiating end, K (published)", stats.MeanK[1], 927.0, 0.1)
	near(t, "temperature of the radiating end, K (exact root)", stats.MeanK[1], 927.0076, 5e-4) // 1-D: the grid is exact
	near(t, "flux, W/m2 (exact)", stats.SurfaceHeatW[1], 40583.8, 0.1)
}

// NAFEMS T3, TNSB Rev. 3, 1990: one-dimensional transient, target 36.60 °C at
// x = 0.08 m, t = 32 s. Further points from the exact Fourier series.
func TestNAFEMST3(t *testing.T) {
	b := box([3]int{100, 1, 1}, [3]float64{0.1, 1, 1}, 35, 7200*440.5)
	b.side("cold", 0, -1, hold(0))
	b.side("swinging", 0, 1, lawFunc(func(_, tS float64) Film {
		return Film{HWm2K: math.Inf(1), RefK: 100 * math.Sin(math.Pi*tS/40)}
	}))
	st := begin(t, b.Model, Options{TolK: 0.002}, 0)
	at := func(xM float64) float64 { // between two cell centres
		c := int32(math.Round(xM / b.d[0]))
		return st.ProbeAt([]int32{c - 1, c}, []float64{0.5, 0.5}, st.Time())
	}
	exact := map[float64][4]float64{ // x = 0.02, 0.04, 0.06, 0.08 m
		8:  {0.0000, 0.0000, 0.0245, 2.7871},
		16: {0.0002, 0.0240, 0.9489, 14.8646},
		24: {0.0113, 0.2966, 4.0546, 28.7749},
		32: {0.0909, 1.1503, 8.6678, 36.6031},
		40: {0.3328, 2.6209, 12.8994, 33.9328},
	}
	for _, s := range []float64{8, 16, 24, 32, 40} {
		run(t, st, s)
		for i, want := range exact[s] {
			near(t, fmt.Sprintf("x=%.2f m, t=%g s (exact)", 0.02*float64(i+1), s), at(0.02*float64(i+1)), want, 0.02)
		}
		if s == 32 {
			near(t, "x=0.08 m, t=32 s (published)", at(0.08), 36.60, 0.05)
		}
	}
}

// NAFEMS T4, TNSB Rev. 3, 1990: two-dimensional conduction with convection,
// target 18.25 °C at (0.6, 0.2). Further points from the exact series.
func TestNAFEMST4(t *testing.T) {
	b := box([3]int{60, 100, 1}, [3]float64{0.6, 1, 1}, 52, 1e6)
	b.side("y=0", 1, -1, hold(100))
	b.side("x=0.6", 0, 1, convect(750, 0))
	b.side("y=1", 1, 1, convect(750, 0))
	tC, _, err := Steady(context.Background(), b.Model, nil, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	cell := func(i, j int) float64 { return tC[j*b.NX+i] }
	// at x = 0.6 the surface: U½ = 2k/Δx against h; the surface is h/(h+2k/Δx) below its cell
	half := 2 * 52 / b.d[0]
	edge := func(j int) float64 { return (cell(59, j-1) + cell(59, j)) / 2 * half / (half + 750) }
	inside := func(i, j int) float64 {
		if i == 0 {
			return (9*(cell(0, j-1)+cell(0, j)) - cell(1, j-1) - cell(1, j)) / 16 // even about x = 0
		}
		return (cell(i-1, j-1) + cell(i, j-1) + cell(i-1, j) + cell(i, j)) / 4
	}
	near(t, "E (0.6, 0.2), °C (published)", edge(20), 18.25, 0.05)
	near(t, "E (0.6, 0.2), °C (exact)", edge(20), 18.2538, 0.03)
	near(t, "(0, 0.2) (exact)", inside(0, 20), 70.0607, 0.03)
	near(t, "(0.3, 0.2) (exact)", inside(30, 20), 62.5537, 0.03)
	near(t, "(0, 0.5) (exact)", inside(0, 50), 35.4012, 0.03)
	near(t, "(0.6, 0.5) (exact)", edge(50), 6.3871, 0.03)
}

// Incropera, DeWitt, Bergman & Lavine, Fundamentals of Heat and Mass Transfer, 6th
// ed., example 5.4, p. 278: steel wall 40 mm, one side insulated, from -20 °C in
// oil of 60 °C, h = 500 W/(m2 K), 480 s. Published 42.9 °C and -7400 W/m2 (one
// term, chart digits); exact series 43.016 °C, 45.363 °C, -7318.7 W/m2, and
// -2.7254e7 J per metre of a pipe of 1 m diameter.
func TestPlaneWall(t *testing.T) {
	b := box([3]int{80, 1, 1}, [3]float64{0.04, 1, 1}, 63.9, 7832*434)
	b.side("wetted", 0, 1, convect(500, 60))
	st := begin(t, b.Model, Options{TolK: 0.003}, -20)
	run(t, st, 480)
	s := st.SurfaceState(0)
	near(t, "insulated face, °C (exact)", st.TK()[0], 43.016, 0.01)
	near(t, "insulated face, °C (published)", st.TK()[0], 42.9, 0.2)
	near(t, "wetted face, °C (exact)", s.MeanK, 45.363, 0.01)
	near(t, "flux out, W/m2 (exact)", s.HeatW, -7318.7, 7)
	near(t, "heat out, J per m of pipe (exact)", st.Balance().OutJ*math.Pi, -2.7254e7, 2.7e4)
}

// First eigenvalue of the plane wall, Incropera et al. 6th ed., Table 5.1: late
// temperatures fall as exp(-ζ1² a t/L²) and the centre is C1 times that.
func TestPlaneWallEigenvalue(t *testing.T) {
	for _, tc := range []struct{ bi, zeta, c1 float64 }{
		{0.01, 0.099834, 1.00166}, {0.1, 0.311053, 1.01609}, {1, 0.860334, 1.11913}, {10, 1.428870, 1.26196}, {100, 1.555245, 1.27309},
	} {
		b := box([3]int{100, 1, 1}, [3]float64{1, 1, 1}, 1, 1) // L = a = 1
		b.side("wetted", 0, 1, convect(tc.bi, 0))
		st := begin(t, b.Model, Options{TolK: 3e-7, LinTolK: 1e-11}, 1)
		foS := 1.4 / (tc.zeta * tc.zeta) // the second term is gone by then
		run(t, st, foS)
		one := st.TK()[0]
		run(t, st, 2*foS)
		two := st.TK()[0]
		near(t, fmt.Sprintf("Bi %g: zeta1", tc.bi), math.Sqrt(math.Log(one/two)/foS), tc.zeta, 2e-4*tc.zeta)
		near(t, fmt.Sprintf("Bi %g: C1", tc.bi), one*one/two, tc.c1, 5e-4)
	}
}

// Semi-infinite solid under constant flux: T(0) = 2 q (a t/π)^½/k and its ierfc
// profile (Carslaw & Jaeger sect. 2.9); numbers of the copper slab of Incropera
// et al. 6th ed. ex. 5.9 (published 120 and 45.4 °C, number from memory).
func TestSemiInfiniteFlux(t *testing.T) {
	const lengthM, cells = 0.8, 400
	b := box([3]int{cells, 1, 1}, [3]float64{lengthM, 1, 1}, 401, 401/117e-6)
	b.side("heated", 0, -1, fixedFilm{GainWm2: 3e5, RefK: 20})
	st := begin(t, b.Model, Options{TolK: 0.01}, 20)
	run(t, st, 120)
	near(t, "surface, °C", st.SurfaceState(0).MeanK, 120.027, 0.1)
	near(t, "at 150 mm, °C", (st.TK()[74]+st.TK()[75])/2, 45.406, 0.05)
	near(t, "gain, J", st.Balance().GainJ, 3e5*120, 1)
}

// Two-node network: 50 and 150 J/K, 2 K/W between, 5 K/W to ambient, 3 W into the
// first; matrix exponential, time constants 73.0304 and 1026.9696 s.
func TestTwoNodes(t *testing.T) {
	b := box([3]int{2, 1, 1}, [3]float64{1, 1, 1}, 1, 1)
	copy(b.CapJK, []float64{50, 150})
	b.GX[0] = 0.5
	b.Surfaces = []Surface{{Name: "air", Cells: []int32{1}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)}, Law: convect(0.2, 0)}}
	b.source("chip", 0)
	st := begin(t, b.Model, Options{TolK: 1e-4}, 0, 3)
	for _, w := range [][3]float64{{60, 2.75747, 0.27305}, {300, 7.59050, 2.96127}, {900, 13.55233, 8.27755}, {1800, 17.89959, 12.20149}, {3600, 20.46270, 14.51502}} {
		run(t, st, w[0])
		near(t, fmt.Sprintf("node 1 at %g s", w[0]), st.TK()[0], w[1], 2e-3)
		near(t, fmt.Sprintf("node 2 at %g s", w[0]), st.TK()[1], w[2], 2e-3)
	}
	end, stats, err := Steady(context.Background(), b.Model, []float64{3}, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "node 1 at rest", end[0], 21, 1e-5)
	near(t, "node 2 at rest", end[1], 15, 1e-5)
	near(t, "heat out, W", stats.OutW, 3, 1e-9)
}

// Copper 2 mm, contact 1e-4 m2 K/W, plastic 3 mm, h = 8: R″ = 0.140105 m2 K/W, so
// 30 K drive 214.125 W/m2 (sum of resistances).
func TestSeriesWall(t *testing.T) {
	b := box([3]int{5, 1, 1}, [3]float64{0.005, 1, 1}, 0.2, 1e6) // 2 cells copper, 3 plastic, 1 mm each
	b.GX[0] = 390 / 1e-3
	b.GX[1] = 1 / (0.5e-3/390 + 1e-4 + 0.5e-3/0.2)
	b.side("held", 0, -1, hold(30))
	b.Surfaces[0].HalfWK[0] = 390 / 0.5e-3
	b.side("air", 0, 1, convect(8, 0))
	_, stats, err := Steady(context.Background(), b.Model, nil, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "flux, W/m2", stats.SurfaceHeatW[1], 214.125, 1e-3)
	near(t, "flux in, W/m2", -stats.SurfaceHeatW[0], 214.125, 1e-3)
}

// Spreading from a square source, 10 x 10 on 40 x 40 x 2 mm, k 390, h 100 on the
// back; Muzychka, Culham & Yovanovich, J. Electronic Packaging 125 (2003) 178-185,
// series summed to 4000 x 4000 terms: total mean 6.45342 K/W; with ρ 8940, c 385
// the step response of the same series.
func TestSpreading(t *testing.T) {
	const n, nz = 40, 5 // a quarter, 0.5 mm by 0.4 mm
	b := box([3]int{n, n, nz}, [3]float64{0.02, 0.02, 0.002}, 390, 8940*385)
	b.side("back", 2, -1, convect(100, 0))
	// the source as a surface of its own: pure gain of 1 W over the whole, a quarter of it here
	s := Surface{Name: "chip", Law: fixedFilm{GainWm2: 1 / 1e-4}}
	for j := range n / 4 {
		for i := range n / 4 {
			s.Cells = append(s.Cells, int32((nz-1)*n*n+j*n+i))
			s.AreaM2 = append(s.AreaM2, 0.25e-6)
			s.HalfWK = append(s.HalfWK, 2*390*0.25e-6/0.4e-3)
		}
	}
	b.Surfaces = append(b.Surfaces, s)
	_, stats, err := Steady(context.Background(), b.Model, nil, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean source rise, K/W", stats.MeanK[1], 6.45342, 0.005*6.45342)
	near(t, "spreading part, K/W", stats.MeanK[1]-6.25321, 0.20022, 0.015*0.20022) // first-order in the source's edge cells
	st := begin(t, b.Model, Options{TolK: 5e-4}, 0)
	for _, w := range [][2]float64{{0.1, 0.097938}, {1, 0.284977}, {10, 1.046504}, {60, 3.83791}, {300, 6.37332}} {
		run(t, st, w[0])
		near(t, fmt.Sprintf("mean source rise at %g s, K/W", w[0]), st.SurfaceState(1).MeanK, w[1], 0.015*w[1])
	}
}

// Lumped cooling, T = Ta + (T0 − Ta) exp(−t/RC): 20 + 40 exp(−t/600), °C.
func TestLumpedCooling(t *testing.T) {
	b := box([3]int{1, 1, 1}, [3]float64{1, 1, 1}, 1, 6000)
	b.Surfaces = []Surface{{Name: "air", Cells: []int32{0}, AreaM2: []float64{1}, HalfWK: []float64{math.Inf(1)}, Law: convect(10, 293.15)}}
	st := begin(t, b.Model, Options{TolK: 1e-4}, 333.15)
	for _, w := range [][2]float64{{300, 44.2612}, {600, 34.7152}, {900, 28.9252}, {1200, 25.4134}, {1800, 21.9915}} {
		run(t, st, w[0])
		near(t, fmt.Sprintf("at %g s", w[0]), st.TK()[0]-273.15, w[1], 2e-3)
	}
	near(t, "heat out, J", st.Balance().OutJ, 6000*(40-1.9915), 10)
}

// Bead in a gas duct that also radiates: Incropera et al. 6th ed. ex. 5.2, p. 265:
// rests at 218.7 °C (exact 218.713 with 0 °C = 273 K); within 1 K of it after 4.994 s.
func TestBeadWithRadiation(t *testing.T) {
	const d = 7.06e-4
	area, vol := math.Pi*d*d, math.Pi*d*d*d/6
	b := box([3]int{1, 1, 1}, [3]float64{1, 1, 1}, 1, 8500*400*vol)
	at := func(law Law, name string) Surface {
		return Surface{Name: name, Cells: []int32{0}, AreaM2: []float64{area}, HalfWK: []float64{math.Inf(1)}, Law: law}
	}
	b.Surfaces = []Surface{at(convect(400, 473), "gas"), at(radiate(0.9, 5.67e-8, 673), "walls")}
	end, _, err := Steady(context.Background(), b.Model, nil, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "at rest, °C", end[0]-273, 218.713, 1e-3)
	st := begin(t, b.Model, Options{TolK: 1e-3}, 298)
	run(t, st, 4.994)
	near(t, "1 K below rest, °C", st.TK()[0]-273, 217.7, 0.02) // the book stops at 217.7, 1 K below its 218.7
}
