package reduce

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

const (
	// airStates are the snapshots, of all that were seen, at whose mean temperatures air is sampled
	airStates = 10
	// airOvershoot raises them, so that what is a little warmer lies within the samples as well
	airOvershoot = 1.15
	// airApart is the error of the heat that crosses, as a share, at which there are fields enough
	airApart  = 2.5e-4
	airFields = 32 // at most
	airTwice  = 1  // faces looked at per field
)

// airOf interpolates the conductances of the faces that depend on temperatures: a field of samples' leading deviations, in the norm
// of the heat that crosses each face, and the faces that tell these apart (empirical interpolation: Barrault, Maday, Nguyen &
// Patera, C. R. Acad. Sci. Paris I 339, 2004, 667-672; Chaturantabut & Sorensen, SIAM J. Sci. Comput. 32, 2010, 2737-2764; from
// memory). More faces than fields are looked at, and the deviations fitted by least squares.
func (m *Model) airOf(in []Instance) error {
	h, t := in[0].Heat, m.air
	faces := in[0].Air.Faces()
	bodies := in[0].Air.Bodies()
	for i := range bodies {
		t.bodies = append(t.bodies, m.modesOf(&bodies[i]))
	}
	// samples: every instance at some of the states seen
	n := len(faces)
	var samples [][]float64
	means := make([]float64, len(bodies))
	states := min(airStates, len(m.seen))
	for s := range in {
		for q := 0; q <= states; q++ {
			for i := range means {
				means[i] = m.T0K
				if q > 0 { // spread over all that was seen, other ones for each instance
					a := m.seen[((q-1)*len(m.seen)/states+s*7)%len(m.seen)]
					means[i] += airOvershoot * dot(t.bodies[i], a)
				}
			}
			g := make([]float64, n)
			in[s].Air.Conductances(g, faces, means)
			samples = append(samples, g)
		}
	}
	ref := make([]float64, n)
	for _, g := range samples {
		for f, x := range g {
			ref[f] += x / float64(len(samples))
		}
	}
	// the heat that crosses a face, squared and over its conductance, in the states seen
	second := make([]float64, triangle(m.R))
	for _, a := range m.seen {
		addOuter(second, 1/float64(len(m.seen)), a)
	}
	weight, d, sd := make([]float64, n), make([]float64, m.R), make([]float64, m.R)
	total := 0.0
	t.still = make([]float64, triangle(m.R))
	for f := range faces {
		m.step(d, faces[f], h)
		addOuter(t.still, ref[f], d)
		multiply(sd, second, d)
		weight[f] = ref[f] * dot(sd, d)
		total += weight[f]
	}
	if !(total > 0) {
		return errors.New("reduce: no heat crosses the sealed air in the snapshots")
	}
	for f := range weight {
		weight[f] = math.Sqrt(weight[f] / total)
	}
	// leading deviations
	s := len(samples)
	x := make([]float64, s*n)
	for q, g := range samples {
		for f := range g {
			x[q*n+f] = (g[f]/ref[f] - 1) * weight[f]
		}
	}
	gram := mat.NewSymDense(s, nil)
	blas64.Syrk(blas.NoTrans, 1, blas64.General{Rows: s, Cols: n, Stride: n, Data: x}, 0, gram.RawSymmetric())
	var eig mat.EigenSym
	if !eig.Factorize(gram, true) {
		return errors.New("reduce: the deviations of sealed air could not be found")
	}
	val := eig.Values(nil)
	var vec mat.Dense
	eig.VectorsTo(&vec)
	left := 0.0
	for _, v := range val {
		left += max(v, 0)
	}
	var phi [][]float64 // weighted fields, n each
	for i := s - 1; i >= 0 && len(phi) < airFields && left > airApart*airApart*float64(s); i-- {
		if val[i] < 1e-14*val[s-1] {
			break
		}
		left -= val[i]
		p := make([]float64, n)
		for q := 0; q < s; q++ {
			c := vec.At(q, i) / math.Sqrt(val[i])
			for f, v := range x[q*n : q*n+n] {
				p[f] += c * v
			}
		}
		phi = append(phi, p)
	}
	for _, p := range phi {
		sum := make([]float64, triangle(m.R))
		for f, v := range p {
			if weight[f] > 0 && v != 0 {
				m.step(d, faces[f], h)
				addOuter(sum, ref[f]*v/weight[f], d)
			}
		}
		t.fields = append(t.fields, sum)
	}
	picked := telling(phi, airTwice)
	k := len(phi)
	if k > 0 {
		p := len(picked)
		a := mat.NewDense(p, k, nil)
		for r, f := range picked {
			for c := range phi {
				a.Set(r, c, phi[c][f])
			}
		}
		var svd mat.SVD
		if !svd.Factorize(a, mat.SVDThin) {
			return errors.New("reduce: the faces of sealed air do not tell its fields apart")
		}
		var inv mat.Dense
		eye := mat.NewDiagDense(p, nil)
		for r := 0; r < p; r++ {
			eye.SetDiag(r, 1)
		}
		svd.SolveTo(&inv, eye, k)
		for r := 0; r < k; r++ {
			for q := 0; q < p; q++ {
				t.fit = append(t.fit, inv.At(r, q)*weight[picked[q]])
			}
		}
		for _, f := range picked {
			t.faces = append(t.faces, faces[f])
			t.refWK = append(t.refWK, ref[f])
		}
	}
	// what is left, with the interpolation's own error
	sum := 0.0
	for q := range samples {
		off := append([]float64(nil), x[q*n:q*n+n]...)
		for r := range phi {
			c := 0.0
			for j, f := range picked {
				c += t.fit[r*len(picked)+j] * (samples[q][f]/ref[f] - 1)
			}
			for f, v := range phi[r] {
				off[f] -= c * v
			}
		}
		sum += dot(off, off)
	}
	t.offRel = math.Sqrt(sum / float64(s))
	return nil
}

// telling picks, times over, the entries that tell fields apart: by elimination with the largest pivots.
func telling(fields [][]float64, times int) (picked []int) {
	taken := map[int]bool{}
	for range times {
		rest := make([][]float64, len(fields))
		for i := range rest {
			rest[i] = append([]float64(nil), fields[i]...)
		}
		for k := range rest {
			best, most := -1, 0.0
			for f, v := range rest[k] {
				if v = math.Abs(v); v > most && !taken[f] {
					best, most = f, v
				}
			}
			if best < 0 {
				continue
			}
			taken[best] = true
			picked = append(picked, best)
			for l := k + 1; l < len(rest); l++ {
				c := rest[l][best] / rest[k][best]
				for f, v := range rest[k] {
					rest[l][f] -= c * v
				}
			}
		}
	}
	return picked
}
