package reduce

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"finwright/internal/heat"
)

// How far members of a group may part from going up and down together, as a share of the conductance or capacity, and of an
// element's drop over its half cell in that over its film of usualWm2K.
const (
	faceApart  = 1e-4
	capApart   = 1e-4
	dropApart  = 1e-4
	usualWm2K  = 20
	sameSample = 1e-9 // rounding
)

// Build works out a reduced model on the modes of b. The instances tell how numbers depend on values: what goes up and down
// together in all of them is taken to do so always, so that they must be drawn over all unknowns at the same time. A dozen will
// do. The first should be the middle.
func Build(b *Basis, instances []Instance) (*Model, error) {
	if len(instances) == 0 {
		return nil, errors.New("reduce: no instance of the model to make a reduced one from")
	}
	h := instances[0].Heat
	if h.Cells() != b.N {
		return nil, fmt.Errorf("reduce: the model has %d cells, the modes %d", h.Cells(), b.N)
	}
	m := &Model{Basis: b, sources: len(h.Sources), first: -1}
	for i := range h.Surfaces {
		m.surface = append(m.surface, surfaceTerms{elements: len(h.Surfaces[i].Cells)})
	}
	if instances[0].Air != nil && len(instances[0].Air.Faces()) > 0 {
		m.air = &airTerms{}
	}
	for _, in := range instances {
		if m.air == nil {
			in.Air = nil
		}
		if err := m.check(in); err != nil {
			return nil, err
		}
	}
	for c, cp := range h.CapJK {
		if cp > 0 {
			m.first = int32(c)
			break
		}
	}
	if m.first < 0 {
		return nil, errors.New("reduce: the cells hold no heat")
	}
	m.capacities(instances)
	m.conduction(instances)
	for i := range h.Sources {
		src := &h.Sources[i]
		m.source = append(m.source, b.modesOf(&Mean{src.Cells, src.Share}))
	}
	for i := range m.surface {
		m.surfaceOf(i, instances)
	}
	if m.air != nil {
		if err := m.airOf(instances); err != nil {
			return nil, err
		}
	}
	m.interleave()
	m.lookAt()
	return m, nil
}

// interleave lays out what changes from step to step.
func (m *Model) interleave() {
	var all [][]float64
	if m.air != nil {
		all = append(all, m.air.fields...)
	}
	for i := range m.surface {
		for q := range m.surface[i].groups {
			all = append(all, m.surface[i].groups[q].square)
		}
	}
	for lo := 0; lo < triangle(m.R); lo += chunk {
		for _, t := range all {
			for _, v := range t[lo : lo+chunk] {
				m.terms = append(m.terms, float32(v))
			}
		}
	}
}

// at is the modes' values in a cell.
func (b *Basis) at(c int) []float64 { return b.V[c*b.R : c*b.R+b.R] }

// modesOf is a mean's departure from T0 per mode.
func (b *Basis) modesOf(m *Mean) []float64 {
	out := make([]float64, b.R)
	for q, c := range m.Cells {
		for k, v := range b.at(int(c)) {
			out[k] += m.Share[q] * v
		}
	}
	return out
}

// together sorts items by how their values go up and down over the samples: those of one group keep the same ratio to its first
// item within apart. values(i) gives an item's value under every sample, all positive.
func together(n int, apart float64, values func(i int, dst []float64), samples int) (groups [][]int) {
	// those that agree to rounding first: most do
	exact := map[string]int{}
	var members [][]int
	var shape [][]float64 // logarithm of the values over their first
	key := make([]byte, 0, 8*samples)
	v := make([]float64, samples)
	for i := 0; i < n; i++ {
		values(i, v)
		for s := samples - 1; s >= 0; s-- {
			v[s] = math.Log(v[s] / v[0])
		}
		key = key[:0]
		for _, x := range v {
			key = binary.LittleEndian.AppendUint64(key, uint64(int64(math.Round(x/sameSample))))
		}
		at, ok := exact[string(key)]
		if !ok {
			at = len(members)
			exact[string(key)] = at
			members = append(members, nil)
			shape = append(shape, append([]float64(nil), v...))
		}
		members[at] = append(members[at], i)
	}
	// then the larger ones lead
	order := make([]int, len(members))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return len(members[order[a]]) > len(members[order[b]]) })
	var lead []int
	for _, i := range order {
		best, least := -1, apart
		for g, l := range lead {
			far := 0.0
			for s, x := range shape[l] {
				if far = max(far, math.Abs(x-shape[i][s])); far > least {
					break
				}
			}
			if far <= least {
				best, least = g, far
			}
		}
		if best < 0 {
			lead = append(lead, i)
			groups = append(groups, members[i])
			continue
		}
		groups[best] = append(groups[best], members[i]...)
	}
	return groups
}

