package learn

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Model errors added to every observation, 1 standard deviation: what a cell model of calipered parts cannot know. Common
// practice, no source.
const (
	modelSigmaK = 0.7  // on a temperature
	timeFloor   = 0.02 // on a time, as a share of it
)

// Errors of a logged probe besides its stated error, which is taken for an offset it has throughout, as the tolerance of a thermocouple is
// (IEC 60584-1: a class allows each sensor so many kelvin). Common practice, no source.
const (
	logNoiseK    = 0.3  // of a single logged value
	logLossShare = 0.03 // of the rise: what the wire leads away and a taped bead misses
)

// logPoints is how many points of a logged curve are compared. What its neighbours share is in the covariance, so that more points
// would not make the curve weigh much more.
const logPoints = 8

// spot is one temperature at a place and a time, with its errors, each 1 standard deviation.
type spot struct {
	place  string
	atS    float64
	readK  float64 // corrected for what is known of how it was read
	text   string
	noiseK float64 // of this reading alone
	// probe names the instrument whose further errors all its readings share; empty: none
	probe     string
	offsetK   float64
	lossShare float64 // of riseK
	riseK     float64 // reading over the ambient
}

// errorModel is the joint error of a run's temperature readings: normal, with covariance
//
//	C = diag(noise²) + Σ_probes (offset² 1 1ᵀ + loss² rise riseᵀ) + model² exp(-|ln(tᵢ/tⱼ)|) at the same place.
//
// The model's own error at a place changes slowly, on the scale on which temperatures do, that of the logarithm of time; a probe's
// offset and loss are unknowns with a normal prior, integrated out in closed form (Rasmussen & Williams, Gaussian Processes for Machine
// Learning, 2006, §2.7).
type errorModel struct {
	cov *mat.SymDense
	l   *mat.TriDense // L Lᵀ = cov
	sd  []float64     // of each reading alone
}

func newErrorModel(spots []spot) *errorModel {
	n := len(spots)
	if n == 0 {
		return nil
	}
	e := &errorModel{cov: mat.NewSymDense(n, nil), sd: make([]float64, n), l: &mat.TriDense{}}
	for i := range spots {
		for k := i; k < n; k++ {
			e.cov.SetSym(i, k, covariance(&spots[i], &spots[k], i == k))
		}
		e.sd[i] = math.Sqrt(e.cov.At(i, i))
	}
	var chol mat.Cholesky
	if !chol.Factorize(e.cov) { // positive by construction, with noise in every reading
		panic("learn: the errors of readings have no positive covariance")
	}
	chol.LTo(e.l)
	return e
}

func covariance(a, b *spot, same bool) float64 {
	c := 0.0
	if same {
		c += a.noiseK * a.noiseK
	}
	if a.probe != "" && a.probe == b.probe {
		c += a.offsetK*b.offsetK + a.lossShare*a.riseK*b.lossShare*b.riseK
	}
	if a.place == b.place {
		c += modelSigmaK * modelSigmaK * math.Exp(-math.Abs(math.Log(math.Max(1, a.atS)/math.Max(1, b.atS))))
	}
	return c
}

// whiten turns differences, K, into independent ones in standard deviations, L⁻¹ d, in place.
func (e *errorModel) whiten(d []float64) {
	for i := range d {
		for k := range i {
			d[i] -= e.l.At(i, k) * d[k]
		}
		d[i] /= e.l.At(i, i)
	}
}

// colour adds L w to d: independent differences put back to kelvin.
func (e *errorModel) colour(d, w []float64) {
	for i := range d {
		for k := 0; k <= i; k++ {
			d[i] += e.l.At(i, k) * w[k]
		}
	}
}

// probeError is what differences (model less reading, K) say of a probe: its offset and its loss as a share of the rise, with what they
// were expected to be, 1 standard deviation.
type probeError struct {
	probe                       string
	offsetK, offsetSD, loss, sd float64
}

// probeErrors are the most likely errors of each probe given the differences d: prior covariance with the readings times C⁻¹ d.
func (e *errorModel) probeErrors(spots []spot, d []float64) []probeError {
	x := append([]float64(nil), d...)
	e.whiten(x)
	for i := len(x) - 1; i >= 0; i-- { // L⁻ᵀ
		for k := i + 1; k < len(x); k++ {
			x[i] -= e.l.At(k, i) * x[k]
		}
		x[i] /= e.l.At(i, i)
	}
	var out []probeError
	at := map[string]int{}
	for i := range spots {
		s := &spots[i]
		if s.probe == "" {
			continue
		}
		k, ok := at[s.probe]
		if !ok {
			k = len(out)
			at[s.probe] = k
			out = append(out, probeError{probe: s.probe, offsetSD: s.offsetK, sd: s.lossShare})
		}
		// a probe that reads low makes the model look high
		out[k].offsetK -= s.offsetK * s.offsetK * x[i]
		out[k].loss += s.lossShare * s.lossShare * s.riseK * x[i]
	}
	return out
}
