package heat

// Within the last step temperatures follow the cubic through both ends with both
// slopes (third order). After a step that damped a transient without resolving it
// the slope at its start means nothing; the parabola through both ends with the
// slope at the later one takes its place.

// within gives the weights of T_0, T_1, and of q_0/C, q_1/C, at tS.
func (st *Stepper) within(tS float64) (a0, a1, b0, b1 float64) {
	hS := st.timeS - st.oldS
	if !st.hasStep || hS == 0 {
		return 0, 1, 0, 0
	}
	u := min(max((tS-st.oldS)/hS, 0), 1)
	v := 1 - u
	if st.shock {
		// T = T_1 + h(u−1) k_1 + (T_0 − T_1 + h k_1)(1−u)²
		return v * v, 1 - v*v, 0, hS * v * (v - 1)
	}
	return v * v * (1 + 2*u), u * u * (3 - 2*u), hS * u * v * v, -hS * u * u * v
}

// At sets dst[c] to the temperature of each of the cells (nil: of all cells) at
// tS within the last step, K. Times outside are taken at its nearer end. dst holds
// one value per cell of the grid; other entries are left alone.
func (st *Stepper) At(dst []float64, tS float64, cells []int32) {
	a0, a1, b0, b1 := st.within(tS)
	if cells == nil {
		for c, t := range st.tNow {
			dst[c] = a0*st.tOld[c] + a1*t + st.invC[c]*(b0*st.qOld[c]+b1*st.qNow[c])
		}
		return
	}
	for _, c := range cells {
		dst[c] = a0*st.tOld[c] + a1*st.tNow[c] + st.invC[c]*(b0*st.qOld[c]+b1*st.qNow[c])
	}
}

// ProbeAt is the weighted sum of the temperatures of a few cells at tS within the
// last step, K.
func (st *Stepper) ProbeAt(cells []int32, weights []float64, tS float64) float64 {
	a0, a1, b0, b1 := st.within(tS)
	sum := 0.0
	for i, c := range cells {
		sum += weights[i] * (a0*st.tOld[c] + a1*st.tNow[c] + st.invC[c]*(b0*st.qOld[c]+b1*st.qNow[c]))
	}
	return sum
}
