package model

import "finwright/internal/reduce"

// Gas lists the sealed air regions for a reduced model.
func (m *Model) Gas() []reduce.Gas {
	g := m.Shape.Grid
	out := make([]reduce.Gas, len(g.Regions))
	total := make([]float64, len(out))
	for cell, owner := range g.Owner {
		if b := int(owner) - len(m.Shape.solids); b >= 0 {
			v := g.Volume(cell)
			out[b].Cells = append(out[b].Cells, int32(cell))
			out[b].Share = append(out[b].Share, v)
			total[b] += v
		}
	}
	for b := range out {
		for i := range out[b].Share {
			out[b].Share[i] /= total[b]
		}
	}
	return out
}
