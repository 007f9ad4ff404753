package reduce

import (
	"math"
	"testing"

	"finwright/internal/heat"
	"finwright/internal/linsolve"
)

// facing is black-body exchange with another surface of the same area.
type facing struct{ with int }

func (f facing) Film(meansK []float64, own int, _ float64) heat.Film {
	const sigma = 5.670374419e-8
	t, o := meansK[own], meansK[f.with]
	return heat.Film{HWm2K: sigma * (t*t + o*o) * (t + o), RefK: o}
}

// Two plates that see only each other, one heated for as long as it takes: on two modes, which hold all they can do, against
// dT1/dt = (P − A σ (T1⁴ − T2⁴))/C1 and its mirror in tiny steps of the classical Runge-Kutta method. What goes in stays in.
func TestPlatesFacingEachOther(t *testing.T) {
	const c1, c2, areaM2, powerW, endS = 40.0, 100.0, 0.02, 5.0, 2000.0
	zero := func() []float64 { return []float64{0, 0} }
	m := &heat.Model{Grid: linsolve.Grid{NX: 2, NY: 1, NZ: 1}, CapJK: []float64{c1, c2}, GX: zero(), GY: zero(), GZ: zero(),
		Sources: []heat.Source{{Name: "chip", Cells: []int32{0}, Share: []float64{1}}}}
	for i, name := range []string{"first", "second"} {
		m.Surfaces = append(m.Surfaces, heat.Surface{Name: name, Cells: []int32{int32(i)}, AreaM2: []float64{areaM2},
			HalfWK: []float64{math.Inf(1)}, Law: facing{1 - i}})
	}
	b, err := NewBasis([][]float64{{301, 300}, {300, 301}}, m.CapJK, 300)
	if err != nil {
		t.Fatal(err)
	}
	slope := func(a, b float64) (float64, float64) {
		q := areaM2 * 5.670374419e-8 * (math.Pow(a, 4) - math.Pow(b, 4))
		return (powerW - q) / c1, q / c2
	}
	w1, w2 := 300.0, 300.0
	const n = 20000
	h := endS / n
	for range n {
		a1, b1 := slope(w1, w2)
		a2, b2 := slope(w1+h/2*a1, w2+h/2*b1)
		a3, b3 := slope(w1+h/2*a2, w2+h/2*b2)
		a4, b4 := slope(w1+h*a3, w2+h*b3)
		w1, w2 = w1+h/6*(a1+2*a2+2*a3+a4), w2+h/6*(b1+2*b2+2*b3+b4)
	}
	st := stepper(t, b, m, 0.003, 300, powerW)
	run(t, st, endS)
	within(t, "first", st.TK()[0], w1, 0.02)
	within(t, "second", st.TK()[1], w2, 0.02)
	within(t, "heat held, J", c1*(st.TK()[0]-300)+c2*(st.TK()[1]-300), powerW*endS, 1e-4*powerW*endS)
}
