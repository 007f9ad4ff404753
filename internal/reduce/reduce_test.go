package reduce

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"finwright/internal/heat"
	"finwright/internal/linsolve"
)

const untilS = 3600.0

func trained(t testing.TB) (*Basis, []values) {
	t.Helper()
	rng := rand.New(rand.NewPCG(7, 1))
	vs := []values{middle}
	for range 6 {
		vs = append(vs, drawn(rng, 1))
	}
	var ms []*heat.Model
	var powers [][]float64
	for _, v := range vs {
		ms, powers = append(ms, device(v)), append(powers, v.powerW[:])
	}
	return train(t, ambientK, untilS, ms, powers), vs
}

// The reference is the 3-D solver of package heat, which has its own published tests.
func TestAgainst3D(t *testing.T) {
	b, vs := trained(t)
	t.Logf("%d modes keep %.9f", b.R, b.Kept)
	if b.R < 4 || b.R > maxModes {
		t.Errorf("%d modes", b.R)
	}
	const tolK = 0.003
	var ms []*heat.Model
	for _, v := range vs {
		ms = append(ms, device(v))
	}
	rm := reduced(t, b, ms...)
	for i, v := range vs[:3] {
		e := worst(t, rm, device(v), tolK, ambientK, untilS, v.powerW[:]...)
		t.Logf("at training values %d: %.4f K", i, e)
		if !(e < 0.02) {
			t.Errorf("at training values %d the reduced run is off by %.3f K", i, e)
		}
	}
	rng := rand.New(rand.NewPCG(11, 2))
	most := 0.0
	for range 12 {
		v := drawn(rng, 1)
		e := worst(t, rm, device(v), tolK, ambientK, untilS, v.powerW[:]...)
		most = math.Max(most, e)
		if !(e < 0.1) {
			t.Errorf("off by %.3f K at %+v", e, v)
		}
	}
	t.Logf("at values never trained on: worst %.4f K", most)
}

// A body that heat cannot leave gains P t / C on the mean, whatever the modes: energy is conserved.
func TestAdiabaticBodyKeepsItsHeat(t *testing.T) {
	v := middle
	m := device(v)
	b := train(t, ambientK, 600, []*heat.Model{m}, [][]float64{v.powerW[:]})
	m.Surfaces = nil
	st := stepper(t, b, m, 0.02, ambientK, 2, 0.5)
	capJK := 0.0
	for _, c := range m.CapJK {
		capJK += c
	}
	for _, at := range []float64{10, 100, 1000} {
		run(t, st, at)
		sumJ := 0.0
		for c, cp := range m.CapJK {
			if cp > 0 {
				sumJ += cp * (st.TK()[c] - ambientK)
			}
		}
		within(t, "mean rise", sumJ/capJK, 2.5*at/capJK, 1e-9*math.Max(1, 2.5*at/capJK))
	}
	// one field only, the uniform one: no noise may pass for a mode
	one, err := NewBasis([][]float64{uniform(m.Cells(), 310), uniform(m.Cells(), 320.1)}, m.CapJK, ambientK)
	if err != nil {
		t.Fatal(err)
	}
	if one.R != 1 {
		t.Errorf("uniform fields gave %d modes", one.R)
	}
	st = stepper(t, one, m, 0.02, ambientK, 2, 0.5)
	run(t, st, 500)
	for c, cp := range m.CapJK {
		if cp > 0 {
			within(t, "rise", st.TK()[c]-ambientK, 2.5*500/capJK, 1e-9*2.5*500/capJK)
		}
	}
}

// Lumped body: T - Ta = (T0 - Ta) exp(-t hA/C) (Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., eq. 5.6).
func TestLumpedCooling(t *testing.T) {
	m := single(20, convect(25, 290))
	b, err := NewBasis([][]float64{{350}}, m.CapJK, 360)
	if err != nil {
		t.Fatal(err)
	}
	st := stepper(t, b, m, 1e-4, 360, 0)
	for _, at := range []float64{20, 80, 200} {
		run(t, st, at)
		within(t, "cooling", st.TK()[0], 290+70*math.Exp(-at*0.25/20), 2e-3)
	}
}

// node2 is the two-node network: C1 50, C2 150 J/K, R12 2, R2a 5 K/W, scaled in its conductances.
func node2(scale float64) *heat.Model {
	return &heat.Model{Grid: linsolve.Grid{NX: 2, NY: 1, NZ: 1}, CapJK: []float64{50, 150}, GX: []float64{0.5 * scale, 0}, GY: []float64{0, 0}, GZ: []float64{0, 0},
		Sources:  []heat.Source{{Name: "s", Cells: []int32{0}, Share: []float64{1}}},
		Surfaces: []heat.Surface{{Name: "a", Cells: []int32{1}, AreaM2: []float64{0.02}, HalfWK: []float64{math.Inf(1)}, Law: convect(10*scale, ambientK)}}}
}

