package reduce

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"

	"finwright/internal/heat"
)

// Gas is one region of sealed air, across which radiation depends on its mean temperature.
type Gas struct {
	Cells []int32
	Share []float64 // of the region's volume; sums to 1
	Walls []Walls   // between which its air may move
}

// Walls are two bodies with sealed air between them, whose motion depends on how far they are apart in temperature.
type Walls struct {
	A, B  Mean
	Cells []int32 // the air between them
}

// Mean is a mean temperature over cells.
type Mean struct {
	Cells []int32
	Share []float64 // sums to 1
}

// system is a heat model projected on a basis. All matrices are R x R, row-major.
type system struct {
	b       *Basis
	m       *heat.Model
	mass    []float64
	k       []float64   // conduction, with everything at T0
	source  [][]float64 // per source, R
	surface []face
	parts   []gasPart
}

// gasPart is how conduction changes with a temperature x: the mean rise of an air region over T0 (radiation), or the difference
// between two walls (motion of the air between them). change[i] is that at x = atK·gasSteps[i]. Radiation goes with T³ and takes
// the parabola through the first, the radiationStep and the last; motion, which sets in somewhere, takes straight lines.
type gasPart struct {
	mean   []float64 // R: x per mode
	atK    float64
	motion bool        // none where x/atK is negative: the warm wall is the other one than in the Reference
	air    []float64   // R, motion only: mean departure of the air from T0 ...
	airK   float64     // ... and its temperature at which change was taken
	change [][]float64 // R x R each; nil at the first, which is 0, and where radiation does not need it
}

// face is one surface of the model: elements with the same ratio of half-cell conductance to area share a group.
type face struct {
	law    heat.Law
	areaM2 float64
	groups []group
}

type group struct {
	halfWm2K float64 // cell centre to the surface, per area; +Inf: none
	areaM2   float64
	sum      []float64 // R: Σ A v
	square   []float64 // R x R: Σ A v vᵀ
}

// The Reference, its rises scaled to gasSteps times gasRiseK in the warmest air, is where the change of what crosses sealed air is
// taken.
const gasRiseK = 100

var gasSteps = [...]float64{0, 0.06, 0.12, 0.2, 0.3, 0.45, 0.7, 1}

const radiationStep = 5

// leastX is the least rise or difference, as a share of the rise of the warmest air, that can stand for what crosses: what
// depends on less is taken as constant.
const leastX = 0.01

// project projects m on the basis.
func project(b *Basis, m *heat.Model, gas []Gas) (*system, error) {
	n, r := b.N, b.R
	if m.Cells() != n {
		return nil, fmt.Errorf("reduce: the model has %d cells, the modes %d", m.Cells(), n)
	}
	s := &system{b: b, m: m}
	w := make([]float64, n*r)
	for c, cp := range m.CapJK {
		for k := 0; k < r; k++ {
			w[c*r+k] = cp * b.V[c*r+k]
		}
	}
	s.mass = b.inner(w)

	s.gases(gas, w)

	for i := range m.Sources {
		src := &m.Sources[i]
		f := make([]float64, r)
		for q, c := range src.Cells {
			for k := 0; k < r; k++ {
				f[k] += src.Share[q] * b.V[int(c)*r+k]
			}
		}
		s.source = append(s.source, f)
	}
	for i := range m.Surfaces {
		s.surface = append(s.surface, b.faceOf(&m.Surfaces[i]))
	}
	return s, nil
}

// Motion at another air temperature T than it was projected at: the Rayleigh number of a difference goes with gβ/(να), T^-4.6
// about room temperature, and what crosses with the conductivity, T^0.85 (properties of air at 300 and 350 K, Incropera et al.,
// 6th ed., table A.4).
const (
	rayleighExponent     = -4.6
	conductivityExponent = 0.85
	motionRiseK          = 50 // of the warmest air where motion is projected
)

