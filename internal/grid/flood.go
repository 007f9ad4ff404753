package grid

// flood finds which void is connected with the outside and which is sealed, and gives every piece of void its owner: Outside
// or a region. Air passes a face of two cells where both have void at the same point of it; the ends of the grid are open.
func (g *Grid) flood() {
	cells := int32(len(g.state))
	outer := g.nodes
	parent := make([]int32, g.nodes+1)
	for i := range parent {
		parent[i] = int32(i)
	}
	// node of a void sample
	node := func(cell int, code int16) int32 {
		if st := g.state[cell]; st <= firstCut {
			return g.cuts[firstCut-st].node0 + int32(-1-code)
		}
		return int32(cell)
	}
	g.eachFace(func(axis, c, d int, at [3]int) {
		if c < 0 || d < 0 {
			end, side := c, 2*axis+1
			if c < 0 {
				end, side = d, 2*axis
			}
			switch st := g.state[end]; {
			case st == void:
				unite(parent, int32(end), outer)
			case st <= firstCut:
				n, _ := g.points(axis, at)
				for p := 0; p < n; p++ {
					if code := g.sidePoint(end, side, p); code < 0 {
						unite(parent, node(end, code), outer)
					}
				}
			}
			return
		}
		sc, sd := g.state[c], g.state[d]
		if sc >= 0 || sd >= 0 {
			return
		}
		if sc == void && sd == void {
			unite(parent, int32(c), int32(d))
			return
		}
		n, _ := g.points(axis, at)
		for p := 0; p < n; p++ {
			if cc, cd := g.sidePoint(c, 2*axis+1, p), g.sidePoint(d, 2*axis, p); cc < 0 && cd < 0 {
				unite(parent, node(c, cc), node(d, cd))
			}
		}
	})

	// regions in the order of the first cell that has some of them
	root := find(parent, outer)
	region := map[int32]int16{}
	owner := func(n int32) int16 {
		r := find(parent, n)
		if r == root {
			return Outside
		}
		i, ok := region[r]
		if !ok {
			i = int16(len(region))
			region[r] = i
		}
		return int16(g.AirBase) + i
	}
	g.Owner = make([]int16, cells)
	g.pieceOwner = make([]int16, g.nodes-cells)
	owned := make([]int, 0, 8) // cells each region owns
	for c, st := range g.state {
		switch {
		case st >= 0:
			g.Owner[c] = int16(st)
		case st == void:
			g.Owner[c] = owner(int32(c))
		default:
			cut := &g.cuts[firstCut-st]
			for v := int32(0); v < cut.nodes; v++ {
				g.pieceOwner[cut.node0-cells+v] = owner(cut.node0 + v)
			}
			g.Owner[c] = g.largest(cut)
		}
		if o := int(g.Owner[c]) - g.AirBase; o >= 0 {
			for len(owned) <= o {
				owned = append(owned, 0)
			}
			owned[o]++
		}
	}

	// a region that owns no cell is a pocket; the others move up
	rename := make([]int16, len(region))
	for r := range rename {
		rename[r] = pocket
		if r < len(owned) && owned[r] > 0 {
			rename[r] = int16(g.AirBase + len(g.Regions))
			g.Regions = append(g.Regions, Region{})
		}
	}
	final := func(o int16) int16 {
		if int(o) >= g.AirBase {
			return rename[int(o)-g.AirBase]
		}
		return o
	}
	for c := range g.Owner {
		g.Owner[c] = final(g.Owner[c])
	}
	for v := range g.pieceOwner {
		g.pieceOwner[v] = final(g.pieceOwner[v])
	}
	// and all samples are told their owner
	for i := range g.cuts {
		cut := &g.cuts[i]
		end := int32(len(g.vox))
		if i+1 < len(g.cuts) {
			end = g.cuts[i+1].voxel
		}
		for p := cut.voxel; p < end; p++ {
			g.vox[p] = g.ownerOf(cut, g.vox[p])
		}
		for k := cut.share0; k < cut.share1; k++ {
			g.cutShares[k].who = g.ownerOf(cut, g.cutShares[k].who)
		}
	}
	for c, st := range g.state {
		if st == void {
			g.state[c] = int32(g.Owner[c]) // Outside is −1 too
		}
	}
}

// ownerOf turns a code of a cut cell into the owner.
func (g *Grid) ownerOf(cut *cutCell, code int16) int16 {
	if code >= 0 {
		return code
	}
	return g.pieceOwner[cut.node0-int32(len(g.state))+int32(-1-code)]
}

// largest is the active owner with the largest share of a cut cell's core, Outside when there is none. Before samples are
// told their owner.
func (g *Grid) largest(cut *cutCell) int16 {
	best, most := int16(Outside), 0.0
	for k := cut.share0; k < cut.share1; k++ {
		who := g.ownerOf(cut, g.cutShares[k].who)
		sum := 0.0
		for m := cut.share0; m < cut.share1; m++ {
			if g.ownerOf(cut, g.cutShares[m].who) == who {
				sum += g.cutShares[m].core
			}
		}
		if who >= 0 && (sum > most*(1+1e-9) || sum > most*(1-1e-9) && who > best) {
			best, most = who, sum
		}
	}
	return best
}