// Rises of the two-node network at 3 W into node 1 by its matrix exponential (recomputed; eigenvalues 1/73.0304 and
// 1/1026.9696 1/s), from modes that saw 1 W and other conductances only.
func TestTwoNodeNetwork(t *testing.T) {
	b := train(t, ambientK, 3000, []*heat.Model{node2(1.5)}, [][]float64{{1}})
	if b.R != 2 {
		t.Fatalf("%d modes of 2 nodes", b.R)
	}
	st := stepper(t, b, node2(1), 1e-4, ambientK, 3)
	for _, w := range []struct{ atS, k1, k2 float64 }{{60, 2.75747, 0.27305}, {300, 7.59050, 2.96127}, {900, 13.55233, 8.27755}, {1800, 17.89959, 12.20149}, {3600, 20.46270, 14.51502}} {
		run(t, st, w.atS)
		within(t, "node 1", st.TK()[0]-ambientK, w.k1, 2e-3)
		within(t, "node 2", st.TK()[1]-ambientK, w.k2, 2e-3)
	}
	run(t, st, 40000)
	within(t, "node 1 settled", st.TK()[0]-ambientK, 21, 1e-3)
	within(t, "node 2 settled", st.TK()[1]-ambientK, 15, 1e-3)
}

// TR-BDF2 is of second order: the error control asks for a third-order estimate e ~ h³ below the tolerance, so h ~ tol^(1/3)
// and the global error ~ h² ~ tol^(2/3). A tolerance eight times smaller must then bring about four times less error.
func TestSecondOrderInTime(t *testing.T) {
	errorAt := func(tolK float64) float64 {
		b := train(t, ambientK, 3000, []*heat.Model{node2(1)}, [][]float64{{3}})
		st := stepper(t, b, node2(1), tolK, ambientK, 3)
		most := 0.0
		for st.Time() < 1500 {
			advance(t, st, 1500)
			most = math.Max(most, math.Abs(st.TK()[0]-ambientK-node1(st.Time())))
		}
		return most
	}
	e1, e2, e3 := errorAt(0.08), errorAt(0.01), errorAt(0.00125)
	t.Logf("errors %.3g %.3g %.3g", e1, e2, e3)
	if !(e1/e2 > 3 && e2/e3 > 3) {
		t.Errorf("errors %.3g, %.3g, %.3g at tolerances eight times smaller each", e1, e2, e3)
	}
}

// node1 is node 1's rise, by the eigenvectors of the two-node network written out.
func node1(tS float64) float64 {
	// C1 x' = 3 - (x-y)/2, C2 y' = (x-y)/2 - y/5
	a, bb, c, d := -0.5/50, 0.5/50, 0.5/150, -0.7/150
	tr, det := a+d, a*d-bb*c
	root := math.Sqrt(tr*tr/4 - det)
	l1, l2 := tr/2+root, tr/2-root
	// u = x - 21, v = y - 15; (A - l2) projects on l1
	u0, v0 := -21.0, -15.0
	p1 := ((a-l2)*u0 + bb*v0) / (l1 - l2)
	return 21 + p1*math.Exp(l1*tS) + (u0-p1)*math.Exp(l2*tS)
}

