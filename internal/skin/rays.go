package skin

import (
	"math"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// raysPerSurface is how many rays estimate a surface's view to the surroundings. With the low-discrepancy points below the
// error of the share is about 0.01 at 512 (aligned rectangles against the closed form, see the test).
const raysPerSurface = 512

// rays marches straight lines through the outer-air cells of a grid.
type rays struct {
	g      *grid.Grid
	planes [3][]float64
	n      [3]int
	stride [3]int
}

func newRays(g *grid.Grid) *rays {
	return &rays{g: g, planes: [3][]float64{g.X, g.Y, g.Z}, n: [3]int{g.NX, g.NY, g.NZ}, stride: [3]int{1, g.NX, g.NX * g.NY}}
}

// viewOut is the share of diffuse rays from the surface's elements that leave the device's bounding box without meeting a
// solid: the view factor to the surroundings. Elements are drawn in proportion to their area, directions by the cosine law,
// both from one deterministic sequence.
func (r *rays) viewOut(s *Surface) float64 {
	cum := make([]float64, len(s.Elements))
	total := 0.0
	for i, ei := range s.Elements {
		total += r.g.Exposed[ei].AreaM2
		cum[i] = total
	}
	if total == 0 {
		return 1
	}
	out, at := 0, 0
	for q := 0; q < raysPerSurface; q++ {
		// stratified along the list of elements, so that each gets its share of rays
		want := (float64(q) + 0.5) / raysPerSurface * total
		for at < len(cum)-1 && cum[at] < want {
			at++
		}
		e := &r.g.Exposed[s.Elements[at]]
		u1, u2 := halton(q+1, 2), halton(q+1, 3)
		v1, v2 := halton(q+1, 5), halton(q+1, 7)
		if r.leaves(e, u1, u2, v1, v2) {
			out++
		}
	}
	return float64(out) / raysPerSurface
}

// leaves follows one ray from a random point of the element (u) in a cosine-weighted direction (v).
func (r *rays) leaves(e *grid.Exposed, u1, u2, v1, v2 float64) bool {
	n := e.Normal
	t1, t2 := tangents(n)
	phi, sinT := 2*math.Pi*v1, math.Sqrt(v2)
	cosT := math.Sqrt(1 - v2)
	var d part.Vec
	for a := range d {
		d[a] = sinT*math.Cos(phi)*t1[a] + sinT*math.Sin(phi)*t2[a] + cosT*n[a]
	}
	// start somewhere on the element's cell face, on the outer side
	c := int(e.Cell)
	idx := [3]int{c % r.g.NX, c / r.g.NX % r.g.NY, c / (r.g.NX * r.g.NY)}
	ax := int(e.Axis)
	var p part.Vec
	us := [2]float64{u1, u2}
	next := 0
	for a := 0; a < 3; a++ {
		lo, hi := r.planes[a][idx[a]], r.planes[a][idx[a]+1]
		if a == ax {
			p[a] = e.Centre[a]
			continue
		}
		p[a] = lo + us[next]*(hi-lo)
		next++
	}
	if e.Sign > 0 {
		idx[ax]++
	} else {
		idx[ax]--
	}
	return r.march(p, d, idx, c)
}

// march walks cell by cell from point p in cell idx along d until it leaves the grid (true) or enters a cell that is not
// outer air (false). A curved surface lies inside a cell that is solid only in part: a ray may pass such cells at its start,
// and own, the cell that carries the surface, however little of it is void.
func (r *rays) march(p, d part.Vec, idx [3]int, own int) bool {
	for leaving := true; ; {
		for a := range idx {
			if idx[a] < 0 || idx[a] >= r.n[a] {
				return true
			}
		}
		c := idx[0] + idx[1]*r.stride[1] + idx[2]*r.stride[2]
		if r.g.Owner[c] == grid.Outside {
			leaving = false
		} else if !leaving || r.g.Solid[c] >= 0.999 && c != own {
			return false
		}
		// distance to the next plane along each axis
		best, ax := math.Inf(1), 0
		for a := range idx {
			switch {
			case d[a] > 1e-12:
				if t := (r.planes[a][idx[a]+1] - p[a]) / d[a]; t < best {
					best, ax = t, a
				}
			case d[a] < -1e-12:
				if t := (r.planes[a][idx[a]] - p[a]) / d[a]; t < best {
					best, ax = t, a
				}
			}
		}
		if math.IsInf(best, 1) {
			return true
		}
		if best > 0 {
			for a := range p {
				p[a] += best * d[a]
			}
		}
		if d[ax] > 0 {
			idx[ax]++
		} else {
			idx[ax]--
		}
	}
}

// tangents are two unit vectors that make a right-angled frame with unit vector n.
func tangents(n part.Vec) (part.Vec, part.Vec) {
	a := part.Vec{1, 0, 0}
	if math.Abs(n[0]) > 0.9 {
		a = part.Vec{0, 1, 0}
	}
	t1 := cross(n, a)
	l := math.Sqrt(t1[0]*t1[0] + t1[1]*t1[1] + t1[2]*t1[2])
	for i := range t1 {
		t1[i] /= l
	}
	return t1, cross(n, t1)
}

func cross(a, b part.Vec) part.Vec {
	return part.Vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// halton is the i-th point of the van der Corput sequence in the given base (Halton 1960).
func halton(i, base int) float64 {
	f, r := 1.0, 0.0
	for i > 0 {
		f /= float64(base)
		r += f * float64(i%base)
		i /= base
	}
	return r
}
