package curve

import "math"

// noise is a kind of error of unit variance: a share white, the rest AR(1), whose likeness falls to Rho over one usual step:
//
//	e_k = x_k + w_k,  x_{k+1} = ρ^(Δt/step) x_k + ...,  var w = White, var x = 1 - White
//
// Readings of a slow logger wander (air draughts, room) and are rounded (white): neither alone fits.
type noise struct {
	rho, white float64
}

// kinds are the noises tried. ρ is closer where intervals depend on it more; √((1+ρ)/(1-ρ)) grows about 1.4 times a step.
var kinds = func() []noise {
	ks := []noise{{0, 0}}
	for _, rho := range []float64{0.2, 0.4, 0.57, 0.72, 0.83, 0.9, 0.945, 0.975} {
		for _, white := range []float64{0, 0.4, 0.75} {
			ks = append(ks, noise{rho, white})
		}
	}
	return ks
}()

// whitener turns columns with that noise into ones with independent errors of one variance: the innovations of the Kalman filter of
// the model above (Harvey, Forecasting, Structural Time Series Models and the Kalman Filter, 1989, ch. 3; here the state is a scalar).
type whitener struct {
	gain, fade, scale []float64
	halfLogDet        float64 // ½ log |covariance|
}

// newWhitener prepares for readings at times, s, with usual step stepS.
func newWhitener(times []float64, stepS float64, k noise) whitener {
	n := len(times)
	w := whitener{gain: make([]float64, n), fade: make([]float64, n), scale: make([]float64, n)}
	p := 1 - k.white
	for i := range n {
		s := p + k.white
		w.gain[i] = p / s
		w.scale[i] = 1 / math.Sqrt(s)
		w.halfLogDet += math.Log(s) / 2
		if i+1 < n {
			a := 0.0
			if k.rho > 0 {
				a = math.Pow(k.rho, (times[i+1]-times[i])/stepS)
			}
			w.fade[i] = a
			p = a*a*p*(1-w.gain[i]) + (1-a*a)*(1-k.white)
		}
	}
	return w
}

// apply whitens src into dst, which may be the same.
func (w whitener) apply(dst, src []float64) {
	m := 0.0
	for i, v := range src {
		d := v - m
		dst[i] = d * w.scale[i]
		m = w.fade[i] * (m + w.gain[i]*d)
	}
}
