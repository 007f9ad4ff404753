package forecast

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Probe is one thermocouple and how wrong it may be. Standard deviations; zeros take the defaults below.
type Probe struct {
	Name, Place string
	OffsetK     float64 // constant error of its readings
	GainFrac    float64 // of the rise over the start: a probe that touches badly reads part of it
	LagS        float64 // by which it is late, root mean square: a probe is never early, so its mean is 0.8 of it
	NoiseK      float64 // of one reading, at least: more where the readings show it
}

// What a probe's errors are taken as when nothing is said: common practice, no source. The offset is the default of a device
// file's log error, ±2 K for 90 %.
const (
	defaultOffsetK  = 2.0 / z90
	defaultGainFrac = 0.02
	defaultLagS     = 10.0
	defaultNoiseK   = 0.1
)

// What the model cannot follow: a share of the rise and a floor, alike over misfitS, with the correlation (1 + √3 d) exp(-√3 d),
// d = |Δt|/misfitS (Matérn's with ν = 3/2; Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006, eq. 4.17). The
// sizes are common practice, no source; learning takes 0.7 K for temperatures of all kinds.
const (
	misfitFrac = 0.02
	misfitK    = 0.3
	misfitS    = 900.0
)

const z90 = 1.6448536269514722

// A lag is taken as half normal: its mean and standard deviation are √(2/π) and √(1-2/π) of its root mean square.
var lagMean, lagSpread = math.Sqrt(2 / math.Pi), math.Sqrt(1 - 2/math.Pi)

func (p Probe) withDefaults() Probe {
	or := func(x *float64, v float64) {
		if !(*x > 0) {
			*x = v
		}
	}
	or(&p.OffsetK, defaultOffsetK)
	or(&p.GainFrac, defaultGainFrac)
	or(&p.LagS, defaultLagS)
	or(&p.NoiseK, defaultNoiseK)
	return p
}

// Readings are what one probe has read: times since the start of the run, s, rising, and temperatures, K.
type Readings struct{ TimeS, TK []float64 }

func (r Readings) check(name string) error {
	if len(r.TimeS) != len(r.TK) {
		return fmt.Errorf("%s: %d times for %d readings", name, len(r.TimeS), len(r.TK))
	}
	for i := range r.TK {
		if math.IsNaN(r.TK[i]+r.TimeS[i]) || math.IsInf(r.TK[i]+r.TimeS[i], 0) {
			return fmt.Errorf("%s: reading %d is not a number", name, i+1)
		}
		if i > 0 && r.TimeS[i] <= r.TimeS[i-1] {
			return fmt.Errorf("%s: times do not rise at reading %d", name, i+1)
		}
	}
	return nil
}

// bins is how many means a probe's readings are thinned to. Their errors are alike, so more would say hardly more.
const bins = 16

// thinned are means of a probe's readings over equal spans, with the lower triangle of the factor of their errors' covariance.
type thinned struct {
	probe   int
	timeS   []float64
	lateS   float64 // by which the readings are late in the mean
	meanK   []float64
	factor  mat.TriDense // C = L Lᵀ
	logDet  float64
	scratch []float64
}

// thin averages the readings from the start to now.
func thin(probe int, p Probe, r Readings, nowS float64) (*thinned, error) {
	t := &thinned{probe: probe, lateS: lagMean * p.LagS}
	var count []float64
	at := -1
	for i, s := range r.TimeS {
		if s < 0 || s > nowS {
			continue
		}
		b := min(int(float64(bins)*s/math.Max(nowS, 1)), bins-1)
		if n := len(t.timeS); n == 0 || b != at {
			at = b
			t.timeS, t.meanK, count = append(t.timeS, 0), append(t.meanK, 0), append(count, 0)
		}
		n := len(t.timeS) - 1
		count[n]++
		t.timeS[n] += (s - t.timeS[n]) / count[n]
		t.meanK[n] += (r.TK[i] - t.meanK[n]) / count[n]
	}
	n := len(t.timeS)
	if n == 0 {
		return nil, nil
	}
	noiseK := math.Max(p.NoiseK, scatterK(r.TK))
	rise, slope := make([]float64, n), make([]float64, n)
	for k := range rise {
		rise[k] = t.meanK[k] - t.meanK[0]
		if a, b := max(k-1, 0), min(k+1, n-1); b > a {
			slope[k] = (t.meanK[b] - t.meanK[a]) / (t.timeS[b] - t.timeS[a])
		}
	}
	c := mat.NewSymDense(n, nil)
	for i := 0; i < n; i++ {
		for k := i; k < n; k++ {
			d := math.Sqrt(3) * math.Abs(t.timeS[i]-t.timeS[k]) / misfitS
			alike := (1 + d) * math.Exp(-d)
			v := p.OffsetK*p.OffsetK + p.GainFrac*p.GainFrac*rise[i]*rise[k] + lagSpread*lagSpread*p.LagS*p.LagS*slope[i]*slope[k] +
				(misfitFrac*misfitFrac*rise[i]*rise[k]+misfitK*misfitK)*alike
			if i == k {
				v += noiseK * noiseK / math.Max(1, count[i]/noiseAlike)
			}
			c.SetSym(i, k, v)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return nil, errors.New("forecast: the covariance of a probe's errors is not positive")
	}
	chol.LTo(&t.factor)
	t.logDet = chol.LogDet()
	t.scratch = make([]float64, n)
	return t, nil
}

// noiseAlike is how many readings in a row are worth one: errors of neighbouring readings are alike. Common practice, no source.
const noiseAlike = 4

// scatterK is the standard deviation of single readings as their second differences tell it (the variance of x₁ - 2 x₂ + x₃ is six
// times that of one, for independent errors), or of the rounding to a coarse logger's last digit, which may hide it.
func scatterK(tK []float64) float64 {
	if len(tK) < 3 {
		return 0
	}
	sum, digitK := 0.0, math.Inf(1)
	for i := 2; i < len(tK); i++ {
		d := tK[i] - 2*tK[i-1] + tK[i-2]
		sum += d * d
		if step := math.Abs(tK[i] - tK[i-1]); step > 1e-6 {
			digitK = math.Min(digitK, step)
		}
	}
	s := math.Sqrt(sum / 6 / float64(len(tK)-2))
	if !math.IsInf(digitK, 1) {
		s = math.Max(s, digitK/math.Sqrt(12))
	}
	return s
}

// whiten writes what is left between the means and a run, as independent standard scores.
func (t *thinned) whiten(dst []float64, run *Run) {
	k := 0
	for i, s := range t.timeS {
		sum := t.meanK[i] - run.read(t.probe, math.Max(0, s-t.lateS), &k)
		for j := 0; j < i; j++ {
			sum -= t.factor.At(i, j) * dst[j]
		}
		dst[i] = sum / t.factor.At(i, i)
	}
}
