package linsolve

import (
	"slices"

	"finwright/internal/work"
)

// lanesPerSlice nodes are stored side by side.
const lanesPerSlice = 8

// sliced is the matrix of a coarse level, laid out for eight nodes at a time:
//
//	(A x)_i = excess_i·x_i + Σ w·(x_i − x_col)
//
// Nodes are numbered colour by colour; nodes of one colour are not coupled, so
// they may be relaxed together. Nodes 8s … 8s+7 are slice s. Entry e of node
// 8s+l is at begin[s]+8e+l, those with nodes of earlier colours before
// middle[s], the others after. Short rows are filled up with entries of w = 0
// and colours with nodes of nothing but zeros.
type sliced struct {
	n             int // nodes with the filling, a multiple of eight
	begin, middle []int32
	col           []int32
	w             []real
	excess, inv   []real  // inv is 1/(excess + Σ w), 0 in the filling
	colours       []int32 // slices colours[q] … colours[q+1]-1 have colour q
}

// row fills cols and w with the couplings of node i and returns their number.
func (m *sliced) row(i int32, cols []int32, w []float64) int {
	s, l := i/lanesPerSlice, i%lanesPerSlice
	n := 0
	for e := m.begin[s] + l; e < m.begin[s+1]; e += lanesPerSlice {
		if m.w[e] > 0 {
			cols[n], w[n] = m.col[e], float64(m.w[e])
			n++
		}
	}
	return n
}

// maxRow is the largest number of couplings of one node.
func (m *sliced) maxRow() int {
	most := int32(0)
	for s := range m.middle {
		most = max(most, m.begin[s+1]-m.begin[s])
	}
	return int(most / lanesPerSlice)
}

// windowNodes: nodes of one colour are sorted by the lengths of their rows within
// windows of so many, which leaves little to fill up and neighbours close.
const windowNodes = 512

// slice lays out g by colours. It returns the new number of each node too.
func slice(g *rows, colourOf []int32, colours, workers int) (*sliced, []int32) {
	n := len(colourOf)
	m := &sliced{colours: make([]int32, colours+1)}
	size := make([]int32, colours)
	for _, q := range colourOf {
		size[q]++
	}
	for q, c := range size {
		m.colours[q+1] = m.colours[q] + (c+lanesPerSlice-1)/lanesPerSlice
	}
	count := int(m.colours[colours])
	m.n = count * lanesPerSlice
	order := make([]int32, m.n) // new number -> old one, -1 in the filling
	for i := range order {
		order[i] = -1
	}
	fill := make([]int32, colours)
	for i, q := range colourOf {
		order[m.colours[q]*lanesPerSlice+fill[q]] = int32(i)
		fill[q]++
	}
	lower := make([]uint8, n) // couplings with earlier colours
	work.Each(workers, (n+nodesPerChunk-1)/nodesPerChunk, func(t int) {
		for i := t * nodesPerChunk; i < min((t+1)*nodesPerChunk, n); i++ {
			for _, j := range g.col[g.start[i]:g.start[i+1]] {
				if colourOf[j] < colourOf[i] {
					lower[i]++
				}
			}
		}
	})
	upper := func(i int32) uint8 { return uint8(min(g.start[i+1]-g.start[i]-int32(lower[i]), 255)) }
	var windows [][]int32
	for q, c := range size {
		windows = slices.AppendSeq(windows, slices.Chunk(order[m.colours[q]*lanesPerSlice:][:c], windowNodes))
	}
	work.Each(workers, len(windows), func(t int) {
		slices.SortFunc(windows[t], func(a, b int32) int {
			if d := int(lower[a]) - int(lower[b]); d != 0 {
				return d
			}
			if d := int(upper(a)) - int(upper(b)); d != 0 {
				return d
			}
			return int(a - b)
		})
	})
	number := make([]int32, n)
	for i, o := range order {
		if o >= 0 {
			number[o] = int32(i)
		}
	}
	m.begin, m.middle = make([]int32, count+1), make([]int32, count)
	for s := range count {
		var most [2]int32
		for _, i := range order[s*lanesPerSlice:][:lanesPerSlice] {
			if i >= 0 {
				most[0] = max(most[0], int32(lower[i]))
				most[1] = max(most[1], g.start[i+1]-g.start[i]-int32(lower[i]))
			}
		}
		m.middle[s] = m.begin[s] + lanesPerSlice*most[0]
		m.begin[s+1] = m.middle[s] + lanesPerSlice*most[1]
	}
	m.col, m.w = make([]int32, m.begin[count]), make([]real, m.begin[count])
	work.Each(workers, (count+slicesPerChunk-1)/slicesPerChunk, func(t int) {
		for s := t * slicesPerChunk; s < min((t+1)*slicesPerChunk, count); s++ {
			m.fill(g, colourOf, order, number, s)
		}
	})
	m.excess, m.inv = make([]real, m.n), make([]real, m.n)
	return m, number
}

