package skin

import (
	"math"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// cells is a grid with its exposed elements by cell, and straight walks through it.
type cells struct {
	g      *grid.Grid
	planes [3][]float64
	n      [3]int
	stride [3]int
	first  []int32 // elements of cell c: first[c] up to first[c+1]
}

func newCells(g *grid.Grid) cells {
	w := cells{g: g, planes: [3][]float64{g.X, g.Y, g.Z}, n: [3]int{g.NX, g.NY, g.NZ}, stride: [3]int{1, g.NX, g.NX * g.NY},
		first: make([]int32, len(g.Owner)+1)}
	for i := range g.Exposed {
		w.first[g.Exposed[i].Cell+1]++
	}
	for c := range g.Owner {
		w.first[c+1] += w.first[c]
	}
	return w
}

// hit is the end of a walk.
type hit struct {
	atM  float64 // from the start; +Inf when nothing was met
	body int     // -1: nothing
	elem int     // element met, -1: none known
}

// whole is the share from which a cell counts as full: no surface passes through its middle.
const whole = 0.999

// opposing is how much an element must look against the walk to stop it in a cell that is solid only in part.
const opposing = -0.3

// walk goes from p along the unit vector d, at most mostM far, and stops at the first surface that looks against it. at is the
// cell it starts in; that cell and own (the one whose surface it leaves) do not stop it. What is passed on the way gets the
// value mark, unless marks is nil.
func (w *cells) walk(p, d part.Vec, at [3]int, own int, mostM float64, marks []int32, mark int32) hit {
	var next, inv [3]float64
	c := 0
	for a := range at {
		if at[a] < 0 || at[a] >= w.n[a] {
			return hit{math.Inf(1), -1, -1}
		}
		c += at[a] * w.stride[a]
		next[a] = math.Inf(1)
		switch {
		case d[a] > 1e-12:
			inv[a] = 1 / d[a]
			next[a] = (w.planes[a][at[a]+1] - p[a]) * inv[a]
		case d[a] < -1e-12:
			inv[a] = 1 / d[a]
			next[a] = (w.planes[a][at[a]] - p[a]) * inv[a]
		}
	}
	start, enterM := c, 0.0
	for {
		ax := 0
		if next[1] < next[0] {
			ax = 1
		}
		if next[2] < next[ax] {
			ax = 2
		}
		if w.g.Owner[c] != grid.Outside && c != own {
			if h, ok := w.stops(p, d, c, enterM, next[ax], c == start); ok {
				return h
			}
		}
		if marks != nil {
			marks[c] = mark
		}
		enterM = next[ax]
		if enterM > mostM {
			return hit{math.Inf(1), -1, -1}
		}
		if inv[ax] > 0 {
			at[ax]++
			c += w.stride[ax]
			if at[ax] == w.n[ax] {
				return hit{math.Inf(1), -1, -1}
			}
			next[ax] = (w.planes[ax][at[ax]+1] - p[ax]) * inv[ax]
		} else {
			at[ax]--
			c -= w.stride[ax]
			if at[ax] < 0 {
				return hit{math.Inf(1), -1, -1}
			}
			next[ax] = (w.planes[ax][at[ax]] - p[ax]) * inv[ax]
		}
	}
}

// stops says whether a walk ends in a cell that is not outer air: at the plane of an element that looks against it, the last
// one where several do (they bound a corner), or at the cell's side when the cell is full.
func (w *cells) stops(p, d part.Vec, c int, enterM, leaveM float64, start bool) (hit, bool) {
	out := hit{-1, -1, -1}
	for i := w.first[c]; i < w.first[c+1]; i++ {
		e := &w.g.Exposed[i]
		cos := dot(e.Normal, d)
		if cos > opposing {
			continue
		}
		t := (dot(e.Centre, e.Normal) - dot(p, e.Normal)) / cos
		if t > out.atM {
			out = hit{t, int(e.Body), int(i)}
		}
	}
	full := w.g.Solid[c] >= whole
	slack := 1e-9 + 0.5*(leaveM-enterM) // a bent element's plane is only near its surface
	if out.body >= 0 && out.atM > 1e-9 && (full || out.atM <= leaveM+slack) {
		return out, true
	}
	if full && !start {
		return hit{enterM, int(w.g.Owner[c]), -1}, true
	}
	return hit{}, false
}

// look goes from an element along its normal to what stands opposite. The gap is measured between the planes of the two
// elements when they are parallel.
func (w *cells) look(e *grid.Exposed, flat bool, marks []int32, mark int32) hit {
	at, ok := w.before(e, flat)
	if !ok {
		return hit{math.Inf(1), -1, -1}
	}
	h := w.walk(e.Centre, e.Normal, at, int(e.Cell), math.Inf(1), marks, mark)
	if h.elem >= 0 && dot(w.g.Exposed[h.elem].Normal, e.Normal) < -0.95 {
		h.atM = dot(w.g.Exposed[h.elem].Centre, e.Normal) - dot(e.Centre, e.Normal)
	}
	h.atM = math.Max(h.atM, 0)
	return h
}

// before is the cell in front of an element: beyond its cell's side when it is flat, else the one that holds its middle.
func (w *cells) before(e *grid.Exposed, flat bool) (at [3]int, ok bool) {
	if !flat {
		return w.locate(e.Centre)
	}
	at = w.g.IJK(int(e.Cell))
	at[e.Axis] += int(e.Sign)
	return at, at[e.Axis] >= 0 && at[e.Axis] < w.n[e.Axis]
}

func (w *cells) locate(p part.Vec) (at [3]int, ok bool) {
	for a := range p {
		i, in := w.g.Index(a, p[a])
		if !in {
			return at, false
		}
		at[a] = i
	}
	return at, true
}

// flat says that an element is a side of a cell, not a surface through it.
func (w *cells) flat(e *grid.Exposed) bool {
	a := int(e.Axis)
	if e.Normal[a] != float64(e.Sign) {
		return false
	}
	i := int(e.Cell) / w.stride[a] % w.n[a]
	if e.Sign > 0 {
		i++
	}
	return math.Abs(e.Centre[a]-w.planes[a][i]) < 1e-9
}

func dot(a, b part.Vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func cross(a, b part.Vec) part.Vec {
	return part.Vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// along is p + f·d.
func along(p, d part.Vec, f float64) part.Vec {
	return part.Vec{p[0] + f*d[0], p[1] + f*d[1], p[2] + f*d[2]}
}

// unit is v at length 1; v itself when it has none.
func unit(v part.Vec) part.Vec {
	l := math.Sqrt(dot(v, v))
	if l == 0 {
		return v
	}
	return part.Vec{v[0] / l, v[1] / l, v[2] / l}
}
