package skin

import (
	"math"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// sunRows is how many rays per row and column cover a whole cell face. Shadows of flat parts under a sun along an axis end on
// planes of the grid, where one ray would do; other shadows are placed to a quarter of a cell.
const sunRows = 4

// Lit is the share of a beam that surface s takes in: the area-weighted mean over its elements of max(0, n·d) times the part
// of the element that a straight line along d leaves without meeting the device, with n the element's outward normal and d
// the unit vector along towards (of any length) to the sun. Surface area times Lit is the lit area as the sun sees it, m².
// 1 is a flat surface square to the beam, 0 one turned away or in full shadow. Surfaces of all sides take part: an oblique
// one is lit although its Side differs, and the walls of channels as far down as the beam reaches.
//
// Parts stand in the way as cells: exact for flat parts along the axes; a curved or oblique part's shadow reaches up to one
// cell too far. Reflected and diffuse light is left out. The same grid gives the same result.
func Lit(g *grid.Grid, s *Surface, towards part.Vec) (effectiveShare float64) {
	l := math.Sqrt(towards[0]*towards[0] + towards[1]*towards[1] + towards[2]*towards[2])
	if l == 0 || s.AreaM2 == 0 {
		return 0
	}
	var d part.Vec
	for a := range d {
		d[a] = towards[a] / l
	}
	r := newRays(g)
	litM2 := 0.0
	for _, ei := range s.Elements {
		e := &g.Exposed[ei]
		cos := e.Normal[0]*d[0] + e.Normal[1]*d[1] + e.Normal[2]*d[2]
		if cos > 1e-9 { // rounding in a turned part's normal lights no edge
			litM2 += e.AreaM2 * cos * r.seen(e, d)
		}
	}
	return litM2 / s.AreaM2
}

// seen is the part of an element from which straight lines along d leave the device: rays from evenly spread points where it
// is a whole cell face, from its middle where a surface cuts the cell.
func (r *rays) seen(e *grid.Exposed, d part.Vec) float64 {
	box := r.g.Box(int(e.Cell))
	ax := int(e.Axis)
	u, v := (ax+1)%3, (ax+2)%3
	du, dv := box.Max[u]-box.Min[u], box.Max[v]-box.Min[v]
	if math.Abs(e.Normal[ax]) < 1-1e-9 || e.AreaM2 < du*dv*(1-1e-6) {
		if r.escapes(e, e.Centre, d) {
			return 1
		}
		return 0
	}
	free := 0
	for i := 0; i < sunRows; i++ {
		for j := 0; j < sunRows; j++ {
			p := e.Centre
			p[u] = box.Min[u] + (float64(i)+0.5)/sunRows*du
			p[v] = box.Min[v] + (float64(j)+0.5)/sunRows*dv
			if r.escapes(e, p, d) {
				free++
			}
		}
	}
	return float64(free) / (sunRows * sunRows)
}

// escapes follows one ray along d from a point of an element.
func (r *rays) escapes(e *grid.Exposed, p, d part.Vec) bool {
	const hairM = 1e-7 // off the surface: far below any size, above rounding
	var idx [3]int
	for a := range p {
		p[a] += hairM * e.Normal[a]
		i, in := r.g.Index(a, p[a])
		if !in {
			return true
		}
		idx[a] = i
	}
	return r.march(p, d, idx, int(e.Cell))
}
