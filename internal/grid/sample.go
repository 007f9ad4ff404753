package grid

import (
	"math"

	"finwright/internal/part"
)

// Values of Grid.state: a body fills the cell (≥ 0), nothing is in it, or it must be sampled; −3−i is cuts[i].
const (
	void      int32 = -1
	uncertain int32 = -2
	firstCut  int32 = -3
)

// pocket marks void that is neither outer air nor a region: gaps too small to own a cell. It holds nothing and touches nothing.
const pocket int16 = -2

// cutCell is a cell that a surface passes through, sampled. Its sample points are a lattice over the cell's core (voxels) and
// one over each side (points just inside the cell). Each holds a body, or −1−v for piece v of void in this cell; after settle
// it holds the final owner (a body, Outside, pocket or a region).
type cutCell struct {
	cell   int32
	voxel  int32    // start of its voxels in Grid.vox, x fastest
	side   [6]int32 // start of its points on side 2·axis+(0 low, 1 high) in Grid.vox; axis+1 fastest, then axis+2
	node0  int32    // void piece v is node node0+v of the flood
	nodes  int32
	share0 int32 // its shares in Grid.cutShares
	share1 int32
	centre part.Vec // of the active part
}

// cutShare is a share of a cut cell: of its whole true volume, and of the core that decides who is where. who is a body or
// −1−v; pocket's place is taken by what is missing to 1.
type cutShare struct {
	who        int16
	frac, core float64
}

// fill decides for every cell whether a body fills it, nothing is in it, or it must be sampled.
func (g *Grid) fill() {
	g.state = make([]int32, g.NX*g.NY*g.NZ)
	for c := range g.state {
		g.state[c] = void
	}
	for b, s := range g.solids {
		bounds := s.Bounds()
		var from, to [3]int
		for a := range from {
			p := g.planes[a]
			for from[a] < g.n[a] && p[from[a]+1] <= bounds.Min[a]+g.tinyM {
				from[a]++
			}
			to[a] = from[a]
			for to[a] < g.n[a] && p[to[a]] < bounds.Max[a]-g.tinyM {
				to[a]++
			}
		}
		for k := from[2]; k < to[2]; k++ {
			for j := from[1]; j < to[1]; j++ {
				for i := from[0]; i < to[0]; i++ {
					switch s.Against(g.shrunk([3]int{i, j, k})) {
					case part.Fills:
						g.state[(k*g.NY+j)*g.NX+i] = int32(b)
					case part.Crosses:
						g.state[(k*g.NY+j)*g.NX+i] = uncertain
					}
				}
			}
		}
	}
}

// shrunk is a cell's space less a hair, so that rounding in planes does not count as crossing.
func (g *Grid) shrunk(at [3]int) part.Box {
	var b part.Box
	for a, i := range at {
		b.Min[a], b.Max[a] = g.planes[a][i]+g.tinyM, g.planes[a][i+1]-g.tinyM
	}
	return b
}

// sampler is the scratch space of one pass of sampling.
type sampler struct {
	g     *Grid
	near  []int // solids in question for the cell at hand, latest first
	codes []int16
	sets  []int32
	name  []int16
	sum   map[int16]*cutShare
	order []int16
}

// sample looks into the uncertain cells.
func (g *Grid) sample() {
	s := &sampler{g: g, sum: map[int16]*cutShare{}}
	nodes := int32(len(g.state)) // a plain void cell is its own node; pieces of void in cut cells follow
	for c := range g.state {
		if g.state[c] == uncertain {
			nodes = s.cell(c, nodes)
		}
	}
	g.nodes = nodes
}

// at is the body at a point, −1 for none.
func (s *sampler) at(p part.Vec) int16 {
	for _, b := range s.near {
		if s.g.solids[b].Contains(p) {
			return int16(b)
		}
	}
	return -1
}

