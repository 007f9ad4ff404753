package main

import "math"

// readings are temperature rises of two heat capacities in a row against the ambient, C1 - R12 - C2 - R2a, power into the first; the
// four are unknown, each by a factor Factor at one standard deviation about its middle.
type readings struct {
	PowerW float64      `json:"powerW"`
	Middle [4]float64   `json:"middle"` // C1 and C2, J/K; R12 and R2a, K/W
	Factor float64      `json:"factor"`
	TS     []float64    `json:"tS"`
	RiseK  [][2]float64 `json:"riseK"` // of both
	DoubtK float64      `json:"doubtK"`
}

// seen are invented ones.
func seen() *readings {
	return &readings{PowerW: 3, Middle: [4]float64{70, 120, 1.5, 6.5}, Factor: 1.5, DoubtK: 0.4, TS: []float64{60, 300, 900, 1800},
		RiseK: [][2]float64{{2.9, 0.4}, {7.3, 3.1}, {13.8, 8.0}, {18.1, 12.4}}}
}

func (w *readings) count() int { return 2 * len(w.TS) }

// residuals of dT/dt = A (T - end), T(0) = 0, with e^{At} = e^{mt} (cosh st I + sinh st/s (A - m I)), m ± s the eigenvalues of A.
func (w *readings) residuals(z, dst []float64) {
	of := func(i int) float64 { return w.Middle[i] * math.Pow(w.Factor, z[i]) }
	c1, c2, r12, r2a := of(0), of(1), of(2), of(3)
	a, b, c, d := -1/(r12*c1), 1/(r12*c1), 1/(r12*c2), -(1/r12+1/r2a)/c2
	m, s := (a+d)/2, math.Sqrt((a-d)*(a-d)/4+b*c)
	end := [2]float64{w.PowerW * (r12 + r2a), w.PowerW * r2a}
	for i, t := range w.TS {
		slow, fast := math.Exp((m+s)*t), math.Exp((m-s)*t)
		even, odd := (slow+fast)/2, (slow-fast)/(2*s)
		dst[2*i] = (end[0] - (even+odd*(a-m))*end[0] - odd*b*end[1] - w.RiseK[i][0]) / w.DoubtK
		dst[2*i+1] = (end[1] - odd*c*end[0] - (even+odd*(d-m))*end[1] - w.RiseK[i][1]) / w.DoubtK
	}
}