func TestReadingInsideAStepAndRewinding(t *testing.T) {
	b, vs := trained(t)
	v := vs[0]
	m := device(v)
	st := stepper(t, b, m, 0.02, ambientK, v.powerW[:]...)
	for st.Time() < 300 {
		advance(t, st, untilS)
	}
	inside, ends := make([]float64, b.N), make([]float64, b.N)
	s := advance(t, st, untilS)
	st.At(ends, s.ToS, nil)
	for c, cp := range m.CapJK {
		if cp > 0 {
			within(t, "at the step's end", ends[c], st.TK()[c], 1e-9)
		}
	}
	at := s.FromS + 0.4*(s.ToS-s.FromS)
	st.At(inside, at, nil)
	steps := st.Stats().Steps
	if err := st.RewindTo(at); err != nil {
		t.Fatal(err)
	}
	if st.Time() != at || st.Stats().Steps != steps {
		t.Errorf("at %g s after %d steps, want %g s after %d", st.Time(), st.Stats().Steps, at, steps)
	}
	for c, cp := range m.CapJK {
		if cp > 0 {
			within(t, "shortened step", st.TK()[c], inside[c], 0.02)
		}
	}
	for _, bad := range []float64{s.FromS - 1, s.FromS, s.ToS + 1, math.NaN()} {
		if err := st.RewindTo(bad); err == nil {
			t.Errorf("rewound to %g s, outside the step", bad)
		}
	}
	// power off from here: the block must start to cool at once, and run on as the 3-D solver does with the same switch
	hot := int(m.Sources[0].Cells[0])
	before := st.TK()[hot]
	if err := st.SetPower([]float64{0, 0}); err != nil {
		t.Fatal(err)
	}
	advance(t, st, at+2)
	if !(st.TK()[hot] < before) {
		t.Errorf("without power %g K after %g K", st.TK()[hot], before)
	}
	ref, err := heat.NewStepper(m, heat.Options{TolK: 0.002, Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := ref.InitUniform(ambientK, 0); err != nil {
		t.Fatal(err)
	}
	if err := ref.SetPower(v.powerW[:]); err != nil {
		t.Fatal(err)
	}
	go3D := func(until float64) {
		for ref.Time() < until {
			if _, err := ref.Advance(context.Background(), until); err != nil {
				t.Fatal(err)
			}
		}
	}
	go3D(at)
	if err := ref.SetPower([]float64{0, 0}); err != nil {
		t.Fatal(err)
	}
	for _, dt := range []float64{30, 300, 1500} {
		go3D(at + dt)
		run(t, st, at+dt)
		for c, cp := range m.CapJK {
			if cp > 0 {
				within(t, "after the switch", st.TK()[c], ref.TK()[c], 0.15)
			}
		}
	}
	if st.SetPower([]float64{1}) == nil {
		t.Error("one power for two sources was taken")
	}
}

// The time at which a cell reaches a temperature, found inside the step, against the two-node closed form.
func TestEventInsideAStep(t *testing.T) {
	b := train(t, ambientK, 3000, []*heat.Model{node2(1)}, [][]float64{{3}})
	st := stepper(t, b, node2(1), 0.005, ambientK, 3)
	wantK := 12.0
	field := make([]float64, 2)
	for {
		s := advance(t, st, 3000)
		if st.TK()[0]-ambientK < wantK {
			continue
		}
		lo, hi := s.FromS, s.ToS
		for hi-lo > 0.01 {
			mid := (lo + hi) / 2
			if st.At(field, mid, []int32{0}); field[0]-ambientK >= wantK {
				hi = mid
			} else {
				lo = mid
			}
		}
		if err := st.RewindTo(hi); err != nil {
			t.Fatal(err)
		}
		break
	}
	lo, hi := 0.0, 3000.0
	for hi-lo > 1e-3 {
		if mid := (lo + hi) / 2; node1(mid) >= wantK {
			hi = mid
		} else {
			lo = mid
		}
	}
	within(t, "time of 12 K", st.Time(), hi, 1)
	within(t, "temperature then", st.TK()[0]-ambientK, wantK, 0.01)
}

func TestStarts(t *testing.T) {
	m := node2(1)
	b := train(t, ambientK, 3000, []*heat.Model{m}, [][]float64{{3}})
	st, err := reduced(t, b, m).Stepper(Instance{Heat: m}, 0.01)
	if err != nil {
		t.Fatal(err)
	}
	if st.Init([]float64{300, 301}, 0) == nil {
		t.Error("a start that is not uniform was taken")
	}
	if st.Init([]float64{math.NaN(), math.NaN()}, 0) == nil {
		t.Error("a start that is no number was taken")
	}
	// another start temperature than that of training, and time that does not begin at zero
	if err := st.Init([]float64{ambientK + 30, ambientK + 30}, 500); err != nil {
		t.Fatal(err)
	}
	within(t, "start", st.TK()[1], ambientK+30, 1e-9)
	run(t, st, 600)
	if st.Time() != 600 || st.TK()[1] >= ambientK+30 {
		t.Errorf("%g K at %g s", st.TK()[1], st.Time())
	}
	// a second start forgets the first one
	for range 2 {
		if err := st.Init(uniform(2, ambientK), 0); err != nil {
			t.Fatal(err)
		}
		if err := st.SetPower([]float64{3}); err != nil {
			t.Fatal(err)
		}
		run(t, st, 300)
		within(t, "node 1", st.TK()[0]-ambientK, 7.59050, 0.02)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := st.Advance(ctx, 1000); !errors.Is(err, context.Canceled) {
		t.Errorf("after Ctrl-C: %v", err)
	}
}

func TestBadInput(t *testing.T) {
	capJK := []float64{1, 2}
	for name, snaps := range map[string][][]float64{"none": nil, "too short": {{300}}, "not a number": {{300, math.NaN()}}} {
		if _, err := NewBasis(snaps, capJK, 300); err == nil {
			t.Errorf("snapshots %s were taken", name)
		}
	}
	if _, err := NewBasis([][]float64{{300, 300}}, []float64{0, 0}, 300); err == nil {
		t.Error("cells that hold no heat were taken")
	}
	b, err := NewBasis([][]float64{{300, 301}}, capJK, 300)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Build(b, []Instance{{Heat: single(1, nil)}}); err == nil {
		t.Error("a model of other cells was taken")
	}
}

// What the surfaces do at their extremes, against the 3-D solver.
func TestSurfacesAtTheirExtremes(t *testing.T) {
	for name, law := range map[string]heat.Law{
		"held":      hold(ambientK + 20),
		"flux":      gain(300),
		"radiation": natural(0, 1),
		"sine":      lawFunc(func(_, s float64) heat.Film { return heat.Film{HWm2K: 200, RefK: ambientK + 15*math.Sin(s/100)} }),
	} {
		for _, half := range []float64{1, math.Inf(1)} {
			m := device(middle)
			m.Surfaces[2].Law = law
			for e := range m.Surfaces[2].HalfWK {
				m.Surfaces[2].HalfWK[e] *= half
			}
			if half > 1 && name == "held" {
				continue // heat takes such cells out of its equations; a device has none: its cells have a size
			}
			p := middle.powerW[:]
			b := train(t, ambientK, 900, []*heat.Model{m}, [][]float64{p})
			if e := worst(t, reduced(t, b, m), m, 0.003, ambientK, 900, p...); !(e < 0.02) {
				t.Errorf("%s, half cell times %g: off by %.3f K", name, half, e)
			} else {
				t.Logf("%s, half cell times %g: %.4f K", name, half, e)
			}
			st, ref := stepper(t, b, m, 0.003, ambientK, p...), 0.0
			run(t, st, 900)
			h3, err := heat.NewStepper(m, heat.Options{TolK: 0.002, Workers: 1})
			if err == nil {
				err = h3.InitUniform(ambientK, 0)
			}
			if err == nil {
				err = h3.SetPower(p)
			}
			for err == nil && h3.Time() < 900 {
				_, err = h3.Advance(context.Background(), 900)
			}
			if err != nil {
				t.Fatal(err)
			}
			for i := range m.Surfaces {
				a, c := st.SurfaceState(i), h3.SurfaceState(i)
				within(t, name+": mean of "+m.Surfaces[i].Name, a.MeanK, c.MeanK, 0.03)
				within(t, name+": heat of "+m.Surfaces[i].Name, a.HeatW, c.HeatW, 0.01*math.Abs(c.HeatW)+0.005)
				ref += c.HeatW
			}
			if ref == 0 {
				t.Error("no heat leaves")
			}
		}
	}
}

func TestFocus(t *testing.T) {
	m := device(middle)
	p := middle.powerW[:]
	b := train(t, ambientK, 300, []*heat.Model{m}, [][]float64{p})
	all := stepper(t, b, m, 0.01, ambientK, p...)
	st := stepper(t, b, m, 0.01, ambientK, p...)
	focus := []int32{m.Sources[0].Cells[3], m.Sources[1].Cells[0]}
	st.Focus(focus)
	for range 5 {
		advance(t, all, 300)
		advance(t, st, 300)
	}
	got := st.TK()
	for c := range got {
		switch {
		case int32(c) == focus[0] || int32(c) == focus[1]:
			within(t, "in the focus", got[c], all.TK()[c], 0)
		case !math.IsNaN(got[c]):
			t.Fatalf("cell %d outside the focus reads %g K", c, got[c])
		}
	}
	st.Focus(nil)
	for c, cp := range m.CapJK {
		if cp > 0 {
			within(t, "focus lifted", st.TK()[c], all.TK()[c], 0)
		}
	}
	st.Focus(focus)
	for c := range st.TK() {
		if int32(c) != focus[0] && int32(c) != focus[1] && !math.IsNaN(st.TK()[c]) {
			t.Fatalf("cell %d outside a later focus reads %g K", c, st.TK()[c])
		}
	}
}

func TestNoAllocations(t *testing.T) {
	m := device(middle)
	p := middle.powerW[:]
	b := train(t, ambientK, 300, []*heat.Model{m}, [][]float64{p})
	st := stepper(t, b, m, 0.01, ambientK, p...)
	field := make([]float64, b.N)
	ctx := context.Background()
	step := func() {
		s, err := st.Advance(ctx, 1e9)
		if err != nil {
			t.Fatal(err)
		}
		st.At(field, (s.FromS+s.ToS)/2, m.Sources[0].Cells)
		if err := st.RewindTo((s.FromS + s.ToS) / 2); err != nil {
			t.Fatal(err)
		}
		_ = st.TK()
	}
	step()
	if n := testing.AllocsPerRun(20, step); n != 0 {
		t.Errorf("%g allocations per step", n)
	}
}
