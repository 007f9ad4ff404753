package reduce

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

// Basis is a set of modes, orthonormal in the norm of stored heat of the model it was made for.
type Basis struct {
	N, R int
	V    []float64   // N x R, row-major: the modes' values in a cell lie together
	T0K  float64     // temperature that all modes at zero stand for
	Kept float64     // share of the snapshots' stored heat (squared) that the modes hold
	seen [][]float64 // per snapshot: its modes, R
}

// maxModes bounds the modes: a step costs R³/6.
const maxModes = 80

// A mode is noise when its weight (squared) is below leastShare of the leading one's, or its amplitude below leastK: the
// rounding of temperatures in kelvin is some 1e-13 K.
const (
	leastShare = 1e-10
	leastK     = 1e-9
)

// NewBasis makes modes from snapshots, fields of cell temperatures in K. capJK are the cells' heat capacities, J/K, zero for
// cells that take no part. t0K is the temperature the runs start from.
func NewBasis(snapshots [][]float64, capJK []float64, t0K float64) (*Basis, error) {
	n, s := len(capJK), len(snapshots)
	if s == 0 {
		return nil, errors.New("reduce: no snapshots to make modes from")
	}
	for q, snap := range snapshots {
		if len(snap) != n {
			return nil, fmt.Errorf("reduce: snapshot %d has %d temperatures for %d cells", q+1, len(snap), n)
		}
	}
	// weighted departures from t0K, with the uniform field taken out: it is a mode of its own
	total := 0.0
	for _, c := range capJK {
		total += c
	}
	if !(total > 0) {
		return nil, errors.New("reduce: the cells hold no heat")
	}
	x := make([]float64, n*s) // row-major, a row per snapshot
	for q, snap := range snapshots {
		row := x[q*n : (q+1)*n]
		mean := 0.0
		for c, w := range capJK {
			mean += w * (snap[c] - t0K)
		}
		mean /= total
		if math.IsNaN(mean) || math.IsInf(mean, 0) {
			return nil, fmt.Errorf("reduce: a temperature of snapshot %d is not a number", q+1)
		}
		for c, w := range capJK {
			if w > 0 {
				row[c] = math.Sqrt(w) * (snap[c] - t0K - mean)
			}
		}
	}
	gram := mat.NewSymDense(s, nil)
	blas64.Syrk(blas.NoTrans, 1, blas64.General{Rows: s, Cols: n, Stride: n, Data: x}, 0, gram.RawSymmetric())
	var eig mat.EigenSym
	if !eig.Factorize(gram, true) {
		return nil, errors.New("reduce: the snapshots' modes could not be found")
	}
	val := eig.Values(nil) // ascending
	var vec mat.Dense
	eig.VectorsTo(&vec)
	top, sum, kept := val[s-1], 0.0, 0.0
	for _, v := range val {
		sum += max(0, v)
	}
	var pick []int
	for i := s - 1; i >= 0 && len(pick) < maxModes-1; i-- {
		if val[i] < leastShare*top || val[i] < total*leastK*leastK {
			break
		}
		pick = append(pick, i)
		kept += val[i]
	}
	b := &Basis{N: n, R: 1 + len(pick), T0K: t0K, Kept: 1}
	if sum > 0 {
		b.Kept = kept / sum
	}
	b.V = make([]float64, n*b.R)
	for c, w := range capJK {
		if w > 0 {
			b.V[c*b.R] = 1 / math.Sqrt(total)
		}
	}
	for k, i := range pick {
		scale := 1 / math.Sqrt(val[i])
		for q := 0; q < s; q++ {
			f := vec.At(q, i) * scale
			row := x[q*n : (q+1)*n]
			for c, w := range capJK {
				if w > 0 {
					b.V[c*b.R+k+1] += f * row[c] / math.Sqrt(w)
				}
			}
		}
	}
	for q, snap := range snapshots {
		a := make([]float64, b.R)
		for c, w := range capJK {
			a[0] += w * (snap[c] - t0K) / math.Sqrt(total)
		}
		for k, i := range pick {
			a[k+1] = vec.At(q, i) * math.Sqrt(val[i])
		}
		b.seen = append(b.seen, a)
	}
	return b, nil
}
