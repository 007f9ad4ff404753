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
	// joinLimit is the largest µ accepted.
	joinLimit = 10.0
	// largest is the largest number of nodes in one aggregate.
	largest = 10
	// tie: a later candidate must be better by this factor, so that rounding in
	// equal conductances cannot turn neat boxes into a patchwork.
	tie = 0.99
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

// aggregate joins the nodes of g. It returns the aggregate of each node (alone
// for nodes without neighbours) and the number of aggregates, numbered in the
// order of their first node.
func aggregate(g graph) (of []int32, count int) {
	n := g.nodes()
	of = make([]int32, n)         // node -> aggregate of the last pass
	next := make([]int32, n)      // chain of nodes inside an aggregate
	first := make([]int32, 0, n)  // aggregate -> first node
	last := make([]int32, 0, n)   // aggregate -> last node
	sum := make([]float64, 0, n)  // aggregate -> s
	slot := make([]int32, n)      // aggregate -> place in nbs, 0 for none
	whole := make([]float64, n)   // node -> s
	size := make([]int32, 0, n)   // aggregate -> nodes
	merged := make([]int32, 0, n) // aggregate -> aggregate of this pass, -1 for not yet
	cols, w := make([]int32, g.maxRow()), make([]float64, g.maxRow())
	var nbs []int32
	var nbW []float64
	q := joinTest{g: g, of: of, whole: whole, next: next, place: make([]int32, n), cols: cols, w: w}

	for c := range int32(n) {
		next[c] = -1
		m := g.row(c, cols, w)
		if m == 0 {
			of[c] = alone
			continue
		}
		s := 0.0
		for _, v := range w[:m] {
			s += v
		}
		of[c], whole[c] = int32(len(first)), s
		first, last = append(first, c), append(last, c)
		sum, size = append(sum, s), append(size, 1)
	}
	// neighbours collects in nbs and nbW what aggregate a touches.
	neighbours := func(a int32) {
		nbs, nbW = nbs[:0], nbW[:0]
		for c := first[a]; c >= 0; c = next[c] {
			m := g.row(c, cols, w)
			for e, d := range cols[:m] {
				b := of[d]
				if b == a {
					continue
				}
				if slot[b] == 0 {
					nbs, nbW = append(nbs, b), append(nbW, 0)
					slot[b] = int32(len(nbs))
				}
				nbW[slot[b]-1] += w[e]
			}
		}
		for _, b := range nbs {
			slot[b] = 0
		}
	}
	for range joinPasses {
		merged = merged[:len(first)]
		for a := range merged {
			merged[a] = -1
		}
		// The new aggregates are written over the old ones: number count is
		// never ahead of a, and what lies before a is not read as old again.
		count := int32(0)
		for a := range int32(len(first)) {
			if merged[a] >= 0 {
				continue
			}
			neighbours(a)
			// Try the neighbours from the cheapest join on. An aggregate that is
			// already a pair of this pass takes a third only when no single one fits.
			mate := alone
			for _, complete := range []bool{false, true} {
				for range nbs {
					best, bestMu := -1, 0.0
					for e, b := range nbs {
						if b < 0 || (merged[b] >= 0) != complete {
							continue
						}
						other := b
						if complete {
							other = merged[b]
						}
						mu := joinCost(sum[a], sum[other], nbW[e])
						if best < 0 || mu < bestMu*tie {
							best, bestMu = e, mu
						}
					}
					if best < 0 || bestMu > joinLimit {
						break
					}
					other := nbs[best]
					if complete {
						other = merged[other]
					}
					if size[a]+size[other] <= largest && q.good(first[a], first[other]) {
						mate = nbs[best]
						break
					}
					nbs[best] = alone
				}
				if mate >= 0 {
					break
				}
			}
			switch {
			case mate < 0:
				merged[a] = count
				first[count], last[count], sum[count], size[count] = first[a], last[a], sum[a], size[a]
				count++
			case merged[mate] < 0:
				merged[a], merged[mate] = count, count
				next[last[a]] = first[mate]
				first[count], last[count] = first[a], last[mate]
				size[count] = size[a] + size[mate]
				sum[count] = sum[a] + sum[mate]
				count++
			default:
				h := merged[mate]
				merged[a] = h
				next[last[h]] = first[a]
				last[h] = last[a]
				size[h] += size[a]
				sum[h] += sum[a]
			}
		}
		for c, a := range of {
			if a >= 0 {
				of[c] = merged[a]
			}
		}
		first, last, sum, size = first[:count], last[:count], sum[:count], size[:count]
	}
	return of, len(first)
}

// joinCost is µ of the package's pairwise rule; see above.
func joinCost(sumA, sumB, w float64) float64 {
	return 2 * (sumA * sumB / (sumA + sumB)) / w
}

// joinTest measures what would become of two aggregates that join.
type joinTest struct {
	g     graph
	of    []int32
	whole []float64
	next  []int32
	place []int32 // node -> 1 + its place in list, 0 for not in it
	cols  []int32
	w     []float64
	list  []int32
	m     [largest * largest]float64
}

// good tells whether the union of the two chains of nodes has µ <= joinLimit:
// whether joinLimit·L − 2(S − S11ᵀS/1ᵀS1) has no negative eigenvalue. Both parts
// vanish on constants, so the last node can be left out and Cholesky's pivots
// decide.
func (q *joinTest) good(a, b int32) bool {
	q.list = q.list[:0]
	total := 0.0
	for _, start := range [2]int32{a, b} {
		for c := start; c >= 0; c = q.next[c] {
			q.list = append(q.list, c)
			q.place[c] = int32(len(q.list))
			total += q.whole[c]
		}
	}
	n := len(q.list) - 1
	for r, c := range q.list[:n] {
		row := q.m[r*largest : r*largest+n]
		for j := range row {
			row[j] = 2 * q.whole[c] * (q.whole[q.list[j]] / total)
		}
		row[r] -= 2 * q.whole[c]
		k := q.g.row(c, q.cols, q.w)
		for e, d := range q.cols[:k] {
			p := int(q.place[d]) - 1
			if p < 0 {
				continue
			}
			row[r] += joinLimit * q.w[e]
			if p < n {
				row[p] -= joinLimit * q.w[e]
			}
		}
	}
	for _, c := range q.list {
		q.place[c] = 0
	}
	for k := range n {
		pivot := q.m[k*largest+k]
		if !(pivot > 0) {
			return false
		}
		for i := k + 1; i < n; i++ {
			f := q.m[i*largest+k] / pivot
			for j := k + 1; j <= i; j++ {
				q.m[i*largest+j] -= f * q.m[j*largest+k]
			}
		}
	}
	return true
}
