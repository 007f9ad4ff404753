package grid

import (
	"math"
	"sort"

	"finwright/internal/part"
)

// oblique adds the outer surface and the contacts of curved and oblique surfaces. They come from the solids' own surface
// elements: where there is matter just inside and outer air just outside, an element's true area is exposed.
func (g *Grid) oblique() {
	const hairM = 1e-7 // how far inside and outside is looked: far below any size, above rounding
	type key struct {
		cell int32
		body int16
		side int8
	}
	sums := map[key]*Exposed{}
	for b, s := range g.solids {
		if s.Aligned() {
			continue
		}
		near := g.overlapping(s.Bounds())
		body := int16(b)
		part.Facets(s, g.facetStep(s), func(f part.Facet) {
			in, out := along(f.At, f.Normal, -hairM), along(f.At, f.Normal, hairM)
			if g.bodyAt(near, in) != body {
				return
			}
			beyond := g.bodyAt(near, out)
			if beyond == body {
				return
			}
			if beyond < 0 {
				beyond = g.airAt(out, f.Normal)
			}
			cell := -1
			if beyond != pocket {
				cell = g.activeBehind(in, f.Normal)
			}
			if cell < 0 {
				return
			}
			if beyond >= 0 {
				area := f.AreaM2
				// a surface both bodies have is visited twice, once from each
				if int(beyond) < g.AirBase && !g.solids[beyond].Aligned() && !g.solids[beyond].Contains(in) {
					area /= 2
				}
				g.touching.of(body, beyond).AreaM2 += area
				return
			}
			k := key{int32(cell), body, sideOf(f.Normal)}
			e := sums[k]
			if e == nil {
				e = &Exposed{Cell: k.cell, Body: body, Axis: k.side / 2, Sign: 2*(k.side%2) - 1}
				sums[k] = e
			}
			e.AreaM2 += f.AreaM2
			e.Normal = along(e.Normal, f.Normal, f.AreaM2)
			e.Centre = along(e.Centre, f.At, f.AreaM2)
		})
	}
	keys := make([]key, 0, len(sums))
	for k := range sums {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		a, b := keys[i], keys[j]
		if a.cell != b.cell {
			return a.cell < b.cell
		}
		if a.body != b.body {
			return a.body < b.body
		}
		return a.side < b.side
	})
	for _, k := range keys {
		e := sums[k]
		l := norm(e.Normal)
		centre := g.Centre(int(k.cell))
		if st := g.state[k.cell]; st <= firstCut {
			centre = g.cuts[firstCut-st].centre
		}
		for a := range e.Normal {
			e.Normal[a] /= l
			e.Centre[a] /= e.AreaM2
			e.DistM += (e.Centre[a] - centre[a]) * e.Normal[a]
		}
		e.DistM = math.Max(e.DistM, 0)
		g.Exposed = append(g.Exposed, *e)
	}
}

// along is p + f·d.
func along(p, d part.Vec, f float64) part.Vec {
	return part.Vec{p[0] + f*d[0], p[1] + f*d[1], p[2] + f*d[2]}
}

// sideOf is the side a normal looks to most: 2·axis, +1 for the positive side. Of two equal ones the first axis wins where both
// components have the same sign, the second where they have not: the four faces of a bar turned by 45° get four sides.
func sideOf(n part.Vec) int8 {
	best := 0
	for a := 1; a < len(n); a++ {
		switch x, y := math.Abs(n[a]), math.Abs(n[best]); {
		case x > y*(1+1e-9), x > y*(1-1e-9) && n[a]*n[best] < 0:
			best = a
		}
	}
	if n[best] > 0 {
		return int8(2*best + 1)
	}
	return int8(2 * best)
}

// overlapping lists the solids that reach into a box, latest first.
func (g *Grid) overlapping(b part.Box) []int {
	var out []int
	for i := len(g.solids) - 1; i >= 0; i-- {
		o := g.solids[i].Bounds()
		apart := false
		for a := range o.Min {
			apart = apart || o.Min[a] > b.Max[a]+1e-6 || o.Max[a] < b.Min[a]-1e-6
		}
		if !apart {
			out = append(out, i)
		}
	}
	return out
}

// bodyAt is the body at a point, −1 for none.
func (g *Grid) bodyAt(near []int, p part.Vec) int16 {
	for _, b := range near {
		if g.solids[b].Contains(p) {
			return int16(b)
		}
	}
	return -1
}

// facetStep is a quarter of the mean cell the solid passes through, along each axis, but no finer than 1/200 of the solid.
func (g *Grid) facetStep(s part.Solid) (step part.Vec) {
	b := s.Bounds()
	for a := range step {
		layers := 0
		for i := 0; i < g.n[a]; i++ {
			if g.planes[a][i] < b.Max[a] && g.planes[a][i+1] > b.Min[a] {
				layers++
			}
		}
		step[a] = (b.Max[a] - b.Min[a]) / float64(min(4*layers, 200))
	}
	return step
}

// airAt is the owner of the void at a point just off a surface: Outside, a region, or pocket when no void sample is near.
func (g *Grid) airAt(p, normal part.Vec) int16 {
	for try := 0; try < 8; try++ {
		cell, ok := g.Locate(p)
		if !ok {
			return Outside
		}
		at := g.IJK(cell)
		owner := int16(g.state[cell])
		step := math.Inf(1)
		if st := g.state[cell]; st <= firstCut {
			owner = g.vox[int(g.cuts[firstCut-st].voxel)+g.voxelAt(at, p)]
		}
		if owner == Outside || int(owner) >= g.AirBase {
			return owner
		}
		for a := range p { // half a voxel on
			r := &g.rules[a][at[a]]
			if n := math.Abs(normal[a]); n > 1e-9 {
				step = math.Min(step, (r.hi-r.lo)/float64(r.coreN)/n/2)
			}
		}
		p = along(p, normal, step)
	}
	return pocket
}

// voxelAt is the voxel of a cell's core nearest to a point.
func (g *Grid) voxelAt(at [3]int, p part.Vec) int {
	v := 0
	for a := 2; a >= 0; a-- {
		r := &g.rules[a][at[a]]
		i := int((p[a] - r.lo) / (r.hi - r.lo) * float64(r.coreN))
		v = v*r.coreN + min(max(i, 0), r.coreN-1)
	}
	return v
}

// activeBehind is the active cell at a point just under a surface or, where that cell counts as outer air, the first one
// further in; −1 when there is none within two cells.
func (g *Grid) activeBehind(p, normal part.Vec) int {
	for try := 0; try < 9; try++ {
		cell, ok := g.Locate(p)
		if !ok {
			return -1
		}
		if g.Owner[cell] >= 0 {
			return cell
		}
		step, at := math.Inf(1), g.IJK(cell)
		for a := range p {
			if n := math.Abs(normal[a]); n > 1e-9 {
				step = math.Min(step, g.CellSize(a, at[a])/n/4)
			}
		}
		p = along(p, normal, -step)
	}
	return -1
}
