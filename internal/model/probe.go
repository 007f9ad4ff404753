package model

import (
	"fmt"
	"math"

	"finwright/internal/device"
	"finwright/internal/heat"
	"finwright/internal/part"
)

// Probe is a place whose temperature is asked for. It reads a field of cell temperatures (K) and the films now in force on
// the surfaces (index-aligned with Heat.Surfaces), and gives K. It allocates nothing.
type Probe struct {
	Name   string
	Places []int32 // cells whose temperatures it needs

	kind   probeKind
	weight []float64 // of cells, sums to 1 (mean)
	elems  []elem    // surface elements (surface mean, highest)
	point  [3]float64
	m      *Model
}

type probeKind uint8

const (
	meanOfCells probeKind = iota
	highestOfCells
	meanOfSurface
	highestOfSurface
	atPoint
)

// elem is one element of one of the model's surfaces.
type elem struct {
	surface, index int
	areaM2         float64
}

// Films reads the films in force from a stepper's surface states, for probes.
type Films func(surface int) heat.Film

// Read gives the probe's temperature, K.
func (p *Probe) Read(tK []float64, films Films) float64 {
	switch p.kind {
	case meanOfCells:
		sum := 0.0
		for i, c := range p.Places {
			sum += p.weight[i] * tK[c]
		}
		return sum
	case highestOfCells:
		top := math.Inf(-1)
		for _, c := range p.Places {
			top = max(top, tK[c])
		}
		return top
	case meanOfSurface, highestOfSurface:
		sum, area, top := 0.0, 0.0, math.Inf(-1)
		for _, e := range p.elems {
			t := p.m.elementK(e.surface, e.index, tK, films(e.surface))
			sum += t * e.areaM2
			area += e.areaM2
			top = max(top, t)
		}
		if p.kind == highestOfSurface {
			return top
		}
		return sum / area
	default:
		return p.m.pointK(int(p.Places[0]), p.point, tK, films)
	}
}

// elementK is the temperature of the surface itself at one element: where the flux through the half cell equals the flux
// through the film,
//
//	U (Tc − Ts) + gain·A = h A (Ts − Tref)
func (m *Model) elementK(si, ei int, tK []float64, f heat.Film) float64 {
	s := &m.Heat.Surfaces[si]
	if math.IsInf(f.HWm2K, 1) {
		return f.RefK
	}
	half, area := s.HalfWK[ei], s.AreaM2[ei]
	tc := tK[s.Cells[ei]]
	if math.IsInf(half, 1) {
		return tc
	}
	ha := f.HWm2K * area
	return (half*tc + ha*f.RefK + f.GainWm2*area) / (half + ha)
}

// pointK rebuilds the temperature at a point from its cell's and the fluxes through the cell's faces. Within a cell the
// temperature is linear from the centre to each face, with the slope that the flux through that face gives, so it is right at
// joints and at films, and second order inside.
func (m *Model) pointK(c int, p [3]float64, tK []float64, films Films) float64 {
	g := m.Shape.Grid
	planes := [3][]float64{g.X, g.Y, g.Z}
	idx := [3]int{c % g.NX, c / g.NX % g.NY, c / (g.NX * g.NY)}
	stride := [3]int{1, g.NX, g.NX * g.NY}
	dims := [3]int{g.NX, g.NY, g.NZ}
	cond := [3][]float64{m.Heat.GX, m.Heat.GY, m.Heat.GZ}
	t := tK[c]
	for a := 0; a < 3; a++ {
		lo, hi := planes[a][idx[a]], planes[a][idx[a]+1]
		mid, half := (lo+hi)/2, (hi-lo)/2
		x := (p[a] - mid) / half // -1 … 1
		if x == 0 {
			continue
		}
		sign := int8(1)
		if x < 0 {
			sign = -1
		}
		b1, b2 := (a+1)%3, (a+2)%3
		area := (planes[b1][idx[b1]+1] - planes[b1][idx[b1]]) * (planes[b2][idx[b2]+1] - planes[b2][idx[b2]])
		halfWK := m.kWmK[a][c] * area / half
		// drop from the centre to the face: through the neighbour …
		flow := 0.0 // W from the centre towards that face
		if sign > 0 && idx[a] < dims[a]-1 {
			flow += cond[a][c] * (tK[c] - tK[c+stride[a]])
		} else if sign < 0 && idx[a] > 0 {
			flow += cond[a][c-stride[a]] * (tK[c] - tK[c-stride[a]])
		}
		// … and through exposed surface on that side
		for _, ce := range m.surfaceOf(c) {
			e := &g.Exposed[m.Surfaces[ce.surface].Elements[ce.index]]
			if int(e.Axis) != a || e.Sign != sign {
				continue
			}
			s := &m.Heat.Surfaces[ce.surface]
			if !math.IsInf(s.HalfWK[ce.index], 1) {
				flow += s.HalfWK[ce.index] * (tK[c] - m.elementK(ce.surface, ce.index, tK, films(ce.surface)))
			}
		}
		t -= math.Abs(x) * flow / halfWK
	}
	return t
}