// gases projects conduction and how it changes with the temperatures of the sealed air and its walls. Radiation is taken with
// walls that are all as warm as each other, motion at the Reference's differences, scaled, and one air temperature.
func (s *system) gases(gas []Gas, w []float64) {
	b := s.b
	now := [3][]float64{s.m.GX, s.m.GY, s.m.GZ}
	copyOf := func() (out [3][]float64) {
		for a, g := range now {
			out[a] = append([]float64(nil), g...)
		}
		return out
	}
	still, warm := b.typical(gas) // rises per K of gasRiseK
	field := make([]float64, b.N)
	s.refresh(field, still, nil, 0)
	s.k = s.conduction(w)
	if len(gas) == 0 || s.m.Refresh == nil {
		return
	}
	low := copyOf()
	region, between := make([]int32, b.N), make([]int32, b.N) // 1 + index of the part, 0: none
	add := func(p gasPart, cells, of []int32) {
		if math.Abs(p.atK) < leastX*gasRiseK {
			return
		}
		p.change = make([][]float64, 1, len(gasSteps))
		s.parts = append(s.parts, p)
		for _, c := range cells {
			of[c] = int32(len(s.parts))
		}
	}
	for i := range gas {
		air := Mean{gas[i].Cells, gas[i].Share}
		mean, rise := b.modesOf(&air), air.of(still)
		add(gasPart{mean: mean, atK: gasRiseK * rise}, air.Cells, region)
		for q := range gas[i].Walls {
			p := &gas[i].Walls[q]
			x := b.modesOf(&p.A)
			for k, v := range b.modesOf(&p.B) {
				x[k] -= v
			}
			add(gasPart{mean: x, atK: gasRiseK * (p.A.of(warm) - p.B.of(warm)), motion: true, air: mean, airK: b.T0K + motionRiseK*rise}, p.Cells, between)
		}
	}
	for at := 1; at < len(gasSteps); at++ {
		needed := at == radiationStep || at == len(gasSteps)-1
		if needed {
			s.refresh(field, still, nil, gasSteps[at]*gasRiseK)
		}
		for i := range s.parts {
			p := &s.parts[i]
			switch {
			case p.motion:
			case needed:
				p.change = append(p.change, s.changeIn(int32(i+1), region, low, now, w))
			default:
				p.change = append(p.change, nil)
			}
		}
	}
	s.refresh(field, still, nil, motionRiseK)
	resting := copyOf()
	for _, step := range gasSteps[1:] {
		s.refresh(field, warm, gas, step*gasRiseK)
		for i := range s.parts {
			if p := &s.parts[i]; p.motion {
				p.change = append(p.change, s.changeIn(int32(i+1), between, resting, now, w))
			}
		}
	}
	// gaps in which the air never moves
	s.parts = slices.DeleteFunc(s.parts, func(p gasPart) bool {
		for _, c := range p.change {
			for _, x := range c {
				if x != 0 {
					return false
				}
			}
		}
		return true
	})
}

// modesOf is a mean's departure from T0 per mode.
func (b *Basis) modesOf(m *Mean) []float64 {
	out := make([]float64, b.R)
	for q, c := range m.Cells {
		for k := range out {
			out[k] += m.Share[q] * b.V[int(c)*b.R+k]
		}
	}
	return out
}

// of is the mean of a field.
func (m *Mean) of(field []float64) float64 {
	sum := 0.0
	for q, c := range m.Cells {
		sum += m.Share[q] * field[c]
	}
	return sum
}

// changeIn is Vᵀ ΔL V with ΔL the conductances' change from low to now at the faces of one part's cells; a face between two
// parts is the first one's. w is scratch, N x R.
func (s *system) changeIn(of int32, partOf []int32, low, now [3][]float64, w []float64) []float64 {
	b := s.b
	r := b.R
	row := make([]int32, b.N) // per cell: 1 + row of w, 0: none
	var cells []int           // per row
	rowOf := func(c int) []float64 {
		if row[c] == 0 {
			cells = append(cells, c)
			row[c] = int32(len(cells))
			clear(w[(len(cells)-1)*r : len(cells)*r])
		}
		q := int(row[c])
		return w[(q-1)*r : q*r]
	}
	for a, g := range now {
		stride := [3]int{1, s.m.NX, s.m.NX * s.m.NY}[a]
		for c, f := range g {
			if f == low[a][c] || partOf[c] != of && (partOf[c] != 0 || partOf[c+stride] != of) {
				continue
			}
			f -= low[a][c]
			vc, vn := b.V[c*r:c*r+r], b.V[(c+stride)*r:(c+stride)*r+r]
			wc, wn := rowOf(c), rowOf(c+stride)
			for k := range vc {
				q := f * (vc[k] - vn[k])
				wc[k] += q
				wn[k] -= q
			}
		}
	}
	out := make([]float64, r*r)
	if n := len(cells); n > 0 {
		v := make([]float64, 0, n*r) // the modes in those cells, rows like w
		for _, c := range cells {
			v = append(v, b.V[c*r:c*r+r]...)
		}
		blas64.Gemm(blas.Trans, blas.NoTrans, 1, blas64.General{Rows: n, Cols: r, Stride: r, Data: v},
			blas64.General{Rows: n, Cols: r, Stride: r, Data: w}, 0, blas64.General{Rows: r, Cols: r, Stride: r, Data: out})
	}
	return out
}

// addTo adds the change at modes a to a conduction matrix.
func (p *gasPart) addTo(k, a []float64, t0K float64) {
	x := inModes(p.mean, a) / p.atK
	if !p.motion {
		const last, mid = len(gasSteps) - 1, radiationStep
		xm, xl := gasSteps[mid], gasSteps[last]
		um, ul := x*(x-xl)/(xm*(xm-xl)), x*(x-xm)/(xl*(xl-xm))
		for q, d := range p.change[mid] {
			k[q] += um*d + ul*p.change[last][q]
		}
		return
	}
	if x <= 0 {
		return
	}
	ratio := (t0K + inModes(p.air, a)) / p.airK
	x = math.Min(x*math.Pow(ratio, rayleighExponent), 2)
	f := math.Pow(ratio, conductivityExponent)
	i := 0
	for i < len(gasSteps)-2 && x > gasSteps[i+1] {
		i++
	}
	u := (x - gasSteps[i]) / (gasSteps[i+1] - gasSteps[i])
	for q, d := range p.change[i] { // none at the first
		k[q] += f * (1 - u) * d
	}
	for q, d := range p.change[i+1] {
		k[q] += f * u * d
	}
}

