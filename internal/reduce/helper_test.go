package reduce

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"finwright/internal/heat"
	"finwright/internal/linsolve"
)

// lawFunc makes a function a law.
type lawFunc func(meanK, tS float64) heat.Film

func (f lawFunc) Film(meansK []float64, own int, tS float64) heat.Film { return f(meansK[own], tS) }

func convect(hWm2K, refK float64) heat.Law {
	return lawFunc(func(_, _ float64) heat.Film { return heat.Film{HWm2K: hWm2K, RefK: refK} })
}

func hold(refK float64) heat.Law { return convect(math.Inf(1), refK) }

func gain(wM2 float64) heat.Law {
	return lawFunc(func(_, _ float64) heat.Film { return heat.Film{RefK: ambientK, GainWm2: wM2} })
}

// natural is a film that grows with the rise, as free convection does, with black-body radiation beside it.
func natural(factor, emissivity float64) heat.Law {
	const sigma = 5.670374419e-8
	return lawFunc(func(t, _ float64) heat.Film {
		h := factor*1.4*math.Pow(math.Abs(t-ambientK)/0.05+1e-3, 0.25) + emissivity*sigma*(t*t+ambientK*ambientK)*(t+ambientK)
		return heat.Film{HWm2K: h, RefK: ambientK}
	})
}

const ambientK = 298.15

// values are what the two-block device is made with.
type values struct {
	powerW            [2]float64
	jointWm2K         float64 // between the blocks
	kWmK              float64 // of the plate
	cap               float64 // factor
	factor            float64 // on the film
	gainWm2           float64 // sun on top
	emissivity, backH float64
}

var middle = values{powerW: [2]float64{3, 1}, jointWm2K: 800, kWmK: 20, cap: 1, factor: 1, gainWm2: 100, emissivity: 0.8, backH: 8}

// device is a plate of 60 x 40 x 4 mm with a block of 20 x 20 x 6 mm glued on it off its middle: two sources, a joint, three
// surfaces with a law that bends, and cells outside of both.
func device(v values) *heat.Model {
	const nx, ny, nz = 12, 8, 5
	d := [3]float64{5e-3, 5e-3, 2e-3}
	m := &heat.Model{Grid: linsolve.Grid{NX: nx, NY: ny, NZ: nz}}
	n := m.Cells()
	m.CapJK, m.GX, m.GY, m.GZ = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	body := func(i, j, k int) int { // 0 plate, 1 block, -1 nothing
		switch {
		case i < 0 || j < 0 || k < 0 || i >= nx || j >= ny || k >= nz:
			return -1
		case k < 2:
			return 0
		case i >= 2 && i < 6 && j >= 3 && j < 7:
			return 1
		}
		return -1
	}
	k := [2]float64{v.kWmK, 100}
	rhoC := [2]float64{2.4e6 * v.cap, 1.6e6}
	var sides [2]heat.Surface
	bottom := heat.Surface{Name: "bottom", Law: convect(v.backH, ambientK-5)}
	sides[0] = heat.Surface{Name: "plate", Law: natural(v.factor, v.emissivity)}
	sides[1] = heat.Surface{Name: "block", Law: lawFunc(func(t, s float64) heat.Film {
		f := natural(v.factor, 0.3).Film([]float64{t}, 0, s)
		f.GainWm2 = v.gainWm2
		return f
	})}
	var src [2]heat.Source
	src[0].Name, src[1].Name = "block", "corner"
	for c := range n {
		i, j, kk := m.Coordinates(c)
		b := body(i, j, kk)
		if b < 0 {
			continue
		}
		m.CapJK[c] = rhoC[b] * d[0] * d[1] * d[2]
		if b == 1 {
			src[0].Cells = append(src[0].Cells, int32(c))
		} else if i >= 10 && j < 2 {
			src[1].Cells = append(src[1].Cells, int32(c))
		}
		for a, g := range [3][]float64{m.GX, m.GY, m.GZ} {
			area := d[0] * d[1] * d[2] / d[a]
			at := [3]int{i, j, kk}
			at[a]++
			nb := body(at[0], at[1], at[2])
			if nb >= 0 {
				r := d[a]/2/k[b] + d[a]/2/k[nb]
				if nb != b {
					r += 1 / v.jointWm2K
				}
				g[c] = area / r
			}
			for _, s := range []int{-1, 1} {
				at[a] = [3]int{i, j, kk}[a] + s
				if body(at[0], at[1], at[2]) < 0 {
					sf := &sides[b]
					if a == 2 && s < 0 {
						sf = &bottom
					}
					sf.Cells = append(sf.Cells, int32(c))
					sf.AreaM2 = append(sf.AreaM2, area)
					sf.HalfWK = append(sf.HalfWK, k[b]*area/(d[a]/2))
				}
			}
		}
	}
	for i := range src {
		for range src[i].Cells {
			src[i].Share = append(src[i].Share, 1/float64(len(src[i].Cells)))
		}
	}
	m.Sources = src[:]
	m.Surfaces = []heat.Surface{sides[0], sides[1], bottom}
	return m
}