// fill writes the entries of slice s.
func (m *sliced) fill(g *rows, colourOf, order, number []int32, s int) {
	for l := range int32(lanesPerSlice) {
		i := order[int32(s*lanesPerSlice)+l]
		if i < 0 {
			continue
		}
		low, up := m.begin[s]+l, m.middle[s]+l
		for e := g.start[i]; e < g.start[i+1]; e++ {
			at := &up
			if colourOf[g.col[e]] < colourOf[i] {
				at = &low
			}
			m.col[*at], m.w[*at] = number[g.col[e]], g.w[e]
			*at += lanesPerSlice
		}
	}
	// What fills up points where the longest row does: at a node that holds a
	// proper number by then and is not being relaxed.
	for e := m.begin[s]; e < m.begin[s+1]; e += lanesPerSlice {
		col, w := m.col[e:][:lanesPerSlice], m.w[e:][:lanesPerSlice]
		proper := int32(0)
		for l, v := range w {
			if v > 0 {
				proper = col[l]
			}
		}
		for l, v := range w {
			if v == 0 {
				col[l] = proper
			}
		}
	}
}

// relax solves the equations of slices first … last-1, all of one colour, for x,
// with the couplings up to end[s] only:
//
//	x_i = (b_i + Σ w·x_col)·inv_i
func (m *sliced) relax(x, b []real, end []int32, first, last int) {
	if vector {
		if first < last {
			relaxSlices8(m, &x[0], &b[0], &end[0], first, last)
		}
		return
	}
	for s := first; s < last; s++ {
		var sum [lanesPerSlice]real
		copy(sum[:], b[s*lanesPerSlice:])
		m.add(&sum, x, m.begin[s], end[s])
		inv, out := m.inv[s*lanesPerSlice:][:lanesPerSlice], x[s*lanesPerSlice:][:lanesPerSlice]
		for l, v := range sum {
			out[l] = v * inv[l]
		}
	}
}

// add adds w·x_col of the entries from … to-1 of one slice to sum.
func (m *sliced) add(sum *[lanesPerSlice]real, x []real, from, to int32) {
	for e := from; e < to; e += lanesPerSlice {
		col, w := m.col[e:][:lanesPerSlice], m.w[e:][:lanesPerSlice]
		for l, c := range col {
			sum[l] += w[l] * x[c]
		}
	}
}

// upper sets t = Σ w·x_col over the couplings with later colours: the residual
// after one sweep of relax from zero in the order of the colours.
func (m *sliced) upper(t, x []real, first, last int) {
	if vector {
		if first < last {
			upperSlices8(m, &t[0], &x[0], first, last)
		}
		return
	}
	for s := first; s < last; s++ {
		var sum [lanesPerSlice]real
		m.add(&sum, x, m.middle[s], m.begin[s+1])
		copy(t[s*lanesPerSlice:], sum[:])
	}
}

// apply sets v = A x and returns x·v, x·b and b·b over these slices. In this
// form nothing is lost when x is nearly constant and the excess small.
func (m *sliced) apply(v, x, b []real, first, last int) (xv, xb, bb float64) {
	if vector {
		if first < last {
			xv, xb, bb = applySlices8(m, &v[0], &x[0], &b[0], first, last)
		}
		return xv, xb, bb
	}
	for s := first; s < last; s++ {
		for i := s * lanesPerSlice; i < (s+1)*lanesPerSlice; i++ {
			a := m.excess[i] * x[i]
			for e := m.begin[s] + int32(i%lanesPerSlice); e < m.begin[s+1]; e += lanesPerSlice {
				a += m.w[e] * (x[i] - x[m.col[e]])
			}
			v[i] = a
			xv += float64(x[i]) * float64(a)
			xb += float64(x[i]) * float64(b[i])
			bb += float64(b[i]) * float64(b[i])
		}
	}
	return xv, xb, bb
}

// stepBack sets b −= f·v and returns b·b. The lengths are multiples of eight.
func stepBack(b, v []real, f real) (bb float64) {
	if vector {
		if len(b) > 0 {
			bb = stepBack8(&b[0], &v[0], f, len(b))
		}
		return bb
	}
	for i, a := range v {
		r := b[i] - f*a
		b[i] = r
		bb += float64(r) * float64(r)
	}
	return bb
}

// dot returns a·b. The lengths are multiples of eight.
func dot(a, b []real) (sum float64) {
	if vector {
		if len(a) > 0 {
			sum = dot8(&a[0], &b[0], len(a))
		}
		return sum
	}
	for i, v := range a {
		sum += float64(v) * float64(b[i])
	}
	return sum
}
