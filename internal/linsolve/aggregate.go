package linsolve

import (
	"bytes"

	"finwright/internal/work"
)

// Pairwise aggregation. Cells are joined in pairs, pairs in pairs, and so on,
// always with the neighbour for which the join costs least, so that aggregates
// grow along strong couplings and do not bridge weak ones. A plate beside air
// is coarsened inside the plate, a stretched cell along its short side.
//
// A join is good when the cheap relaxation takes care of whatever varies inside
// the aggregate. The measure is that of Napov & Notay, "An algebraic multigrid
// method with guaranteed convergence rate", SIAM J. Sci. Comput. 34 (2012),
// written for conductances (from memory): with L the Laplacian of the couplings
// inside the aggregate and S the diagonal of each node's whole sum of couplings,
//
//	µ = max over v of 2·vᵀ(S − S·1·1ᵀS/1ᵀS1)v / vᵀLv
//
// A bound on µ over all aggregates bounds the condition of the two-level method.
// For two nodes it is 2/(1/s_a + 1/s_b)/w_ab: 2 is best; an isotropic 3-D cell
// has 6, as has a box of 2x2x2 of them, while a chain of 2, 4, 8 cells alone has
// 2, 6.8, 26.

const (
	// joinPasses: each pass at best halves the number of nodes.
	joinPasses = 3
	// joinLimit is the largest µ accepted. Where that leaves more than
	// enoughRatio of the nodes of a level (many equal neighbours), it is doubled.
	joinLimit   = 12.5
	enoughRatio = 0.6
	// largest is the largest number of nodes in one aggregate, leaves apart: a
	// node with one neighbour only may always follow it (µ stays near 2), or the
	// many holes of a perforated plate would be taken in only ten at a time.
	largest = 10
	// tie: a later candidate must be cheaper by this factor. Cells on an outer face
	// have fewer couplings and prefer each other a little, and rounding makes
	// equal conductances differ; either would turn neat boxes into a patchwork of
	// more colours.
	tie = 0.65
	// tries: after so many neighbours that would spoil the aggregate a node
	// stays alone in this pass.
	tries = 8
)

// graph is a level seen as nodes and conductances. row fills cols and w (room
// for maxRow) with the neighbours of node c and returns their number; wholes
// sets sum to the sums of the conductances of nodes lo … hi-1.
type graph interface {
	rower
	nodes() int
	wholes(sum []float64, lo, hi int)
}

func (op *Operator) nodes() int  { return op.Cells() }
func (op *Operator) maxRow() int { return 6 }
func (op *Operator) row(c int32, cols []int32, w []float64) int {
	return op.faces(c, cols, w)
}
func (op *Operator) wholes(sum []float64, lo, hi int) {
	nx, nxy := op.NX, op.NX*op.NY
	for c := lo; c < hi; c++ {
		d := op.GX[c] + op.GY[c] + op.GZ[c]
		if c >= 1 {
			d += op.GX[c-1]
		}
		if c >= nx {
			d += op.GY[c-nx]
		}
		if c >= nxy {
			d += op.GZ[c-nxy]
		}
		sum[c-lo] = d
	}
}

// rower gives the couplings of one node at a time.
type rower interface {
	maxRow() int
	row(c int32, cols []int32, w []float64) int
}

// alone marks a node without neighbours: relaxation solves it exactly, so it
// has no place on the next level.
const alone = int32(-1)

// Slabs share out the joining: each node belongs to one, and nodes of different
// slabs are not joined. How nodes are shared out depends on the problem only.
// slabNodes is about the least number of nodes that is worth a slab of its own.
const (
	slabNodes = 16384
	mostSlabs = 16
	// slabPlanes: slabs are cut at multiples of so many planes, where boxes and
	// chains of cells end.
	slabPlanes = 8
)

// slabs cuts the grid along y or z, whichever has more cells.
func (g Grid) slabs() (of []uint8, count int) {
	of = make([]uint8, g.Cells())
	planes := max(g.NY, g.NZ)
	count = max(1, min(mostSlabs, g.Cells()/slabNodes, planes/slabPlanes))
	per := (planes + count - 1) / count
	per = (per + slabPlanes - 1) / slabPlanes * slabPlanes
	count = (planes + per - 1) / per
	if count == 1 {
		return of, 1
	}
	for r := range g.NY * g.NZ {
		at := r / g.NY
		if g.NY >= g.NZ {
			at = r % g.NY
		}
		row := of[r*g.NX : (r+1)*g.NX]
		for i := range row {
			row[i] = uint8(at / per)
		}
	}
	return of, count
}

