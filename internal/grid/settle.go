package grid

import (
	"sort"

	"finwright/internal/part"
)

// leastActive is the active share below which a cut cell counts as outer air.
const leastActive = 0.01

// settle works out how much of each cell is active, and the shares of mixed cells.
func (g *Grid) settle() {
	g.Solid = make([]float32, len(g.Owner))
	for c, o := range g.Owner {
		if o >= 0 {
			g.Solid[c] = 1
		}
	}
	for i := range g.cuts {
		g.settleCut(&g.cuts[i])
	}
	// a cell no neighbour is open to would float by itself
	if len(g.cuts) > 0 {
		g.dropIslands()
	}
	g.volumes = make([]float64, g.AirBase+len(g.Regions))
	g.mixedAt = map[int32][2]int32{}
	for c, o := range g.Owner {
		if o < 0 {
			continue
		}
		vol := g.Volume(c)
		if int(o) >= g.AirBase {
			g.Regions[int(o)-g.AirBase].Cells++
		}
		if st := g.state[c]; st <= firstCut {
			cut := &g.cuts[firstCut-st]
			shares := g.active(cut)
			for _, s := range shares {
				g.volumes[s.Body] += vol * s.Frac
			}
			if len(shares) > 1 {
				g.mixedAt[int32(c)] = [2]int32{int32(len(g.Mixed)), int32(len(g.Mixed) + len(shares))}
				g.Mixed = append(g.Mixed, shares...)
			}
			continue
		}
		g.volumes[o] += vol
	}
	for r := range g.Regions {
		g.Regions[r].VolumeM3 = g.volumes[g.AirBase+r]
	}
}

// active is the active shares of a cut cell by body.
func (g *Grid) active(cut *cutCell) []Share {
	var out []Share
next:
	for k := cut.share0; k < cut.share1; k++ {
		s := g.cutShares[k]
		if s.who < 0 || s.frac <= 0 {
			continue
		}
		for i := range out {
			if out[i].Body == s.who {
				out[i].Frac += s.frac
				continue next
			}
		}
		out = append(out, Share{cut.cell, s.who, s.frac})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Body < out[j].Body })
	return out
}

// settleCut sums a cut cell's active share and finds the middle of its active part.
func (g *Grid) settleCut(cut *cutCell) {
	c := int(cut.cell)
	sum := 0.0
	for _, s := range g.active(cut) {
		sum += s.Frac
	}
	if g.Owner[c] < 0 || sum < leastActive {
		g.Owner[c], g.Solid[c] = Outside, 0
		return
	}
	g.Solid[c] = float32(min(sum, 1))
	at := g.IJK(c)
	n := 0.0
	for v := cut.voxel; v < cut.side[0]; v++ {
		if g.vox[v] < 0 {
			continue
		}
		p := g.voxelCentre(at, int(v-cut.voxel))
		for a := range p {
			cut.centre[a] += p[a]
		}
		n++
	}
	if n == 0 { // a sliver between the sample points, known by its share only
		cut.centre = g.Centre(c)
		return
	}
	for a := range cut.centre {
		cut.centre[a] /= n
	}
}

// voxelCentre is the middle of voxel v of a cell's core.
func (g *Grid) voxelCentre(at [3]int, v int) (p part.Vec) {
	for a := range p {
		r := &g.rules[a][at[a]]
		p[a] = r.mid[r.core0+v%r.coreN]
		v /= r.coreN
	}
	return p
}

// dropIslands turns cut cells without an open face into outer air.
func (g *Grid) dropIslands() {
	open := make([]bool, len(g.cuts))
	g.eachFace(func(axis, c, d int, at [3]int) {
		if c < 0 || d < 0 || g.state[c] > firstCut && g.state[d] > firstCut {
			return
		}
		if g.aperture(axis, c, d, at) > 0 {
			for _, x := range [2]int{c, d} {
				if st := g.state[x]; st <= firstCut {
					open[firstCut-st] = true
				}
			}
		}
	})
	for i := range g.cuts {
		if c := g.cuts[i].cell; !open[i] && g.Owner[c] >= 0 && len(g.Owner) > 1 {
			g.Owner[c], g.Solid[c] = Outside, 0
		}
	}
}

// aperture is the part of the face between two cells through which both are active.
func (g *Grid) aperture(axis, c, d int, at [3]int) float64 {
	if g.Owner[c] < 0 || g.Owner[d] < 0 {
		return 0
	}
	if g.state[c] > firstCut && g.state[d] > firstCut {
		return 1
	}
	n, _ := g.points(axis, at)
	open := 0
	for p := 0; p < n; p++ {
		if g.sidePoint(c, 2*axis+1, p) >= 0 && g.sidePoint(d, 2*axis, p) >= 0 {
			open++
		}
	}
	return float64(open) / float64(n)
}
