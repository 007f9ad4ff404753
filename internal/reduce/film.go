package reduce

import (
	"math"

	"finwright/internal/heat"
)

// A law costs as much as a step of all modes. What it gave at the latest means of its surface is kept, and between and a little
// beyond these a parabola stands for it: in the surface's own mean, since along a run the other means go with it. How far it
// may be followed is found out by asking again: whenever the law is asked, what was foretold is compared.

// memory is what a surface's law gave, the latest first.
type memory struct {
	n     int
	meanK [3]float64
	film  [3]heat.Film
	tS    float64
	// reachK and reachS are how far from the latest mean and time the parabola may be followed.
	reachK, reachS float64
}

const (
	firstReachK, mostReachK = 0.2, 8.0
	firstReachS, mostReachS = 10.0, 900.0
	nodesApartK             = 0.1 // closer ones tell no slope
	// filmShare is the part of the error allowed per step that a film may be wrong by, as what its surface would settle at
	filmShare = 0.2
)

func (f *memory) forget() { *f = memory{reachK: firstReachK, reachS: firstReachS} }

// due says whether the law should be asked before its film is used at meanK and tS.
func (f *memory) due(meanK, tS float64) bool {
	return f.n == 0 || !(f.farK(meanK) <= f.reachK) || !(math.Abs(tS-f.tS) <= f.reachS)
}

// farK is how far a mean is from the nearest that is remembered.
func (f *memory) farK(meanK float64) float64 {
	far := math.Inf(1)
	for _, m := range f.meanK[:f.n] {
		far = min(far, math.Abs(m-meanK))
	}
	return far
}

// within says whether a mean lies between two that are remembered.
func (f *memory) within(meanK float64) bool {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, m := range f.meanK[:f.n] {
		lo, hi = min(lo, m), max(hi, m)
	}
	return meanK > lo && meanK < hi
}

// at is the film at a mean, by what is remembered.
func (f *memory) at(meanK float64) heat.Film {
	out := f.film[0]
	if f.n == 1 || meanK == f.meanK[0] || math.IsInf(out.HWm2K, 1) {
		return out
	}
	x, x0, x1 := meanK, f.meanK[0], f.meanK[1]
	w0, w1, w2 := (x-x1)/(x0-x1), (x-x0)/(x1-x0), 0.0
	if f.n > 2 {
		x2 := f.meanK[2]
		w0 *= (x - x2) / (x0 - x2)
		w1 *= (x - x2) / (x1 - x2)
		w2 = (x - x0) * (x - x1) / ((x2 - x0) * (x2 - x1))
	}
	a, b, c := &f.film[0], &f.film[1], &f.film[2]
	h := w0*a.HWm2K + w1*b.HWm2K + w2*c.HWm2K
	if !(h > 0.5*out.HWm2K) {
		return out
	}
	out.RefK += (w1*b.HWm2K*(b.RefK-a.RefK) + w2*c.HWm2K*(c.RefK-a.RefK)) / h // Σ w h ref / h, against rounding
	out.HWm2K = h
	out.GainWm2 = w0*a.GainWm2 + w1*b.GainWm2 + w2*c.GainWm2
	return out
}

// learn takes what the law gave and finds out how far off the parabola was: offK, in what the surface would settle at.
func (f *memory) learn(meanK, tS float64, film heat.Film, allowK float64) (offK float64) {
	if f.n == 0 || math.IsInf(film.HWm2K, 1) || math.IsInf(f.film[0].HWm2K, 1) {
		if f.n > 0 && film != f.film[0] {
			offK = math.Inf(1)
		}
		f.n, f.meanK[0], f.film[0], f.tS = 1, meanK, film, tS
		return offK
	}
	told := f.at(meanK)
	offW := math.Abs(flux(film, meanK) - flux(told, meanK))
	offK = offW / max(film.HWm2K, 1)
	farK, farS := f.farK(meanK), math.Abs(tS-f.tS)
	grow := min(3, 0.9*math.Cbrt(allowK/max(offK, 1e-12)))
	switch {
	case grow >= 1:
		if !f.within(meanK) { // what lies between says little of what lies beyond
			f.reachK = min(mostReachK, max(f.reachK, farK*grow))
		}
		f.reachS = min(mostReachS, max(f.reachS, farS*2))
	case farK < f.reachK/2: // not this surface's own mean: others, or the time
		f.reachS = min(f.reachS, max(farS*max(grow, 0.1), 1e-3))
	default:
		f.reachK = max(1e-6, min(f.reachK, farK*max(grow, 0.1)))
	}
	// the new one first; a slope between neighbours says more about other surfaces than about this one
	old, n := *f, 1
	for i := 0; i < old.n && n < len(f.meanK); i++ {
		if math.Abs(old.meanK[i]-meanK) > nodesApartK {
			f.meanK[n], f.film[n] = old.meanK[i], old.film[i]
			n++
		}
	}
	f.n, f.meanK[0], f.film[0], f.tS = n, meanK, film, tS
	return offK
}

// flux is what a film takes from a surface, W/m².
func flux(f heat.Film, tK float64) float64 { return f.HWm2K*(tK-f.RefK) - f.GainWm2 }

// through gives u and in of an element group's heat out of its cells per area, u·(cell − RefK) − in.
func through(halfWm2K float64, f heat.Film) (u, in float64) {
	switch {
	case math.IsInf(f.HWm2K, 1):
		return halfWm2K, 0
	case math.IsInf(halfWm2K, 1):
		return f.HWm2K, f.GainWm2
	}
	share := halfWm2K / (halfWm2K + f.HWm2K)
	return f.HWm2K * share, f.GainWm2 * share
}
