package part

import "math"

// frame places a solid's own coordinates in space: world = rot·p + shift. rot is a rotation.
type frame struct {
	rot   [3]Vec // rows
	shift Vec
	apply bool // false: world and own coordinates are the same
}

// upright is the frame that changes nothing.
var upright = frame{rot: [3]Vec{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}

// turnFrame is the rotation by angleRad about an axis through a point, counter-clockwise seen from the axis' positive end.
func turnFrame(angleRad float64, axis int, about Vec) frame {
	s, c := math.Sincos(angleRad)
	// quarter turns are exact, so that a turned box stays aligned
	if q := math.Round(angleRad / (math.Pi / 2)); math.Abs(angleRad-q*math.Pi/2) < 1e-9 {
		switch ((int(q) % 4) + 4) % 4 {
		case 0:
			s, c = 0, 1
		case 1:
			s, c = 1, 0
		case 2:
			s, c = 0, -1
		case 3:
			s, c = -1, 0
		}
	}
	u, v := (axis+1)%3, (axis+2)%3
	f := frame{apply: true}
	f.rot[axis][axis] = 1
	f.rot[u][u], f.rot[u][v] = c, -s
	f.rot[v][u], f.rot[v][v] = s, c
	f.shift = sub(about, f.dir(about))
	return f
}

// dir turns a direction into the world.
func (f *frame) dir(d Vec) Vec {
	if !f.apply {
		return d
	}
	return Vec{dot(f.rot[0], d), dot(f.rot[1], d), dot(f.rot[2], d)}
}

// undir turns a direction of the world into own coordinates.
func (f *frame) undir(d Vec) Vec {
	if !f.apply {
		return d
	}
	r := &f.rot
	return Vec{
		r[0][0]*d[0] + r[1][0]*d[1] + r[2][0]*d[2],
		r[0][1]*d[0] + r[1][1]*d[1] + r[2][1]*d[2],
		r[0][2]*d[0] + r[1][2]*d[1] + r[2][2]*d[2],
	}
}

// point places a point in the world.
func (f *frame) point(p Vec) Vec {
	if !f.apply {
		return p
	}
	return add(f.dir(p), f.shift)
}

// unpoint is the inverse of point.
func (f *frame) unpoint(p Vec) Vec {
	if !f.apply {
		return p
	}
	return f.undir(sub(p, f.shift))
}

// within is this frame seen from inside an outer one: first f, then outer.
func (f frame) within(outer frame) frame {
	if !outer.apply {
		return f
	}
	if !f.apply {
		return outer
	}
	g := frame{apply: true}
	for i := range g.rot {
		for j := range g.rot[i] {
			for k := 0; k < 3; k++ {
				g.rot[i][j] += outer.rot[i][k] * f.rot[k][j]
			}
		}
	}
	g.shift = outer.point(f.shift)
	return g
}

// axisOf says which axis (and sign) a unit direction is, or ok false when it is oblique.
func axisOf(d Vec) (axis, sign int, ok bool) {
	for a, v := range d {
		if math.Abs(v) > 1-1e-12 {
			if v < 0 {
				return a, -1, true
			}
			return a, 1, true
		}
	}
	return 0, 0, false
}

// rectangle visits a flat rectangular face in small elements: corner at, edges u and v (own coordinates), outward normal n.
// Faces that are normal to an axis of the world are left out: the planes describe them.
func (f *frame) rectangle(at, u, v, n Vec, stepM Vec, visit func(Facet)) {
	wn := f.dir(n)
	if _, _, ok := axisOf(wn); ok {
		return
	}
	nu, nv := divisions(f.dir(u), stepM), divisions(f.dir(v), stepM)
	area := math.Sqrt(dot(u, u)*dot(v, v)) / float64(nu*nv)
	for i := 0; i < nu; i++ {
		for j := 0; j < nv; j++ {
			p := add(at, add(scale(u, (float64(i)+0.5)/float64(nu)), scale(v, (float64(j)+0.5)/float64(nv))))
			visit(Facet{At: f.point(p), Normal: wn, AreaM2: area})
		}
	}
}

// boxFaces visits the six faces of a box, or five: the one at (exceptAxis, exceptSign) is left out when exceptSign is not 0.
// outward is +1 for the outside of a body, −1 for the walls of a cavity.
func (f *frame) boxFaces(b Box, outward float64, stepM Vec, visit func(Facet), exceptAxis, exceptSign int) {
	for axis := 0; axis < 3; axis++ {
		for _, sign := range [2]int{-1, 1} {
			if axis != exceptAxis || sign != exceptSign {
				f.boxFace(b, axis, sign, outward, stepM, visit)
			}
		}
	}
}

// boxFace visits one face of a box, unless it has no area.
func (f *frame) boxFace(b Box, axis, sign int, outward float64, stepM Vec, visit func(Facet)) {
	size := b.Size()
	var u, v, n Vec
	p, q := (axis+1)%3, (axis+2)%3
	if size[p] <= 0 || size[q] <= 0 {
		return
	}
	u[p], v[q] = size[p], size[q]
	n[axis] = outward * float64(sign)
	at := b.Min
	if sign > 0 {
		at[axis] = b.Max[axis]
	}
	f.rectangle(at, u, v, n, stepM, visit)
}

// divisions is how often an edge is divided so that its pieces are no longer than stepM along any axis.
func divisions(edge Vec, stepM Vec) int {
	n := 1.0
	for a := range edge {
		if stepM[a] > 0 {
			n = math.Max(n, math.Ceil(math.Abs(edge[a])/stepM[a]-1e-9))
		}
	}
	return int(n)
}