// surfaceOf lists the surface elements of a cell.
func (m *Model) surfaceOf(c int) []elem {
	if m.elemOf == nil {
		m.elemOf = map[int32][]elem{}
		for si := range m.Heat.Surfaces {
			for ei, cell := range m.Heat.Surfaces[si].Cells {
				m.elemOf[cell] = append(m.elemOf[cell], elem{si, ei, m.Heat.Surfaces[si].AreaM2[ei]})
			}
		}
	}
	return m.elemOf[int32(c)]
}

// Probe makes the probe for a place of the device file: "chip", "chip highest", "plate.front", "plate.front centre",
// "plate.front highest", "22 56 15 mm", or the name of a boundary.
func (m *Model) Probe(place string) (*Probe, error) {
	if p := m.fewer(place); p != nil {
		return p, nil
	}
	for si := range m.Surfaces {
		if m.Surfaces[si].Boundary != "" && m.Surfaces[si].Boundary == place {
			return m.surfaceProbe(place, meanOfSurface, func(i int, _ *Surface) bool { return i == si })
		}
	}
	pl, err := device.ParsePlace(place, m.Shape.File)
	if err != nil {
		return nil, err
	}
	if pl.IsPoint {
		return m.pointProbe(place, pl.Point, -1)
	}
	b, ok := m.Shape.index[pl.Part]
	if !ok {
		return nil, fmt.Errorf("%q: there is no part %q in this design", place, pl.Part)
	}
	if pl.Face == "" {
		switch pl.Spot {
		case device.Highest:
			return m.cellProbe(place, b, highestOfCells), nil
		case device.Centre:
			bounds := m.Shape.solids[b].solid.Bounds()
			return m.pointProbe(place, mid(bounds), b)
		}
		return m.cellProbe(place, b, meanOfCells), nil
	}
	if pl.Spot == device.Centre {
		face, err := part.Face(m.Shape.solids[b].body, pl.Face)
		if err != nil {
			return nil, err
		}
		at := face.Center
		if a := sideIndex(pl.Face); a >= 0 {
			at[face.Axis] -= float64(face.Sign) * m.Shape.solids[b].spec.Milled[a]
		}
		return m.pointProbe(place, at, b)
	}
	kind := meanOfSurface
	if pl.Spot == device.Highest {
		kind = highestOfSurface
	}
	side := sideIndex(pl.Face)
	if p, err := m.surfaceProbe(place, kind, func(_ int, s *Surface) bool { return s.Body == b && s.Side == side }); err == nil {
		return p, nil
	}
	// a face that something covers: the layer of cells under it
	return m.layerProbe(place, b, pl.Face)
}

func mid(b part.Box) (p [3]float64) {
	for a := range p {
		p[a] = (b.Min[a] + b.Max[a]) / 2
	}
	return p
}

func (m *Model) cellProbe(name string, body int, kind probeKind) *Probe {
	p := &Probe{Name: name, kind: kind, Places: m.Parts[body].Cells, m: m}
	p.weigh()
	return p
}

// weigh gives each cell its share of the volume.
func (p *Probe) weigh() {
	g := p.m.Shape.Grid
	sum := 0.0
	p.weight = make([]float64, len(p.Places))
	for i, c := range p.Places {
		p.weight[i] = g.Volume(int(c)) * float64(g.Solid[c])
		sum += p.weight[i]
	}
	for i := range p.weight {
		p.weight[i] /= sum
	}
}

func (m *Model) surfaceProbe(name string, kind probeKind, want func(i int, s *Surface) bool) (*Probe, error) {
	p := &Probe{Name: name, kind: kind, m: m}
	for si := range m.Surfaces {
		if !want(si, &m.Surfaces[si]) {
			continue
		}
		for ei, c := range m.Heat.Surfaces[si].Cells {
			p.elems = append(p.elems, elem{si, ei, m.Heat.Surfaces[si].AreaM2[ei]})
			p.Places = append(p.Places, c)
		}
	}
	if len(p.elems) == 0 {
		return nil, fmt.Errorf("%q is not an outer face of this design", name)
	}
	return p, nil
}

// layerProbe is the mean of a part's cells that lie against one of its faces.
func (m *Model) layerProbe(name string, body int, side string) (*Probe, error) {
	face, err := part.Face(m.Shape.solids[body].body, side)
	if err != nil {
		return nil, err
	}
	g := m.Shape.Grid
	planes := [3][]float64{g.X, g.Y, g.Z}
	p := &Probe{Name: name, kind: meanOfCells, m: m}
	want := face.Center[face.Axis]
	best := math.Inf(1)
	near := func(c int32) float64 {
		idx := [3]int{int(c) % g.NX, int(c) / g.NX % g.NY, int(c) / (g.NX * g.NY)}
		i := idx[face.Axis]
		return min(math.Abs(planes[face.Axis][i]-want), math.Abs(planes[face.Axis][i+1]-want))
	}
	for _, c := range m.Parts[body].Cells {
		best = min(best, near(c))
	}
	for _, c := range m.Parts[body].Cells {
		if near(c) <= best+1e-9 {
			p.Places = append(p.Places, c)
		}
	}
	if len(p.Places) == 0 {
		return nil, fmt.Errorf("%q: that face is not there in this design", name)
	}
	p.weigh()
	return p, nil
}