// aggregation is the state of joining in one slab. An aggregate is a chain of
// nodes: first[a], next[first[a]], … last[a].
type aggregation struct {
	g     graph
	limit float64 // largest µ
	own   uint8   // the slab
	// by node; all slabs share the arrays, each uses its own nodes' places
	slab  []uint8
	of    []int32   // node -> aggregate at the end of the last pass
	next  []int32   // node -> next in its aggregate, -1 at the end
	whole []float64 // node -> sum of its conductances
	place []int32   // scratch, all 0 between uses: 1 + position of a node in a list
	// by aggregate
	first, last, size []int32
	sum               []float64 // whole of all its nodes
	merged            []int32   // aggregate of this pass, -1 while free
	met               []int32   // scratch as place: 1 + position of an aggregate in a list

	cols []int32
	w    []float64
	nbs  []int32   // aggregates next to the one at hand, with the
	nbW  []float64 // conductances that lead there
	list []int32
	m    [largest * largest]float64
}

// aggregates tells where each node of a graph goes.
type aggregates struct {
	of    []int32 // alone for nodes without neighbours
	count int
	// Aggregates are numbered slab by slab, within a slab in the order of their
	// first node: those of slab s are from[s] … from[s+1]-1.
	from []int32
}

// slabs shares out the aggregates as nodes of the next level: as their nodes
// were, pairs of slabs together until there are enough in each.
func (to aggregates) slabs() (of []uint8, count int) {
	together := 1
	for count = len(to.from) - 1; count > 1 && to.count/count < slabNodes; count = (count + 1) / 2 {
		together *= 2
	}
	of = make([]uint8, to.count)
	for q := range len(to.from) - 1 {
		for a := to.from[q]; a < to.from[q+1]; a++ {
			of[a] = uint8(q / together)
		}
	}
	return of, count
}

// aggregate joins the nodes of g, which are shared out to count slabs. whole and
// sum are scratch of one number per node.
func aggregate(g graph, slab []uint8, count, workers int, whole, sum []float64) aggregates {
	n := g.nodes()
	from := make([]int, count+1) // first of a slab's nodes, were they in order
	for _, q := range slab {
		from[q+1]++
	}
	for q := range count {
		from[q+1] += from[q]
	}
	for limit := joinLimit; ; limit *= 2 {
		shared := aggregation{g: g, limit: limit, slab: slab, of: make([]int32, n), next: make([]int32, n),
			whole: whole[:n], place: make([]int32, n)}
		chunks := (n + cellsPerChunk - 1) / cellsPerChunk
		work.Each(workers, chunks, func(k int) {
			lo, hi := k*cellsPerChunk, min((k+1)*cellsPerChunk, n)
			g.wholes(shared.whole[lo:hi], lo, hi)
		})
		slabs := make([]aggregation, count)
		before := make([]int, count)
		work.Each(workers, count, func(q int) {
			s := &slabs[q]
			*s = shared
			s.own = uint8(q)
			s.sum = sum[from[q]:from[q+1]]
			s.start()
			before[q] = len(s.first)
			for range joinPasses {
				s.pass()
			}
		})
		out := aggregates{of: shared.of, from: make([]int32, count+1)}
		left := 0
		for q := range slabs {
			out.from[q+1] = out.from[q] + int32(len(slabs[q].first))
			left += before[q]
		}
		out.count = int(out.from[count])
		if float64(out.count) > enoughRatio*float64(left) && left > bottomNodes {
			continue
		}
		if count > 1 {
			for c, a := range out.of {
				if a >= 0 {
					out.of[c] = a + out.from[slab[c]]
				}
			}
		}
		return out
	}
}

// start makes each of the slab's nodes an aggregate.
func (s *aggregation) start() {
	nodes := len(s.sum)
	s.cols, s.w = make([]int32, s.g.maxRow()), make([]float64, s.g.maxRow())
	s.first, s.last, s.size = make([]int32, nodes), make([]int32, nodes), make([]int32, nodes)
	count := int32(0)
	for c := int32(0); ; c++ {
		skip := bytes.IndexByte(s.slab[c:], s.own)
		if skip < 0 {
			break
		}
		c += int32(skip)
		s.next[c] = -1
		if s.whole[c] == 0 {
			s.of[c] = alone
			continue
		}
		s.of[c] = count
		s.first[count], s.last[count], s.size[count], s.sum[count] = c, c, 1, s.whole[c]
		count++
	}
	s.first, s.last, s.size, s.sum = s.first[:count], s.last[:count], s.size[:count], s.sum[:count]
	s.merged, s.met = make([]int32, count), make([]int32, count)
}

