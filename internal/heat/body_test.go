package heat

import (
	"context"
	"math"
	"testing"

	"finwright/internal/linsolve"
)

// fixedFilm is a law that knows no temperature.
type fixedFilm Film

func (f fixedFilm) Film(_ []float64, _ int, _ float64) Film { return Film(f) }

func convect(hWm2K, refK float64) Law { return fixedFilm{HWm2K: hWm2K, RefK: refK} }
func hold(refK float64) Law           { return fixedFilm{HWm2K: math.Inf(1), RefK: refK} }

// lawFunc makes a function a law.
type lawFunc func(meanK, tS float64) Film

func (f lawFunc) Film(meansK []float64, own int, tS float64) Film { return f(meansK[own], tS) }

// radiate is ε σ (T⁴ − Ta⁴) written about the surface mean.
func radiate(emissivity, sigma, ambientK float64) Law {
	return lawFunc(func(t, _ float64) Film {
		return Film{HWm2K: emissivity * sigma * (t*t + ambientK*ambientK) * (t + ambientK), RefK: ambientK}
	})
}

// body is a uniform box of equal cells.
type body struct {
	*Model
	d [3]float64 // cell size, m
	k float64    // W/(m K)
}

func box(cells [3]int, sizeM [3]float64, kWmK, rhoCJm3K float64) body {
	b := body{Model: &Model{Grid: linsolve.Grid{NX: cells[0], NY: cells[1], NZ: cells[2]}}, k: kWmK}
	for a := range b.d {
		b.d[a] = sizeM[a] / float64(cells[a])
	}
	n := b.Cells()
	b.CapJK, b.GX, b.GY, b.GZ = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for c := range n {
		i, j, k := b.Coordinates(c)
		b.CapJK[c] = rhoCJm3K * b.d[0] * b.d[1] * b.d[2]
		if i+1 < b.NX {
			b.GX[c] = kWmK * b.d[1] * b.d[2] / b.d[0]
		}
		if j+1 < b.NY {
			b.GY[c] = kWmK * b.d[0] * b.d[2] / b.d[1]
		}
		if k+1 < b.NZ {
			b.GZ[c] = kWmK * b.d[0] * b.d[1] / b.d[2]
		}
	}
	return b
}

// side puts a law on a whole side of the box.
func (b body) side(name string, axis, sign int, law Law) {
	s := Surface{Name: name, Law: law}
	area := b.d[0] * b.d[1] * b.d[2] / b.d[axis]
	last := [3]int{b.NX - 1, b.NY - 1, b.NZ - 1}[axis]
	if sign < 0 {
		last = 0
	}
	for c := range b.Cells() {
		i, j, k := b.Coordinates(c)
		if [3]int{i, j, k}[axis] == last {
			s.Cells = append(s.Cells, int32(c))
			s.AreaM2 = append(s.AreaM2, area)
			s.HalfWK = append(s.HalfWK, 2*b.k*area/b.d[axis])
		}
	}
	b.Surfaces = append(b.Surfaces, s)
}

// source spreads a power evenly over cells.
func (b body) source(name string, cells ...int32) {
	s := Source{Name: name, Cells: cells}
	for range cells {
		s.Share = append(s.Share, 1/float64(len(cells)))
	}
	b.Sources = append(b.Sources, s)
}

// begin makes a stepper at a uniform temperature.
func begin(t testing.TB, m *Model, opt Options, startK float64, powerW ...float64) *Stepper {
	t.Helper()
	st, err := NewStepper(m, opt)
	if err != nil {
		t.Fatal(err)
	}
	if err := st.InitUniform(startK, 0); err != nil {
		t.Fatal(err)
	}
	if err := st.SetPower(powerW); err != nil {
		t.Fatal(err)
	}
	return st
}

// run advances to untilS and checks the balance.
func run(t testing.TB, st *Stepper, untilS float64) {
	t.Helper()
	for st.Time() < untilS {
		if _, err := st.Advance(context.Background(), untilS); err != nil {
			t.Fatal(err)
		}
	}
	if b := st.Balance(); !(b.ClosureRel <= 1e-6) {
		t.Fatalf("balance open by %.2g: %+v", b.ClosureRel, b)
	}
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}