// inModes is what a quantity with these values per mode amounts to at modes a.
func inModes(x, a []float64) float64 {
	sum := 0.0
	for q, v := range x {
		sum += v * a[q]
	}
	return sum
}

// typical is the rise over T0 per cell, where that of the warmest air is 1: with all solids and rooms as warm as each other, and
// as in the Reference; the same twice when there is none with a kelvin in its air.
func (b *Basis) typical(gas []Gas) (still, warm []float64) {
	still, warm = make([]float64, b.N), make([]float64, b.N)
	for c := range still {
		still[c] = 1
	}
	most := 0.0
	if b.Reference != nil {
		for c := range warm {
			warm[c] = b.Reference[c] - b.T0K
		}
		for i := range gas {
			air := Mean{gas[i].Cells, gas[i].Share}
			if rise := air.of(warm); math.Abs(rise) > math.Abs(most) {
				most = rise
			}
		}
	}
	if math.Abs(most) < 1 {
		return still, still
	}
	for c := range warm {
		warm[c] /= math.Abs(most)
	}
	for i := range gas {
		air := Mean{gas[i].Cells, gas[i].Share}
		rise := air.of(warm)
		for _, c := range gas[i].Cells {
			still[c] = rise
		}
	}
	return still, warm
}

// refresh brings the model's conductances to the field of that shape in which the warmest air has risen by levelK. The air in
// gas, when given, is at its temperature for motion instead.
func (s *system) refresh(field, shape []float64, gas []Gas, levelK float64) {
	if s.m.Refresh == nil {
		return
	}
	for i := range field {
		field[i] = s.b.T0K + 400 // far away, so that coming back is seen as a change
	}
	s.m.Refresh(field)
	for i := range field {
		field[i] = s.b.T0K + levelK*shape[i]
	}
	for i := range gas {
		air := Mean{gas[i].Cells, gas[i].Share}
		t := s.b.T0K + motionRiseK*air.of(shape)
		for _, c := range gas[i].Cells {
			field[c] = t
		}
	}
	s.m.Refresh(field)
}

// inner is Vᵀ W.
func (b *Basis) inner(w []float64) []float64 {
	out := make([]float64, b.R*b.R)
	v := blas64.General{Rows: b.N, Cols: b.R, Stride: b.R, Data: b.V}
	blas64.Gemm(blas.Trans, blas.NoTrans, 1, v, blas64.General{Rows: b.N, Cols: b.R, Stride: b.R, Data: w}, 0,
		blas64.General{Rows: b.R, Cols: b.R, Stride: b.R, Data: out})
	return out
}

// conduction is Vᵀ L V with L the model's present conductances; w is scratch, N x R.
func (s *system) conduction(w []float64) []float64 {
	b, m := s.b, s.m
	r := b.R
	clear(w)
	for axis, g := range [3][]float64{m.GX, m.GY, m.GZ} {
		stride := [3]int{1, m.NX, m.NX * m.NY}[axis]
		for c, f := range g {
			if f == 0 {
				continue
			}
			vc, vn := b.V[c*r:c*r+r], b.V[(c+stride)*r:(c+stride)*r+r]
			wc, wn := w[c*r:c*r+r], w[(c+stride)*r:(c+stride)*r+r]
			for k := range vc {
				q := f * (vc[k] - vn[k])
				wc[k] += q
				wn[k] -= q
			}
		}
	}
	return b.inner(w)
}

// faceOf groups a surface's elements by their half-cell conductance per area.
func (b *Basis) faceOf(sf *heat.Surface) face {
	r := b.R
	out := face{law: sf.Law}
	order := make([]int, len(sf.Cells))
	ratio := make([]float64, len(sf.Cells))
	for e := range order {
		order[e] = e
		ratio[e] = sf.HalfWK[e] / sf.AreaM2[e]
		out.areaM2 += sf.AreaM2[e]
	}
	sort.SliceStable(order, func(i, j int) bool { return ratio[order[i]] < ratio[order[j]] })
	for _, e := range order {
		if len(out.groups) == 0 || differs(out.groups[len(out.groups)-1].halfWm2K, ratio[e]) {
			out.groups = append(out.groups, group{halfWm2K: ratio[e], sum: make([]float64, r), square: make([]float64, r*r)})
		}
		g := &out.groups[len(out.groups)-1]
		v := b.V[int(sf.Cells[e])*r : int(sf.Cells[e])*r+r]
		a := sf.AreaM2[e]
		g.areaM2 += a
		for k, x := range v {
			g.sum[k] += a * x
			row := g.square[k*r : k*r+r]
			for l, y := range v {
				row[l] += a * x * y
			}
		}
	}
	return out
}

// differs says whether two half-cell conductances are worth a group of their own: 2 % of a term that is itself small.
func differs(a, b float64) bool {
	return a != b && (math.IsInf(b, 1) || b > 1.02*a)
}