// single is one cell of capJK with one surface of 0.01 m² at its centre.
func single(capJK float64, law heat.Law) *heat.Model {
	m := &heat.Model{Grid: linsolve.Grid{NX: 1, NY: 1, NZ: 1}, CapJK: []float64{capJK}, GX: []float64{0}, GY: []float64{0}, GZ: []float64{0},
		Sources: []heat.Source{{Name: "s", Cells: []int32{0}, Share: []float64{1}}}}
	if law != nil {
		m.Surfaces = []heat.Surface{{Name: "a", Cells: []int32{0}, AreaM2: []float64{0.01}, HalfWK: []float64{math.Inf(1)}, Law: law}}
	}
	return m
}

// watch runs the 3-D solver and calls visit after each step.
func watch(t testing.TB, m *heat.Model, startK, untilS float64, powerW []float64, visit func(tS float64, tK []float64)) {
	t.Helper()
	st, err := heat.NewStepper(m, heat.Options{TolK: 0.002, Workers: 1})
	if err == nil {
		err = st.InitUniform(startK, 0)
	}
	if err == nil {
		err = st.SetPower(powerW)
	}
	for err == nil && st.Time() < untilS {
		if _, err = st.Advance(context.Background(), untilS); err == nil {
			visit(st.Time(), st.TK())
		}
	}
	if err != nil {
		t.Fatal(err)
	}
}

// train makes modes from 3-D runs of models.
func train(t testing.TB, startK, untilS float64, ms []*heat.Model, powerW [][]float64) *Basis {
	t.Helper()
	var all [][]float64
	for i, m := range ms {
		next := 0.0
		watch(t, m, startK, untilS, powerW[i], func(tS float64, tK []float64) {
			if tS >= next {
				all = append(all, append([]float64(nil), tK...))
				next = 1.2*tS + 0.1
			}
		})
	}
	b, err := NewBasis(all, ms[0].CapJK, startK)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func stepper(t testing.TB, b *Basis, m *heat.Model, tolK, startK float64, powerW ...float64) *Stepper {
	t.Helper()
	return stepperOf(t, reduced(t, b, m), m, tolK, startK, powerW...)
}

// reduced is the model that knows of these instances.
func reduced(t testing.TB, b *Basis, ms ...*heat.Model) *Model {
	t.Helper()
	var in []Instance
	for _, m := range ms {
		in = append(in, Instance{Heat: m})
	}
	rm, err := Build(b, in)
	if err != nil {
		t.Fatal(err)
	}
	return rm
}

func stepperOf(t testing.TB, rm *Model, m *heat.Model, tolK, startK float64, powerW ...float64) *Stepper {
	t.Helper()
	st, err := rm.Stepper(Instance{Heat: m}, tolK)
	if err == nil {
		err = st.Init(uniform(rm.N, startK), 0)
	}
	if err == nil {
		err = st.SetPower(powerW)
	}
	if err != nil {
		t.Fatal(err)
	}
	return st
}

func uniform(n int, tK float64) []float64 {
	f := make([]float64, n)
	for i := range f {
		f[i] = tK
	}
	return f
}

// advance makes one step.
func advance(t testing.TB, st *Stepper, untilS float64) heat.Step {
	t.Helper()
	s, err := st.Advance(context.Background(), untilS)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func run(t testing.TB, st *Stepper, untilS float64) {
	t.Helper()
	for st.Time() < untilS {
		advance(t, st, untilS)
	}
}

// worst is the largest difference to the 3-D solver in any cell at any of its steps.
func worst(t testing.TB, rm *Model, m *heat.Model, tolK, startK, untilS float64, powerW ...float64) float64 {
	t.Helper()
	st := stepperOf(t, rm, m, tolK, startK, powerW...)
	got := make([]float64, rm.N)
	largest := 0.0
	watch(t, m, startK, untilS, powerW, func(tS float64, tK []float64) {
		for st.Time() < tS {
			advance(t, st, untilS)
		}
		st.At(got, tS, nil)
		for c, cp := range m.CapJK {
			if cp > 0 {
				largest = math.Max(largest, math.Abs(got[c]-tK[c]))
			}
		}
	})
	return largest
}

// drawn is the middle with every figure moved by up to a share of its range, e.g. 1 for what training may visit.
func drawn(rng *rand.Rand, share float64) values {
	by := func(ratio float64) float64 { return math.Pow(ratio, share*(2*rng.Float64()-1)) }
	v := middle
	v.powerW[0] *= by(1.6)
	v.powerW[1] *= by(1.6)
	v.jointWm2K *= by(5)
	v.kWmK *= by(1.5)
	v.cap *= by(1.15)
	v.factor *= by(1.15)
	v.gainWm2 *= by(3)
	v.emissivity *= by(1.1)
	v.backH *= by(2)
	return v
}

func within(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %.2g", what, got, want, tol)
	}
}
