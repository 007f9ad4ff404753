package ray

import (
	"math"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// scene is a grid made ready for rays.
type scene struct {
	g      *grid.Grid
	planes [3][]float64
	n      [3]int
	stride [3]int
	at     []int32 // by cell: air; first+1 of its elements; the negative of it where one of them is bent; or bare
	bent   []bool  // by element: it lies inside its cell, not on a side of it
}

const (
	air  = 0
	bare = math.MaxInt32 // solid or sealed air without exposed elements

	left = -1 // out of the device
	lost = -2 // stopped where there is no element
)

// nearM is a length far below any size and above rounding.
const nearM = 1e-9

func newScene(g *grid.Grid) *scene {
	s := &scene{g: g, planes: [3][]float64{g.X, g.Y, g.Z}, n: [3]int{g.NX, g.NY, g.NZ}, stride: [3]int{1, g.NX, g.NX * g.NY},
		at: make([]int32, len(g.Owner)), bent: make([]bool, len(g.Exposed))}
	for c, o := range g.Owner {
		if o != grid.Outside {
			s.at[c] = bare
		}
	}
	for k := range g.Exposed {
		e := &g.Exposed[k]
		i := g.IJK(int(e.Cell))[e.Axis]
		if e.Sign > 0 {
			i++
		}
		s.bent[k] = math.Abs(e.Normal[e.Axis]) < 1-1e-9 || math.Abs(e.Centre[e.Axis]-s.planes[e.Axis][i]) > nearM
		if s.at[e.Cell] == bare || s.at[e.Cell] == air {
			s.at[e.Cell] = int32(k + 1)
		}
		if s.bent[k] && s.at[e.Cell] > 0 {
			s.at[e.Cell] = -s.at[e.Cell]
		}
	}
	return s
}

// elements is the range of the elements of a cell with this code.
func (s *scene) elements(code int32) (from, to int) {
	if code == air || code == bare {
		return 0, 0
	}
	from = int(max(code, -code)) - 1
	to = from + 1
	for to < len(s.g.Exposed) && s.g.Exposed[to].Cell == s.g.Exposed[from].Cell {
		to++
	}
	return from, to
}

// place is where rays leave an element: a point, and the cell that the first stretch is in. u and v, 0..1, spread the points
// evenly over the part of the cell that the element's plane takes up; where that is not part of the surface (the rest of a side
// that a curve cuts off, or that something covers) it is the element's middle.
func (s *scene) place(k int, u, v float64) (p part.Vec, idx [3]int) {
	e := &s.g.Exposed[k]
	idx = s.g.IJK(int(e.Cell))
	ax := int(e.Axis)
	a1, a2 := (ax+1)%3, (ax+2)%3
	lo1, lo2 := s.planes[a1][idx[a1]], s.planes[a2][idx[a2]]
	p[a1] = lo1 + u*(s.planes[a1][idx[a1]+1]-lo1)
	p[a2] = lo2 + v*(s.planes[a2][idx[a2]+1]-lo2)
	p[ax] = e.Centre[ax]
	if !s.bent[k] {
		if code := s.at[e.Cell]; code < 0 && s.height(code, e.Body, k, p) > nearM {
			p = e.Centre
		}
		idx[ax] += int(e.Sign)
		if i := idx[ax]; i >= 0 && i < s.n[ax] {
			if code := s.at[s.cell(idx)]; code < 0 && s.inside(code, p) {
				p = e.Centre
			}
		}
		return p, idx
	}
	p[ax] -= ((p[a1]-e.Centre[a1])*e.Normal[a1] + (p[a2]-e.Centre[a2])*e.Normal[a2]) / e.Normal[ax]
	if !(p[ax] >= s.planes[ax][idx[ax]] && p[ax] <= s.planes[ax][idx[ax]+1]) || s.height(s.at[e.Cell], e.Body, k, p) > nearM {
		p = e.Centre
		for a := range p { // the middle of a thin piece may lie in the next cell
			if i, ok := s.g.Index(a, p[a]); ok {
				idx[a] = i
			}
		}
	}
	return p, idx
}

func (s *scene) cell(idx [3]int) int { return idx[0] + idx[1]*s.stride[1] + idx[2]*s.stride[2] }

// height is how far p lies outside a body in a cell: above the highest plane of its bent elements, that of but left out.
func (s *scene) height(code int32, body int16, but int, p part.Vec) float64 {
	most := math.Inf(-1)
	from, to := s.elements(code)
	for k := from; k < to; k++ {
		if e := &s.g.Exposed[k]; k != but && s.bent[k] && e.Body == body {
			most = math.Max(most, dot(e.Normal, p)-dot(e.Normal, e.Centre))
		}
	}
	return most
}

// inside tells whether p is in one of the bodies that have bent elements in a cell.
func (s *scene) inside(code int32, p part.Vec) bool {
	from, to := s.elements(code)
	for k := from; k < to; k++ {
		if s.bent[k] && s.height(code, s.g.Exposed[k].Body, -1, p) < nearM {
			return true
		}
	}
	return false
}

// march follows a ray from p in cell idx along unit vector d. It returns the element the ray ends on, left, or lost; sure is
// false when the element is only the likeliest one.
//
// The path is kept as the distances t to the next plane along each axis, all from the starting point, so rounding does not add up.
func (s *scene) march(p, d part.Vec, idx [3]int) (element int, sure bool) {
	var t, inv [3]float64
	var step, plane [3]int // plane: from a layer to the index of the plane the ray leaves it by
	for a := range d {
		switch {
		case d[a] > 1e-12:
			step[a], plane[a], inv[a] = 1, 1, 1/d[a]
		case d[a] < -1e-12:
			step[a], plane[a], inv[a] = -1, 0, 1/d[a]
		default:
			t[a] = math.Inf(1)
			continue
		}
		if idx[a] < 0 || idx[a] >= s.n[a] {
			return left, true
		}
		t[a] = (s.planes[a][idx[a]+plane[a]] - p[a]) * inv[a]
	}
	for a := range idx {
		if idx[a] < 0 || idx[a] >= s.n[a] {
			return left, true
		}
	}
	c := s.cell(idx)
	ax, now := -1, 0.0
	leaving := true // no outer air met yet: what is solid only in part is a hair of the surface the ray starts from
	for {
		if code := s.at[c]; code != air {
			switch {
			case code < 0:
				if k, ok, hit := s.cut(code, p, d, now, math.Min(t[0], math.Min(t[1], t[2])), ax); hit {
					return k, ok
				}
			case !leaving || s.g.Solid[c] > 0.999:
				return s.stop(c, p, d, now, idx, ax)
			}
		} else {
			leaving = false
		}
		ax = 0
		if t[1] < t[0] {
			ax = 1
		}
		if t[2] < t[ax] {
			ax = 2
		}
		now = t[ax]
		i := idx[ax] + step[ax]
		if uint(i) >= uint(s.n[ax]) {
			return left, true
		}
		idx[ax] = i
		c += step[ax] * s.stride[ax]
		t[ax] = (s.planes[ax][i+plane[ax]] - p[ax]) * inv[ax]
	}
}

// cut tells whether a ray meets a body in a cell with bent elements, between distances t0 and t1; it came in along axis ax (-1: it
// starts here).
func (s *scene) cut(code int32, p, d part.Vec, t0, t1 float64, ax int) (element int, sure, hit bool) {
	from, to := s.elements(code)
	best := math.Inf(1)
	for first := from; first < to; first++ {
		body := s.g.Exposed[first].Body
		seen := !s.bent[first]
		for k := from; k < first && !seen; k++ {
			seen = s.bent[k] && s.g.Exposed[k].Body == body
		}
		if seen {
			continue
		}
		in, out, el := t0, t1, -1 // the stretch behind all planes of the body, and the plane it begins at
		for k := first; k < to; k++ {
			e := &s.g.Exposed[k]
			if !s.bent[k] || e.Body != body {
				continue
			}
			above := dot(e.Normal, p) - dot(e.Normal, e.Centre)
			switch nd := dot(e.Normal, d); {
			case nd < -1e-12:
				if t := -above / nd; t > in {
					in, el = t, k
				}
			case nd > 1e-12:
				out = math.Min(out, -above/nd)
			case above > 0:
				out = math.Inf(-1)
			}
		}
		if in >= out-nearM || in >= best {
			continue
		}
		k, ok := el, true
		if el < 0 {
			// behind all planes from the start: through the side it came in by, or a plane that the neighbour's does not quite meet
			if k, ok = s.enter(from, to, p, d, in, ax); k == lost {
				continue // all look the other way: it is on its way out
			}
		}
		best, element, sure = in, k, ok
	}
	return element, sure, best < math.Inf(1)
}

// enter is the element that a ray meets on the side it comes in by; where there is none, the one that looks at the ray most.
func (s *scene) enter(from, to int, p, d part.Vec, t float64, ax int) (element int, sure bool) {
	element = lost
	near, facing := math.Inf(1), 0.0
	for k := from; k < to; k++ {
		e := &s.g.Exposed[k]
		if int(e.Axis) == ax && float64(e.Sign)*d[ax] < 0 && !s.bent[k] {
			m := 0.0 // of two bodies' elements on one side the nearer
			for a := range p {
				x := p[a] + t*d[a] - e.Centre[a]
				m += x * x
			}
			if m < near {
				near, element, sure = m, k, true
			}
		}
	}
	if sure {
		return element, true
	}
	for k := from; k < to; k++ {
		if f := -dot(s.g.Exposed[k].Normal, d); f > facing {
			facing, element = f, k
			sure = s.bent[k]
		}
	}
	return element, sure
}

// stop is the element that a ray meets which comes into a solid cell. Where it has none, the ray has slipped through the crack
// between two planes of a surface, and met the element in the cell just before; or, less certain, the nearest one around.
func (s *scene) stop(c int, p, d part.Vec, t float64, idx [3]int, ax int) (element int, sure bool) {
	from, to := s.elements(s.at[c])
	if element, sure = s.enter(from, to, p, d, t, ax); sure {
		return element, true
	}
	if ax >= 0 {
		back := 1
		if d[ax] > 0 {
			back = -1
		}
		if i := idx[ax] + back; i >= 0 && i < s.n[ax] {
			from, to = s.elements(s.at[c+back*s.stride[ax]])
			if k, near := s.enter(from, to, p, d, t, -1); near {
				return k, true
			}
		}
	}
	at := along(p, d, t)
	best := math.Inf(1)
	for k := max(idx[2]-1, 0); k <= min(idx[2]+1, s.n[2]-1); k++ {
		for j := max(idx[1]-1, 0); j <= min(idx[1]+1, s.n[1]-1); j++ {
			for i := max(idx[0]-1, 0); i <= min(idx[0]+1, s.n[0]-1); i++ {
				from, to := s.elements(s.at[s.cell([3]int{i, j, k})])
				for el := from; el < to; el++ {
					e := &s.g.Exposed[el]
					off := along(at, e.Centre, -1)
					if m := dot(off, off); m < best && dot(e.Normal, d) < 0 {
						best, element = m, el
					}
				}
			}
		}
	}
	return element, false
}

// along is p + f·d.
func along(p, d part.Vec, f float64) part.Vec {
	return part.Vec{p[0] + f*d[0], p[1] + f*d[1], p[2] + f*d[2]}
}

func dot(a, b part.Vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// frame is two unit vectors that make a right-angled frame with unit vector n, turned about n by an angle.
func frame(n part.Vec, sin, cos float64) (t1, t2 part.Vec) {
	a := part.Vec{1, 0, 0}
	if math.Abs(n[0]) > 0.9 {
		a = part.Vec{0, 1, 0}
	}
	u := cross(n, a)
	l := math.Sqrt(dot(u, u))
	v := cross(n, u)
	for i := range u {
		t1[i] = (cos*u[i] + sin*v[i]) / l
		t2[i] = (cos*v[i] - sin*u[i]) / l
	}
	return t1, t2
}

func cross(a, b part.Vec) part.Vec {
	return part.Vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