// pointProbe reads at a point. A point on a border between cells is taken in the given body when it has one there, otherwise
// in any solid there.
func (m *Model) pointProbe(name string, at [3]float64, body int) (*Probe, error) {
	g := m.Shape.Grid
	planes := [3][]float64{g.X, g.Y, g.Z}
	const tolM = 6e-6 // places are written to a hundredth of a millimetre
	var cand [3][]int
	for a := range cand {
		for i := 0; i+1 < len(planes[a]); i++ {
			if at[a] >= planes[a][i]-tolM && at[a] <= planes[a][i+1]+tolM {
				cand[a] = append(cand[a], i)
			}
		}
	}
	best, bestRank := -1, 0
	for _, k := range cand[2] {
		for _, j := range cand[1] {
			for _, i := range cand[0] {
				c := (k*g.NY+j)*g.NX + i
				o := int(g.Owner[c])
				rank := 0
				switch {
				case o == body && body >= 0:
					rank = 3
				case o >= 0 && !m.Shape.airBody(o):
					rank = 2
				case o >= 0:
					rank = 1
				}
				if rank > bestRank {
					best, bestRank = c, rank
				}
			}
		}
	}
	if best < 0 {
		return nil, fmt.Errorf("%q lies outside the device", name)
	}
	// the cell first, then the neighbours whose fluxes bend the temperature within it
	places := []int32{int32(best)}
	idx, stride, dims := g.IJK(best), [3]int{1, g.NX, g.NX * g.NY}, [3]int{g.NX, g.NY, g.NZ}
	for a := range idx {
		at[a] = math.Max(planes[a][idx[a]], math.Min(at[a], planes[a][idx[a]+1]))
		if idx[a] > 0 {
			places = append(places, int32(best-stride[a]))
		}
		if idx[a] < dims[a]-1 {
			places = append(places, int32(best+stride[a]))
		}
	}
	return &Probe{Name: name, kind: atPoint, Places: places, point: at, m: m}, nil
}

// Names of the places that are looked for, not stated.
const (
	reachName = "hottest place a hand can reach"
	heldName  = "where the hand holds it"
)

// fewer is a probe that Partial has made to read few cells; nil without one.
func (m *Model) fewer(name string) *Probe {
	few, ok := m.few[name]
	if !ok {
		return nil
	}
	p := *few
	p.m = m
	return &p
}

// HottestReach is the hottest place a hand can reach: over all outer surfaces that are not inside channels or on a support.
func (m *Model) HottestReach() *Probe {
	if p := m.fewer(reachName); p != nil {
		return p
	}
	p, err := m.surfaceProbe(reachName, highestOfSurface, func(_ int, s *Surface) bool { return s.Reach })
	if err != nil {
		return nil
	}
	return p
}

// HeldProbe is the hottest place on what lies in a hand; nil when nothing does.
func (m *Model) HeldProbe() *Probe {
	if p := m.fewer(heldName); p != nil {
		return p
	}
	p, err := m.surfaceProbe(heldName, highestOfSurface, func(_ int, s *Surface) bool { return s.Held })
	if err != nil {
		return nil
	}
	return p
}

// Films gives the films that a field of temperatures puts in force on the surfaces, for probes of steady fields. The means of
// the surfaces and their films depend on each other; a few rounds settle them.
func (m *Model) Films(tK []float64, tS float64) Films {
	n := len(m.Heat.Surfaces)
	films, meansK, nextK := make([]heat.Film, n), make([]float64, n), make([]float64, n)
	mean := func(si int, at func(i int) float64) float64 {
		sum, area := 0.0, 0.0
		for i, a := range m.Heat.Surfaces[si].AreaM2 {
			sum += a * at(i)
			area += a
		}
		return sum / area
	}
	for si := range meansK {
		meansK[si] = mean(si, func(i int) float64 { return tK[m.Heat.Surfaces[si].Cells[i]] })
	}
	for round := 0; round < 30; round++ {
		worst := 0.0
		for si := range films {
			films[si] = m.Heat.Surfaces[si].Law.Film(meansK, si, tS)
			nextK[si] = mean(si, func(i int) float64 { return m.elementK(si, i, tK, films[si]) })
			worst = max(worst, math.Abs(nextK[si]-meansK[si]))
		}
		copy(meansK, nextK)
		if worst < 1e-6 {
			break
		}
	}
	return func(si int) heat.Film { return films[si] }
}

// SurfaceHeatW is the heat that leaves by surface si under a film, W.
func (m *Model) SurfaceHeatW(si int, tK []float64, f heat.Film) float64 {
	s := &m.Heat.Surfaces[si]
	sum := 0.0
	for i, c := range s.Cells {
		if math.IsInf(f.HWm2K, 1) {
			sum += s.HalfWK[i] * (tK[c] - f.RefK)
			continue
		}
		sum += s.AreaM2[i] * (f.HWm2K*(m.elementK(si, i, tK, f)-f.RefK) - f.GainWm2)
	}
	return sum
}
