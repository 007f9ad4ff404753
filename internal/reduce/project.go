package reduce

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"

	"finwright/internal/heat"
)

// Gas is one region of sealed air, across which radiation depends on its mean temperature.
type Gas struct {
	Cells []int32
	Share []float64 // of the region's volume; sums to 1
}

// system is a heat model projected on a basis. All matrices are R x R, row-major.
type system struct {
	b       *Basis
	m       *heat.Model
	mass    []float64
	k       []float64   // conduction, with all gas at gasK
	source  [][]float64 // per source, R
	surface []face
	gas     []gasPart
}

// gasPart is how conduction changes with the temperature T of one air region: by perK·(T−gasK) + perK2·(T−gasK)².
type gasPart struct {
	mean  []float64 // R: mean departure of the region from T0
	perK  []float64 // R x R
	perK2 []float64 // R x R
	gasK  float64
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

// gasSpanK is the distance of the three temperatures between which the change of radiation across sealed air is taken as a
// parabola. It goes with T³: a straight line would be off by 6 % of it at a rise of 70 K.
const gasSpanK = 35

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

	uniform := make([]float64, n)
	atK := b.T0K + 10
	s.refresh(uniform, atK, nil, 0)
	s.k = s.conduction(w)
	for i := range gas {
		g := &gas[i]
		part := gasPart{gasK: atK, mean: make([]float64, r)}
		for q, c := range g.Cells {
			for k := 0; k < r; k++ {
				part.mean[k] += g.Share[q] * b.V[int(c)*r+k]
			}
		}
		s.refresh(uniform, atK, g.Cells, gasSpanK)
		part.perK = s.conduction(w)
		s.refresh(uniform, atK, g.Cells, 2*gasSpanK)
		part.perK2 = s.conduction(w)
		for q := range part.perK {
			d1, d2 := part.perK[q]-s.k[q], part.perK2[q]-s.k[q]
			part.perK[q] = (2*d1 - d2/2) / gasSpanK
			part.perK2[q] = (d2/2 - d1) / (gasSpanK * gasSpanK)
		}
		s.refresh(uniform, atK, nil, 0)
		s.gas = append(s.gas, part)
	}

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

// refresh brings the model's conductances to a uniform temperature, with the given cells spanK above it.
func (s *system) refresh(field []float64, atK float64, cells []int32, spanK float64) {
	if s.m.Refresh == nil {
		return
	}
	for i := range field {
		field[i] = atK + 200 // far away, so that coming back is seen as a change
	}
	s.m.Refresh(field)
	for i := range field {
		field[i] = atK
	}
	for _, c := range cells {
		field[c] = atK + spanK
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