// pass joins the aggregates to pairs. The new ones are written over the old:
// their number is never ahead of a, and what lies before a is not read as old.
func (s *aggregation) pass() {
	old := len(s.first)
	for a := range old {
		s.merged[a] = -1
	}
	count := int32(0)
	for a := range int32(old) {
		if s.merged[a] >= 0 {
			continue
		}
		s.neighbours(a)
		b := s.choose(a, false)
		if b < 0 {
			b = s.choose(a, true) // nobody free: be the third of a pair
		}
		switch {
		case b < 0:
			s.merged[a] = count
			s.first[count], s.last[count], s.size[count], s.sum[count] = s.first[a], s.last[a], s.size[a], s.sum[a]
			count++
		case s.merged[b] < 0:
			s.merged[a], s.merged[b] = count, count
			s.next[s.last[a]] = s.first[b]
			s.first[count], s.last[count] = s.first[a], s.last[b]
			s.size[count], s.sum[count] = s.size[a]+s.size[b], s.sum[a]+s.sum[b]
			count++
		default:
			h := s.merged[b]
			s.merged[a] = h
			s.next[s.last[h]] = s.first[a]
			s.last[h] = s.last[a]
			s.size[h] += s.size[a]
			s.sum[h] += s.sum[a]
		}
	}
	s.first, s.last, s.size, s.sum = s.first[:count], s.last[:count], s.size[:count], s.sum[:count]
	for a, c := range s.first {
		for ; c >= 0; c = s.next[c] {
			s.of[c] = int32(a)
		}
	}
}

// neighbours lists in nbs and nbW the aggregates that aggregate a touches.
func (s *aggregation) neighbours(a int32) {
	s.nbs, s.nbW = s.nbs[:0], s.nbW[:0]
	for c := s.first[a]; c >= 0; c = s.next[c] {
		m := s.g.row(c, s.cols, s.w)
		for e, d := range s.cols[:m] {
			if s.slab[d] != s.own {
				continue
			}
			b := s.of[d]
			if b == a {
				continue
			}
			if s.met[b] == 0 {
				s.nbs, s.nbW = append(s.nbs, b), append(s.nbW, 0)
				s.met[b] = int32(len(s.nbs))
			}
			s.nbW[s.met[b]-1] += s.w[e]
		}
	}
	for _, b := range s.nbs {
		s.met[b] = 0
	}
}

// choose returns the listed neighbour, free or taken in this pass, with which a
// joins at least cost, or alone when none will do.
func (s *aggregation) choose(a int32, taken bool) int32 {
	leaf := len(s.nbs) == 1 && s.size[a] == 1 // as far as the slab goes
	for range tries {
		best, with, least := -1, alone, 0.0
		for e, b := range s.nbs {
			if b < 0 || (s.merged[b] >= 0) != taken {
				continue
			}
			other := b
			if taken {
				other = s.merged[b]
			}
			// µ of the variation that is constant on either side: not more than
			// µ of the union, and cheap. For two nodes it is µ.
			cost := 2 * (s.sum[a] * s.sum[other] / (s.sum[a] + s.sum[other])) / s.nbW[e]
			if best < 0 || cost < least*tie {
				best, with, least = e, other, cost
			}
		}
		if best < 0 || least > s.limit {
			return alone
		}
		if leaf || s.size[a]+s.size[with] == 2 || s.size[a]+s.size[with] <= largest && s.good(s.first[a], s.first[with]) {
			return s.nbs[best]
		}
		s.nbs[best] = alone
	}
	return alone
}

// good tells whether the union of the two chains of nodes has µ <= limit:
// whether limit·L − 2(S − S11ᵀS/1ᵀS1) has no negative eigenvalue. Both parts
// vanish on constants, so the last node can be left out and Cholesky's pivots
// decide.
func (s *aggregation) good(a, b int32) bool {
	s.list = s.list[:0]
	total := 0.0
	for _, start := range [2]int32{a, b} {
		for c := start; c >= 0; c = s.next[c] {
			s.list = append(s.list, c)
			s.place[c] = int32(len(s.list))
			total += s.whole[c]
		}
	}
	n := len(s.list) - 1
	for r, c := range s.list[:n] {
		row := s.m[r*largest : r*largest+n]
		for j := range row {
			row[j] = 2 * s.whole[c] * (s.whole[s.list[j]] / total)
		}
		row[r] -= 2 * s.whole[c]
		k := s.g.row(c, s.cols, s.w)
		for e, d := range s.cols[:k] {
			if s.slab[d] != s.own {
				continue
			}
			p := int(s.place[d]) - 1
			if p < 0 {
				continue
			}
			row[r] += s.limit * s.w[e]
			if p < n {
				row[p] -= s.limit * s.w[e]
			}
		}
	}
	for _, c := range s.list {
		s.place[c] = 0
	}
	for k := range n {
		pivot := s.m[k*largest+k]
		if !(pivot > 0) {
			return false
		}
		for i := k + 1; i < n; i++ {
			f := s.m[i*largest+k] / pivot
			for j := k + 1; j <= i; j++ {
				s.m[i*largest+j] -= f * s.m[j*largest+k]
			}
		}
	}
	return true
}
