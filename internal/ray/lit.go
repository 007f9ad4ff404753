package ray

import (
	"math"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// litRows is how many rays per row and column cover a whole cell face. Shadows of flat parts under a sun along an axis end on
// planes of the grid, where one ray would do; other shadows are placed to a quarter of a cell.
const litRows = 4

// Lit is the share of a beam that each surface, a list of indices into g.Exposed, takes in: the area-weighted mean over its
// elements of max(0, n·d) times the part of the element that a straight line along d leaves without meeting the device, with n
// the element's outward normal and d the unit vector along towards (of any length) to the sun. A surface's area times its share
// is the lit area as the sun sees it, m². 1 is a flat surface square to the beam, 0 one turned away or in full shadow.
// Reflected and diffuse light is left out. A direction without length lights nothing.
func Lit(g *grid.Grid, surfaces [][]int, towards part.Vec) []float64 {
	out := make([]float64, len(surfaces))
	l := math.Sqrt(dot(towards, towards))
	if !(l > 0) || math.IsInf(l, 1) {
		return out
	}
	var d part.Vec
	for a := range d {
		d[a] = towards[a] / l
	}
	sc := newScene(g)
	jobs := make([]func(), len(surfaces))
	for i := range jobs {
		jobs[i] = func() { out[i] = sc.lit(surfaces[i], d) }
	}
	inParallel(jobs)
	return out
}

func (sc *scene) lit(list []int, d part.Vec) float64 {
	litM2, areaM2 := 0.0, 0.0
	for _, k := range list {
		e := &sc.g.Exposed[k]
		areaM2 += e.AreaM2
		cos := dot(e.Normal, d)
		if cos < 1e-9 { // rounding in a turned part's normal lights no edge
			continue
		}
		free := 0
		for i := range litRows {
			for j := range litRows {
				p, idx := sc.place(k, (float64(i)+0.5)/litRows, (float64(j)+0.5)/litRows)
				if hit, _ := sc.march(p, d, idx); hit == left {
					free++
				}
			}
		}
		litM2 += e.AreaM2 * cos * float64(free) / (litRows * litRows)
	}
	if areaM2 == 0 {
		return 0
	}
	return litM2 / areaM2
}
