package linsolve

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
// for maxRow) with the neighbours of node c and returns their number.
type graph interface {
	nodes() int
	maxRow() int
	row(c int32, cols []int32, w []float64) int
}

func (op *Operator) nodes() int  { return op.Cells() }
func (op *Operator) maxRow() int { return 6 }
func (op *Operator) row(c int32, cols []int32, w []float64) int {
	return op.faces(c, cols, w)
}

// alone marks a node without neighbours: relaxation solves it exactly, so it
// has no place on the next level.
const alone = int32(-1)

// aggregation is the state of joining. An aggregate is a chain of nodes:
// first[a], next[first[a]], … last[a].
type aggregation struct {
	g     graph
	limit float64   // largest µ
	of    []int32   // node -> aggregate at the end of the last pass
	next  []int32   // node -> next in its aggregate, -1 at the end
	whole []float64 // node -> sum of its conductances
	// by aggregate
	first, last, size []int32
	sum               []float64 // whole of all its nodes
	merged            []int32   // aggregate of this pass, -1 while free

	place []int32 // scratch, all 0 between uses: 1 + position of a node or aggregate in a list
	cols  []int32
	w     []float64
	nbs   []int32   // aggregates next to the one at hand, with the
	nbW   []float64 // conductances that lead there
	list  []int32
	m     [largest * largest]float64
}

// aggregate joins the nodes of g. It returns the aggregate of each node (alone
// for nodes without neighbours) and the number of aggregates, numbered in the
// order of their first node.
func aggregate(g graph) (of []int32, count int) {
	for limit := joinLimit; ; limit *= 2 {
		s := newAggregation(g, limit)
		nodes := len(s.first)
		for range joinPasses {
			s.pass()
		}
		if float64(len(s.first)) <= enoughRatio*float64(nodes) || nodes <= bottomNodes {
			return s.of, len(s.first)
		}
	}
}

func newAggregation(g graph, limit float64) *aggregation {
	n := g.nodes()
	s := &aggregation{g: g, limit: limit, of: make([]int32, n), next: make([]int32, n), whole: make([]float64, n),
		place: make([]int32, n), cols: make([]int32, g.maxRow()), w: make([]float64, g.maxRow())}
	s.first, s.last, s.size = make([]int32, 0, n), make([]int32, 0, n), make([]int32, 0, n)
	s.sum = make([]float64, 0, n)
	for c := range int32(n) {
		s.next[c] = -1
		m := g.row(c, s.cols, s.w)
		if m == 0 {
			s.of[c] = alone
			continue
		}
		for _, v := range s.w[:m] {
			s.whole[c] += v
		}
		s.of[c] = int32(len(s.first))
		s.first, s.last, s.size = append(s.first, c), append(s.last, c), append(s.size, 1)
		s.sum = append(s.sum, s.whole[c])
	}
	s.merged = make([]int32, len(s.first))
	return s
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
	for c, a := range s.of {
		if a >= 0 {
			s.of[c] = s.merged[a]
		}
	}
	s.first, s.last, s.size, s.sum = s.first[:count], s.last[:count], s.size[:count], s.sum[:count]
}

// neighbours lists in nbs and nbW the aggregates that aggregate a touches.
func (s *aggregation) neighbours(a int32) {
	s.nbs, s.nbW = s.nbs[:0], s.nbW[:0]
	for c := s.first[a]; c >= 0; c = s.next[c] {
		m := s.g.row(c, s.cols, s.w)
		for e, d := range s.cols[:m] {
			b := s.of[d]
			if b == a {
				continue
			}
			if s.place[b] == 0 {
				s.nbs, s.nbW = append(s.nbs, b), append(s.nbW, 0)
				s.place[b] = int32(len(s.nbs))
			}
			s.nbW[s.place[b]-1] += s.w[e]
		}
	}
	for _, b := range s.nbs {
		s.place[b] = 0
	}
}

// choose returns the listed neighbour, free or taken in this pass, with which a
// joins at least cost, or alone when none will do.
func (s *aggregation) choose(a int32, taken bool) int32 {
	leaf := len(s.nbs) == 1 && s.size[a] == 1
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
			// µ of the union, and cheap.
			cost := 2 * (s.sum[a] * s.sum[other] / (s.sum[a] + s.sum[other])) / s.nbW[e]
			if best < 0 || cost < least*tie {
				best, with, least = e, other, cost
			}
		}
		if best < 0 || least > s.limit {
			return alone
		}
		if leaf || s.size[a]+s.size[with] <= largest && s.good(s.first[a], s.first[with]) {
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
