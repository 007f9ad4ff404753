package reduce

import "math"

// Symmetric matrices are kept as their lower triangle, row by row, each row padded with zeros to a multiple of four: entry (i, j),
// j ≤ i, at at(i) + j. The triangle of the leading r rows and columns is then the leading part of the slice. Vectors that meet them are
// made by vectorOf, with the same padding behind them.

// padded is n, or the next multiple of four.
func padded(n int) int { return (n + 3) &^ 3 }

// at is where row i begins: behind those of 4, 4, 4, 4, 8, 8, 8, 8, 12, … entries.
func at(i int) int {
	b, m := i/4, i%4
	return 8*b*(b+1) + 4*m*(b+1)
}

// triangle is the size of the triangle of r rows, with the block of the last one, in whole chunks.
func triangle(r int) int { return (at(padded(r)) + chunk - 1) / chunk * chunk }

func vectorOf(r int) []float64 { return make([]float64, padded(r))[:r] }

// addScaled adds f·x to dst, both triangles.
func addScaled(dst []float64, f float64, x []float64) { addRow(dst, x, f, len(dst)) }

// addOuter adds f·v vᵀ.
func addOuter(dst []float64, f float64, v []float64) {
	for i, x := range v {
		x *= f
		row := dst[at(i) : at(i)+i+1]
		for j := range row {
			row[j] += x * v[j]
		}
	}
}

// multiply sets dst = A x. dst may not alias x.
func multiply(dst, a, x []float64) {
	clear(dst)
	for i, xi := range x {
		row := a[at(i):]
		s := bothRow(dst, row, x, xi, padded(i+1))
		dst[i] += s - row[i]*xi
	}
}

// factor finds the lower L of a positive definite matrix A = Lᵀ L in place, from the last row to the first, with the reciprocals
// of its diagonal in inv and zeros on its own; false when the matrix is not positive definite. Taken from the end, all that it does is
// along rows from their beginning.
func factor(a, inv []float64, r int) bool {
	clear(a[at(r):at(padded(r))])
	clear(inv[r:padded(r)])
	for block := (r - 1) / 4; block >= 0; block-- {
		n := 4 * (block + 1)
		rows := a[at(4*block):]
		for m := min(3, r-1-4*block); m >= 0; m-- {
			k := 4*block + m
			row := rows[m*n : m*n+n]
			d := row[k]
			if !(d > 0) {
				return false
			}
			d = 1 / math.Sqrt(d)
			inv[k] = d
			clear(row[k:])
			for j := range row[:k] {
				row[j] *= d
			}
			for i := range m {
				if f := row[4*block+i]; f != 0 {
					addRow(rows[i*n:], row, -f, n)
				}
			}
		}
		eliminate(a, rows, block)
	}
	return true
}

// solve replaces x by the solution of Lᵀ L y = x, L and inv as factor leaves them: a block of four rows at a time, each row of
// which stands for itself within the block.
func solve(l, inv, x []float64) {
	x = x[:padded(len(x))] // behind the last entry are zeros, and there they stay
	var y [4]float64
	last := len(x)/4 - 1
	for block := last; block >= 0; block-- {
		n := 4 * (block + 1)
		rows, xb, ib := l[at(4*block):][:4*n], (*[4]float64)(x[4*block:]), (*[4]float64)(inv[4*block:n])
		r1, r2, r3 := rows[n+4*block:][:1], rows[2*n+4*block:][:2], rows[3*n+4*block:][:3]
		y[3] = xb[3] * ib[3]
		y[2] = (xb[2] - r3[2]*y[3]) * ib[2]
		y[1] = (xb[1] - r3[1]*y[3] - r2[1]*y[2]) * ib[1]
		y[0] = (xb[0] - r3[0]*y[3] - r2[0]*y[2] - r1[0]*y[1]) * ib[0]
		*xb = y
		spread(x, rows, &y, block)
	}
	for block := 0; block <= last; block++ {
		n := 4 * (block + 1)
		rows, xb, ib := l[at(4*block):][:4*n], (*[4]float64)(x[4*block:]), (*[4]float64)(inv[4*block:n])
		r1, r2, r3 := rows[n+4*block:][:1], rows[2*n+4*block:][:2], rows[3*n+4*block:][:3]
		gather(&y, rows, x, block)
		a0 := (xb[0] - y[0]) * ib[0]
		a1 := (xb[1] - y[1] - r1[0]*a0) * ib[1]
		a2 := (xb[2] - y[2] - r2[0]*a0 - r2[1]*a1) * ib[2]
		xb[0], xb[1], xb[2], xb[3] = a0, a1, a2, (xb[3]-y[3]-r3[0]*a0-r3[1]*a1-r3[2]*a2)*ib[3]
	}
}

// dot is Σ a x over the entries of x.
func dot(a, x []float64) float64 {
	a = a[:len(x)]
	n, s := len(x)&^3, 0.0
	if n > 0 {
		s = dotRow(a, x, n)
	}
	for i := n; i < len(x); i++ {
		s += a[i] * x[i]
	}
	return s
}

// table is many rows of r entries that are multiplied by one vector at a time: four at once, each with four entries of room behind, as
// the rows of a block in a triangle lie.
type table struct {
	n, block int
	v        []float64
}

func tableOf(r, n int, row func(i int) []float64) table {
	t := table{n: n, block: padded(r) / 4}
	stride := 4 * (t.block + 1)
	t.v = make([]float64, padded(n)*stride)
	for i := range n {
		copy(t.v[i*stride:], row(i)[:r])
	}
	return t
}

// times sets dst to the rows' inner products with x. dst is made by vectorOf.
func (t *table) times(dst, x []float64) {
	dst = dst[:padded(t.n)]
	for i := 0; i < t.n; i += 4 {
		gather((*[4]float64)(dst[i:]), t.v[i*4*(t.block+1):], x, t.block)
	}
}