// cell samples one cell; nodes is the next free node.
func (s *sampler) cell(c int, nodes int32) int32 {
	g := s.g
	at := g.IJK(c)
	space := g.shrunk(at)
	s.near = s.near[:0]
	for b := len(g.solids) - 1; b >= 0; b-- {
		rel := g.solids[b].Against(space)
		if rel != part.Apart {
			s.near = append(s.near, b)
		}
		if rel == part.Fills {
			break
		}
	}
	var r [3]*rule
	for a, i := range at {
		r[a] = &g.rules[a][i]
	}

	// voxels of the core, then points of the six sides
	s.codes = s.codes[:0]
	var p part.Vec
	nx, ny, nz := r[0].coreN, r[1].coreN, r[2].coreN
	for k := 0; k < nz; k++ {
		for j := 0; j < ny; j++ {
			for i := 0; i < nx; i++ {
				p[0], p[1], p[2] = r[0].point(0, i, j, ny, k, nz), r[1].point(1, j, k, nz, i, nx), r[2].point(2, k, i, nx, j, ny)
				s.codes = append(s.codes, s.at(p))
			}
		}
	}
	voxels := len(s.codes)
	var side [6]int
	for a := 0; a < 3; a++ {
		u, v := (a+1)%3, (a+2)%3
		for h := 0; h < 2; h++ {
			side[2*a+h] = len(s.codes)
			p[a] = r[a].lo + g.tinyM
			if h == 1 {
				p[a] = r[a].hi - g.tinyM
			}
			for j := 0; j < r[v].coreN; j++ {
				for i := 0; i < r[u].coreN; i++ {
					p[u], p[v] = r[u].point(u, i, j, r[v].coreN, 0, 1), r[v].point(v, j, i, r[u].coreN, 0, 1)
					s.codes = append(s.codes, s.at(p))
				}
			}
		}
	}
	pieces := s.pieces(r, voxels, side)

	s.shares(c, r, voxels, side)

	// all alike: a plain cell after all
	if len(s.order) == 1 && s.sum[s.order[0]].frac > 1-1e-9 {
		alike := true
		for _, code := range s.codes {
			alike = alike && (code == s.codes[0] || code < 0 && s.codes[0] < 0)
		}
		if alike {
			g.state[c] = int32(max(s.codes[0], -1))
			return nodes
		}
	}
	g.state[c] = firstCut - int32(len(g.cuts))
	cut := cutCell{cell: int32(c), voxel: int32(len(g.vox)), node0: nodes, nodes: pieces, share0: int32(len(g.cutShares))}
	for i := range side {
		cut.side[i] = cut.voxel + int32(side[i])
	}
	for _, who := range s.order {
		g.cutShares = append(g.cutShares, *s.sum[who])
	}
	cut.share1 = int32(len(g.cutShares))
	g.vox = append(g.vox, s.codes...)
	g.cuts = append(g.cuts, cut)
	return nodes + pieces
}

// shift moves sample points off the middle of their pieces, in piece lengths, by axis and by where the point is along the
// other axes. Without it a surface at 45° may run along a whole diagonal of points and be counted to one side. Each row sums
// up to nothing, rows differ, and mirrored points get mirrored shifts, so that symmetric solids keep symmetric cells.
var shift = [3][4]float64{{0.375, -0.125, 0.125, -0.375}, {-0.125, 0.375, -0.375, 0.125}, {0.125, -0.375, -0.125, 0.375}}

// point is the coordinate along an axis of sample point i of the core; j of nj and k of nk is where it is along the others.
func (r *rule) point(axis, i, j, nj, k, nk int) float64 {
	x := r.mid[r.core0+i]
	if r.coreN == 1 || nj == 1 && nk == 1 {
		return x
	}
	d := shift[axis][(min(j, nj-1-j)+min(k, nk-1-k))%len(shift[axis])] * r.width[r.core0+i]
	if i < r.coreN/2 {
		return x + d
	}
	return x - d
}

// core clamps piece i of a layer to the core: the index of the core piece, and whether it is in the core itself.
func (r *rule) core(i int) (int, bool) {
	i -= r.core0
	return min(max(i, 0), r.coreN-1), i >= 0 && i < r.coreN
}

