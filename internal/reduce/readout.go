package reduce

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// What is asked of a run are mostly means and highest temperatures of whole parts. On the modes' few degrees of freedom a few cells
// tell them as well as all do.

const (
	// fewOffK is the root mean square error over the snapshots at which a mean's cells are enough, fewMost their number at most
	fewOffK, fewMost = 0.002, 16
	// hottestNearK is how near a cell must have come to the hottest to stand for it, and hottestNear as a share of how far they
	// were apart: while a part is still cold, its cells are all near
	hottestNearK, hottestNear = 0.005, 0.01
)

// Hottest picks those of the cells that were the hottest of them, or nearly, in any of the snapshots.
func (m *Model) Hottest(cells []int32) []int32 {
	picked := make([]bool, len(cells))
	t := make([]float64, len(cells))
	for _, a := range m.seen {
		low, top := math.Inf(1), math.Inf(-1)
		for i, c := range cells {
			t[i] = dot(m.at(int(c)), a)
			low, top = min(low, t[i]), max(top, t[i])
		}
		near := min(hottestNearK, hottestNear*(top-low))
		for i := range t {
			picked[i] = picked[i] || t[i] >= top-near
		}
	}
	var out []int32
	for i, c := range cells {
		if picked[i] {
			out = append(out, c)
		}
	}
	return out
}

// Few is a mean over few cells that stands for one over many: in all snapshots both are the same to about fewOffK. The cells are
// chosen one after the other, each the one whose temperature goes most with what is still missing, and the shares by least
// squares (orthogonal matching pursuit: Pati, Rezaiifar & Krishnaprasad, Asilomar 1993; from memory). The shares sum to 1.
func (m *Model) Few(mean Mean) (Mean, error) {
	if len(mean.Cells) <= fewMost {
		return mean, nil
	}
	r := m.R
	second := mat.NewSymDense(r, nil)
	for _, a := range m.seen {
		second.SymRankOne(second, 1/float64(len(m.seen)), mat.NewVecDense(r, a))
	}
	trace := mat.Trace(second)
	for i := range r {
		second.SetSym(i, i, second.At(i, i)+1e-14*trace)
	}
	var chol mat.Cholesky
	if !chol.Factorize(second) {
		return mean, errors.New("reduce: the snapshots' modes are not independent")
	}
	var u mat.TriDense
	chol.UTo(&u)
	// a cell as the vector of its temperatures in the snapshots, in a frame of r + 1: the last stands for the sum of the shares
	const sumK = 1e4
	white := func(v []float64) []float64 {
		out := make([]float64, r+1)
		for i := range r {
			for k := i; k < r; k++ {
				out[i] += u.At(i, k) * v[k]
			}
		}
		out[r] = sumK
		return out
	}
	want := white(m.modesOf(&mean))
	n := len(mean.Cells)
	vec, size := make([][]float64, n), make([]float64, n)
	for i, c := range mean.Cells {
		vec[i] = white(m.at(int(c)))
		size[i] = math.Sqrt(dot(vec[i], vec[i]))
	}
	left := append([]float64(nil), want...)
	var few Mean
	var used []int
	for len(used) < fewMost {
		best, most := -1, 0.0
		for i, v := range vec {
			if along := math.Abs(dot(v, left)) / size[i]; along > most {
				best, most = i, along
			}
		}
		if best < 0 {
			break
		}
		used = append(used, best)
		a := mat.NewDense(r+1, len(used), nil)
		for k, i := range used {
			a.SetCol(k, vec[i])
		}
		var share mat.VecDense
		if err := share.SolveVec(a, mat.NewVecDense(r+1, want)); err != nil {
			used = used[:len(used)-1]
			break
		}
		copy(left, want)
		few = Mean{}
		sum := 0.0
		for k, i := range used {
			few.Cells, few.Share = append(few.Cells, mean.Cells[i]), append(few.Share, share.AtVec(k))
			sum += share.AtVec(k)
			for j, v := range vec[i] {
				left[j] -= share.AtVec(k) * v
			}
		}
		for k := range few.Share {
			few.Share[k] /= sum
		}
		if math.Sqrt(dot(left[:r], left[:r])) <= fewOffK {
			break
		}
	}
	if len(used) == 0 {
		return mean, nil
	}
	return few, nil
}
