package model

import "finwright/internal/reduce"

// Gas lists the sealed air regions for a reduced model, with the pairs of parts between which their air may move.
func (m *Model) Gas() []reduce.Gas {
	g := m.Shape.Grid
	bodies := make([]reduce.Mean, len(m.Shape.names))
	total := make([]float64, len(bodies))
	for cell, b := range g.Owner {
		if b >= 0 {
			v := g.Volume(cell)
			bodies[b].Cells = append(bodies[b].Cells, int32(cell))
			bodies[b].Share = append(bodies[b].Share, v)
			total[b] += v
		}
	}
	for b := range bodies {
		for i := range bodies[b].Share {
			bodies[b].Share[i] /= total[b]
		}
	}
	out := make([]reduce.Gas, len(g.Regions))
	for r := range out {
		air := &bodies[len(m.Shape.solids)+r]
		out[r].Cells, out[r].Share = air.Cells, air.Share
	}
	known := map[[3]int]int{} // region and pair to index into its walls
	for cell, i := range m.gapOf {
		if i < 0 {
			continue
		}
		k := &m.gaps[i]
		lo, hi := int(min(k.lo, k.hi)), int(max(k.lo, k.hi))
		key := [3]int{k.region, lo, hi}
		walls := &out[k.region].Walls
		q, ok := known[key]
		if !ok {
			q = len(*walls)
			known[key] = q
			*walls = append(*walls, reduce.Walls{A: bodies[lo], B: bodies[hi]})
		}
		(*walls)[q].Cells = append((*walls)[q].Cells, int32(cell))
	}
	return out
}