// pieces finds which void samples of the cell hang together (through faces of voxels, and from a side's point to the voxel
// behind it and to its neighbours on that side), renames them −1−v and returns how many pieces there are.
func (s *sampler) pieces(r [3]*rule, voxels int, side [6]int) int32 {
	codes := s.codes
	s.sets = s.sets[:0]
	for i := range codes {
		s.sets = append(s.sets, int32(i))
	}
	join := func(a, b int) {
		if codes[a] < 0 && codes[b] < 0 {
			unite(s.sets, int32(a), int32(b))
		}
	}
	n := [3]int{r[0].coreN, r[1].coreN, r[2].coreN}
	step := [3]int{1, n[0], n[0] * n[1]}
	for v := 0; v < voxels; v++ {
		at := [3]int{v % n[0], v / n[0] % n[1], v / step[2]}
		for a := range at {
			if at[a]+1 < n[a] {
				join(v, v+step[a])
			}
		}
	}
	for a := 0; a < 3; a++ {
		u, w := (a+1)%3, (a+2)%3
		for h := 0; h < 2; h++ {
			for j := 0; j < n[w]; j++ {
				for i := 0; i < n[u]; i++ {
					pt := side[2*a+h] + j*n[u] + i
					join(pt, i*step[u]+j*step[w]+h*(n[a]-1)*step[a])
					if i+1 < n[u] {
						join(pt, pt+1)
					}
					if j+1 < n[w] {
						join(pt, pt+n[u])
					}
				}
			}
		}
	}
	s.name = s.name[:0]
	for range codes {
		s.name = append(s.name, 0)
	}
	var pieces int32
	for i := range codes {
		if codes[i] >= 0 {
			continue
		}
		root := find(s.sets, int32(i))
		if s.name[root] == 0 {
			pieces++
			s.name[root] = int16(-pieces)
		}
		codes[i] = s.name[root]
	}
	return pieces
}

// find and unite keep sets of indices as trees of parents.
func find(parent []int32, i int32) int32 {
	for parent[i] != i {
		parent[i] = parent[parent[i]]
		i = parent[i]
	}
	return i
}

// unite lets the lower root stay, so that the outcome does not depend on the order.
func unite(parent []int32, a, b int32) {
	a, b = find(parent, a), find(parent, b)
	if a < b {
		parent[b] = a
	} else {
		parent[a] = b
	}
}

// sidePoint is what the point pt of a cell's side holds: a body, or a negative code.
func (g *Grid) sidePoint(cell, side, pt int) int16 {
	st := g.state[cell]
	if st <= firstCut {
		return g.vox[int(g.cuts[firstCut-st].side[side])+pt]
	}
	return int16(st)
}

// points is how many sample points a side normal to that axis has, for cells in these layers.
func (g *Grid) points(axis int, at [3]int) (n, alongU int) {
	u, v := (axis+1)%3, (axis+2)%3
	alongU = g.rules[u][at[u]].coreN
	return alongU * g.rules[v][at[v]].coreN, alongU
}

// eachFace visits all faces between neighbouring cells and on the ends of the grid: side 2·axis+1 of cell, with next the
// cell beyond it (−1 at the end); at the low end cell is −1 and next the first cell.
func (g *Grid) eachFace(visit func(axis, cell, next int, at [3]int)) {
	var at [3]int
	for at[2] = 0; at[2] < g.NZ; at[2]++ {
		for at[1] = 0; at[1] < g.NY; at[1]++ {
			for at[0] = 0; at[0] < g.NX; at[0]++ {
				c := (at[2]*g.NY+at[1])*g.NX + at[0]
				for a := 0; a < 3; a++ {
					if at[a] == 0 {
						visit(a, -1, c, at)
					}
					if at[a] == g.n[a]-1 {
						visit(a, c, -1, at)
					} else {
						visit(a, c, c+g.stride[a], at)
					}
				}
			}
		}
	}
}

// faceArea is the area of a face normal to an axis of cells in these layers, m².
func (g *Grid) faceArea(axis int, at [3]int) float64 {
	u, v := (axis+1)%3, (axis+2)%3
	return g.CellSize(u, at[u]) * g.CellSize(v, at[v])
}

func norm(v part.Vec) float64 { return math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2]) }