// capacities groups the cells by their heat capacity.
func (m *Model) capacities(in []Instance) {
	var cells []int
	for c, cp := range in[0].Heat.CapJK {
		if cp > 0 {
			cells = append(cells, c)
		}
	}
	of := func(i int, dst []float64) {
		for s := range in {
			dst[s] = in[s].Heat.CapJK[cells[i]]
		}
	}
	v, lead := make([]float64, len(in)), make([]float64, len(in))
	for _, g := range together(len(cells), capApart, of, len(in)) {
		out := capGroup{cell: int32(cells[g[0]]), sum: make([]float64, triangle(m.R))}
		of(g[0], lead)
		for _, i := range g {
			of(i, v)
			f := 0.0
			for s := range v {
				f += v[s] / lead[s] / float64(len(v))
			}
			addOuter(out.sum, f, m.at(cells[i]))
		}
		m.caps = append(m.caps, out)
	}
}

// conduction groups the faces that do not depend on temperatures.
func (m *Model) conduction(in []Instance) {
	h := in[0].Heat
	warm := map[Face]bool{}
	if m.air != nil {
		for _, f := range in[0].Air.Faces() {
			warm[f] = true
		}
	}
	var faces []Face
	for a, g := range [3][]float64{h.GX, h.GY, h.GZ} {
		for c, x := range g {
			if f := (Face{int8(a), int32(c)}); x > 0 && !warm[f] {
				faces = append(faces, f)
			}
		}
	}
	of := func(i int, dst []float64) {
		for s := range in {
			dst[s] = faces[i].of(in[s].Heat)
		}
	}
	v, lead, d := make([]float64, len(in)), make([]float64, len(in)), make([]float64, m.R)
	for _, g := range together(len(faces), faceApart, of, len(in)) {
		out := faceGroup{of: faces[g[0]], sum: make([]float64, triangle(m.R))}
		of(g[0], lead)
		for _, i := range g {
			of(i, v)
			f := 0.0
			for s := range v {
				f += v[s] / lead[s] / float64(len(v))
			}
			m.step(d, faces[i], h)
			addOuter(out.sum, f, d)
		}
		m.faces = append(m.faces, out)
	}
}

// step is how far the modes in a face's two cells are apart.
func (m *Model) step(dst []float64, f Face, h *heat.Model) {
	a, b := m.at(int(f.Cell)), m.at(f.next(h))
	for k := range dst {
		dst[k] = a[k] - b[k]
	}
}

// surfaceOf groups a surface's elements by their half-cell conductance per area.
func (m *Model) surfaceOf(i int, in []Instance) {
	sf, out := &in[0].Heat.Surfaces[i], &m.surface[i]
	// the share of the drop over the half cell, per instance
	drop := func(e, s int) float64 {
		o := &in[s].Heat.Surfaces[i]
		return usualWm2K * o.AreaM2[e] / o.HalfWK[e]
	}
	order := make([]int, len(sf.Cells))
	for e := range order {
		order[e] = e
		out.areaM2 += sf.AreaM2[e]
		out.capJK += in[0].Heat.CapJK[sf.Cells[e]]
	}
	sort.SliceStable(order, func(a, b int) bool { return drop(order[a], 0) < drop(order[b], 0) })
	for len(order) > 0 {
		lead := order[0]
		g := elementGroup{element: lead, sum: make([]float64, m.R), square: make([]float64, triangle(m.R))}
		order = slices.DeleteFunc(order, func(e int) bool {
			for s := range in {
				a, b := drop(lead, s), drop(e, s)
				if math.Abs(a-b) > dropApart || math.IsInf(sf.HalfWK[lead], 1) != math.IsInf(sf.HalfWK[e], 1) {
					return false
				}
			}
			v, a := m.at(int(sf.Cells[e])), sf.AreaM2[e]
			g.areaM2 += a
			for k, x := range v {
				g.sum[k] += a * x
			}
			addOuter(g.square, a, v)
			return true
		})
		out.groups = append(out.groups, g)
	}
}

// lookAt picks the cells in which errors are judged: where the modes are told apart best, by elimination with the largest pivots.
func (m *Model) lookAt() {
	rest := append([]float64(nil), m.V...)
	for k := 0; k < m.R; k++ {
		best, most := -1, 0.0
		for c := 0; c < m.N; c++ {
			if v := math.Abs(rest[c*m.R+k]); v > most {
				best, most = c, v
			}
		}
		if best < 0 {
			continue
		}
		m.look = append(m.look, int32(best))
		row := append([]float64(nil), rest[best*m.R:best*m.R+m.R]...)
		for c := 0; c < m.N; c++ {
			r := rest[c*m.R : c*m.R+m.R]
			if r[k] == 0 {
				continue
			}
			// mode l gives up what mode k explains at the cell
			for l := k + 1; l < m.R; l++ {
				r[l] -= row[l] / row[k] * r[k]
			}
		}
	}
	for _, c := range m.look {
		lo, hi := 0.0, 0.0
		for _, a := range m.seen {
			t := dot(m.at(int(c)), a)
			lo, hi = min(lo, t), max(hi, t)
		}
		m.lookV = append(m.lookV, m.at(int(c))...)
		m.lookLo, m.lookHi = append(m.lookLo, lo), append(m.lookHi, hi)
	}
}
