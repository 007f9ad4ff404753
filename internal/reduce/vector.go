package reduce

// What a step spends its time on, each in Go and, where the processor has them, in vector instructions. Rows are padded to multiples of
// four entries (see symmetric.go), and so is n.

// addRow adds f·x to dst.
func addRow(dst, x []float64, f float64, n int) {
	if vector {
		addRow4(&dst[0], &x[0], f, n)
		return
	}
	dst, x = dst[:n], x[:n]
	for j, v := range x {
		dst[j] += f * v
	}
}

// dotRow is Σ a x.
func dotRow(a, x []float64, n int) float64 {
	if vector {
		return dotRow4(&a[0], &x[0], n)
	}
	a, x = a[:n], x[:n]
	s := 0.0
	for j, v := range x {
		s += a[j] * v
	}
	return s
}

// bothRow adds f·row to dst and returns Σ row x.
func bothRow(dst, row, x []float64, f float64, n int) float64 {
	if vector {
		return bothRow4(&dst[0], &row[0], &x[0], f, n)
	}
	dst, row, x = dst[:n], row[:n], x[:n]
	s := 0.0
	for j, v := range row {
		s += v * x[j]
		dst[j] += f * v
	}
	return s
}

// eliminate takes the rows of one block of four, as far as they are in a triangle's rows before it, from those: row i loses
// Σ rows[m][i]·rows[m].
func eliminate(a, rows []float64, block int) {
	if block == 0 {
		return
	}
	if vector {
		eliminate4(&a[0], &rows[0], block)
		return
	}
	n := 4 * (block + 1)
	for i := 0; i < 4*block; i++ {
		row := a[at(i) : at(i)+padded(i+1)]
		for m := range 4 {
			by := rows[m*n : m*n+n]
			f := by[i]
			for j := range row {
				row[j] -= f * by[j]
			}
		}
	}
}

// spread takes Σ y[m]·rows[m] from x, as far as the rows of one block of four are before it.
func spread(x, rows []float64, y *[4]float64, block int) {
	if vector {
		spread4(&x[0], &rows[0], &y[0], block)
		return
	}
	n := 4 * (block + 1)
	for m, f := range y {
		for j, v := range rows[m*n : m*n+4*block] {
			x[j] -= f * v
		}
	}
}

// gather sets sum to Σ rows[m] x, as far as the rows of one block of four are before it.
func gather(sum *[4]float64, rows, x []float64, block int) {
	if vector {
		gather4(&sum[0], &rows[0], &x[0], block)
		return
	}
	n := 4 * (block + 1)
	for m := range sum {
		sum[m] = 0
		for j, v := range rows[m*n : m*n+4*block] {
			sum[m] += v * x[j]
		}
	}
}

// chunk is how many entries combine works on at a time.
const chunk = 32

// combine sets dst to base plus Σ f terms. The terms are interleaved: a chunk of each, then the next chunk of each. They are summed
// in single precision, for they are films and what crosses air: a part in a million of that is nothing.
func combine(dst, base []float64, terms, f []float32, chunks int) {
	if len(f) == 0 {
		copy(dst, base)
		return
	}
	if vector {
		_, _, _ = dst[chunks*chunk-1], base[chunks*chunk-1], terms[len(f)*chunks*chunk-1]
		combine32(&dst[0], &base[0], &terms[0], &f[0], len(f), chunks)
		return
	}
	var sum [chunk]float32
	for c := range chunks {
		clear(sum[:])
		for _, w := range f {
			for j, v := range terms[:chunk] {
				sum[j] += w * v
			}
			terms = terms[chunk:]
		}
		for j, v := range sum {
			dst[c*chunk+j] = base[c*chunk+j] + float64(v)
		}
	}
}
