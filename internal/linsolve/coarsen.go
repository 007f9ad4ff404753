package linsolve

import "finwright/internal/work"

const (
	tiny = 1e-30 // far above the smallest float32, far below what couplings of one device span
	huge = 1e30
)

// rows is a symmetric matrix of couplings in compressed rows, as the hierarchy
// is built: node i has the couplings w[start[i]:start[i+1]] with the nodes col[…].
type rows struct {
	start, col []int32
	w          []real
}

func (g *rows) nodes() int { return len(g.start) - 1 }
func (g *rows) maxRow() int {
	m := int32(0)
	for i := range g.nodes() {
		m = max(m, g.start[i+1]-g.start[i])
	}
	return int(m)
}
func (g *rows) row(i int32, cols []int32, w []float64) int {
	lo, hi := g.start[i], g.start[i+1]
	copy(cols, g.col[lo:hi])
	for e, v := range g.w[lo:hi] {
		w[e] = float64(v)
	}
	return int(hi - lo)
}

func (g *rows) wholes(sum []float64, lo, hi int) {
	for i := lo; i < hi; i++ {
		d := 0.0
		for _, v := range g.w[g.start[i]:g.start[i+1]] {
			d += float64(v)
		}
		sum[i-lo] = d
	}
}

// collect lists the nodes of each of count aggregates: those of aggregate a are
// members[start[a]:start[a+1]], in order.
func collect(of []int32, count int) (start, members []int32) {
	start = make([]int32, count+1)
	inside := int32(0)
	for _, a := range of {
		if a >= 0 {
			start[a+1]++
			inside++
		}
	}
	for a := range count {
		start[a+1] += start[a]
	}
	members = make([]int32, inside)
	fill := make([]int32, count)
	for c, a := range of {
		if a >= 0 {
			members[start[a]+fill[a]] = int32(c)
			fill[a]++
		}
	}
	return start, members
}

// lump returns the couplings between the aggregates of g, times scale.
func lump(g graph, to aggregates, memberStart, members []int32, scale float64, workers int) *rows {
	parts := make([]rows, len(to.from)-1)
	work.Each(workers, len(parts), func(q int) {
		parts[q] = lumpPart(g, to.of, memberStart, members, scale, to.from[q], to.from[q+1])
	})
	if len(parts) == 1 {
		return &parts[0]
	}
	entries := 0
	for q := range parts {
		entries += len(parts[q].col)
	}
	c := &rows{start: make([]int32, 0, to.count+1), col: make([]int32, 0, entries), w: make([]real, 0, entries)}
	for q := range parts {
		p, shift := &parts[q], int32(len(c.col))
		for _, s := range p.start[:len(p.start)-1] {
			c.start = append(c.start, s+shift)
		}
		c.col, c.w = append(c.col, p.col...), append(c.w, p.w...)
		*p = rows{}
	}
	c.start = append(c.start, int32(entries))
	return c
}

// lumpPart returns the rows of aggregates from … end-1.
func lumpPart(g graph, of, memberStart, members []int32, scale float64, from, end int32) rows {
	count := int(end - from)
	c := rows{start: make([]int32, 1, count+1), col: make([]int32, 0, 7*count), w: make([]real, 0, 7*count)}
	place := make(map[int32]int) // of columns beyond the part; rare
	within := make([]int32, count)
	cols, ws := make([]int32, g.maxRow()), make([]float64, g.maxRow())
	var rowW []float64
	for a := from; a < end; a++ {
		rowW = rowW[:0]
		lo := len(c.col)
		for _, i := range members[memberStart[a]:memberStart[a+1]] {
			m := g.row(i, cols, ws)
			for e, d := range cols[:m] {
				b := of[d]
				if b == a {
					continue
				}
				at := 0 // 1 + place in the current row
				if b >= from && b < end {
					at = int(within[b-from])
				} else {
					at = place[b]
				}
				if at == 0 {
					c.col, rowW = append(c.col, b), append(rowW, 0)
					at = len(rowW)
					if b >= from && b < end {
						within[b-from] = int32(at)
					} else {
						place[b] = at
					}
				}
				rowW[at-1] += ws[e]
			}
		}
		for e, b := range c.col[lo:] {
			if b >= from && b < end {
				within[b-from] = 0
			}
			// A coupling too weak for single precision must not vanish: the two
			// nodes would count as unconnected.
			c.w = append(c.w, max(real(rowW[e]*scale), tiny))
		}
		if len(place) > 0 {
			clear(place)
		}
		c.start = append(c.start, int32(len(c.col)))
	}
	return c
}

// colour gives each node the first colour none of its neighbours has, and
// returns how many there are.
func (g *rows) colour() (of []int32, colours int) {
	of = make([]int32, g.nodes())
	var seen []int32 // colour -> 1 + node that saw it last
	for i := range int32(len(of)) {
		for _, j := range g.col[g.start[i]:g.start[i+1]] {
			if j < i {
				seen[of[j]] = i + 1
			}
		}
		q := 0
		for q < len(seen) && seen[q] == i+1 {
			q++
		}
		if q == len(seen) {
			seen = append(seen, 0)
		}
		of[i] = int32(q)
	}
	return of, len(seen)
}
