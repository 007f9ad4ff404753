package benchtest

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// row is one figure that follows from the model: its value when all is as expected, and how it moves.
type row struct {
	base  float64
	perZ  []float64   // by unknown, for a score; then by bond, for a unit of ln of its conductance
	fault [][]float64 // by bond and faults: beyond base
}

// row takes a figure out of every run.
func (e *effects) row(of func(*trace) float64) row {
	base := of(&e.from)
	x := row{base: of(&e.base), perZ: make([]float64, len(e.moved)+len(e.fault)), fault: make([][]float64, len(e.fault))}
	for i := range e.moved {
		x.perZ[i] = (of(&e.moved[i]) - base) / e.stepZ[i]
	}
	for b := range e.fault {
		x.fault[b] = make([]float64, len(faults))
		for k := range faults {
			x.fault[b][k] = of(&e.fault[b][k]) - base
		}
		x.perZ[len(e.moved)+b] = -x.fault[b][0] / math.Log(faults[0])
	}
	return x
}

// shift is what a bond with factor times its planned resistance does to the figure; by straight lines over the factor's logarithm.
func (x *row) shift(bond int, factor float64) float64 {
	if bond < 0 || factor <= 1 {
		return 0
	}
	l0, d0 := 0.0, 0.0
	for k, f := range faults {
		l1, d1 := math.Log(f), x.fault[bond][k]
		if factor <= f || k == len(faults)-1 {
			return d0 + (d1-d0)*math.Min(1, (math.Log(factor)-l0)/(l1-l0))
		}
		l0, d0 = l1, d1
	}
	return d0
}

// channel is one probe of a log or a plan.
type channel struct {
	place   int     // index into the places watched
	errorSd float64 // of the probe's constant error, K
}

// reading is one temperature read, or to be read.
type reading struct {
	channel int
	tS      float64
	riseK   float64 // over the start: what the model's error is a share of
	row
}

// Errors of a reading, standard deviations. Common practice, no source: what a cheap logger scatters, and what a cell model of
// calipered parts cannot know of a rise.
const (
	readSdK    = 0.2
	modelShare = 0.05 // of the rise
	// The model's error goes from one time to another by their ratio: times a factor e apart have 1/e of it in common.
	modelOffsetS = 60.0
)

// network is the Gaussian picture of some readings: n of them, with all doubt of what is not known and of the errors.
type network struct {
	readings []reading
	channels []channel
	j        *mat.Dense    // readings by unknowns and bonds
	cov      *mat.SymDense // of unknowns and bonds
	cj       *mat.Dense    // cov·jᵀ
	chol     mat.Cholesky  // of the readings' covariance
}

var errReadings = errors.New("the readings' errors do not make a covariance: two readings of one probe at one time?")

// network sets the picture up.
func (r *rig) network(readings []reading, channels []channel) (*network, error) {
	n, p := len(readings), len(r.unknowns)+len(r.bonds)
	w := &network{readings: readings, channels: channels, cov: r.priorCov()}
	if n == 0 {
		return w, nil
	}
	w.j = mat.NewDense(n, p, nil)
	for i := range readings {
		w.j.SetRow(i, readings[i].perZ)
	}
	w.cj = mat.NewDense(p, n, nil)
	w.cj.Mul(w.cov, w.j.T())
	var jcj mat.Dense
	jcj.Mul(w.j, w.cj)
	sigma := mat.NewSymDense(n, nil)
	for i := range readings {
		for k := i; k < n; k++ {
			sigma.SetSym(i, k, (jcj.At(i, k)+jcj.At(k, i))/2+w.noise(i, k))
		}
	}
	if !w.chol.Factorize(sigma) {
		return nil, errReadings
	}
	return w, nil
}

// priorCov is the covariance of unknowns (scores) and bonds (ln of the conductance, as planned).
func (r *rig) priorCov() *mat.SymDense {
	n := len(r.unknowns)
	c := mat.NewSymDense(n+len(r.bonds), nil)
	for i := range r.cov {
		for k := i; k < n; k++ {
			c.SetSym(i, k, r.cov[i][k])
		}
	}
	for b := range r.bonds {
		c.SetSym(n+b, n+b, r.bonds[b].sdLn*r.bonds[b].sdLn)
	}
	return c
}

// noise is the covariance of two readings' errors, K².
func (w *network) noise(i, k int) float64 {
	a, b := &w.readings[i], &w.readings[k]
	if a.channel != b.channel {
		return 0
	}
	sd := w.channels[a.channel].errorSd
	common := math.Exp(-math.Abs(math.Log((a.tS + modelOffsetS) / (b.tS + modelOffsetS))))
	v := sd*sd + modelShare*modelShare*a.riseK*b.riseK*common
	if i == k {
		v += readSdK * readSdK
	}
	return v
}

// misfit is readings less what is expected when one bond (-1: none) is worse by a factor.
func (w *network) misfit(readK []float64, bond int, factor float64) *mat.VecDense {
	d := mat.NewVecDense(len(readK), nil)
	for i := range readK {
		x := &w.readings[i]
		d.SetVec(i, readK[i]-x.base-x.shift(bond, factor))
	}
	return d
}

// chi2 is a misfit's squared length in standard deviations of all that is in doubt.
func (w *network) chi2(d *mat.VecDense) float64 {
	if len(w.readings) == 0 {
		return 0
	}
	var s mat.VecDense
	if err := w.chol.SolveVecTo(&s, d); err != nil {
		return math.Inf(1)
	}
	return mat.Dot(d, &s)
}

// state is what the readings leave of unknowns and bonds: mean and covariance.
type state struct {
	mean *mat.VecDense
	cov  *mat.SymDense
}

// given is the state after a misfit was seen.
func (w *network) given(d *mat.VecDense) state {
	p := w.cov.SymmetricDim()
	s := state{mat.NewVecDense(p, nil), mat.NewSymDense(p, nil)}
	s.cov.CopySym(w.cov)
	if len(w.readings) == 0 {
		return s
	}
	var solved mat.Dense // Σ⁻¹·(cov·jᵀ)ᵀ
	if err := w.chol.SolveTo(&solved, w.cj.T()); err != nil {
		return s
	}
	s.mean.MulVec(solved.T(), d)
	var less mat.Dense
	less.Mul(w.cj, &solved)
	for i := 0; i < p; i++ {
		for k := i; k < p; k++ {
			s.cov.SetSym(i, k, w.cov.At(i, k)-(less.At(i, k)+less.At(k, i))/2)
		}
	}
	return s
}

// of is a figure's mean and standard deviation in a state, with one bond worse by a factor.
func (s state) of(x row, bond int, factor float64) (mean, sd float64) {
	g := mat.NewVecDense(len(x.perZ), x.perZ)
	return x.base + x.shift(bond, factor) + mat.Dot(g, s.mean), math.Sqrt(math.Max(0, mat.Inner(g, s.cov, g)))
}
