package curve

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
)

// Switch is a moment at which the power was switched.
type Switch struct {
	On                          bool // else off: the device stopped
	AtS                         Estimate
	SlopeBeforeKS, SlopeAfterKS float64
}

const (
	kinkSD    = 12.0 // a kink is this many standard deviations of the difference of the two slopes
	kinkK     = 0.3  // and moves the temperature by at least this within the readings looked at
	turnShare = 0.3  // the slope before is less than this share of the one after
)

// Switches finds where the power was switched on and off, in order: kinks of the curve after which it warms (or cools) and before which
// it did not. A curve that is already warming at its first reading has no switch-on in it. Fails on readings that are not clean.
//
// Two straight lines are laid beside each moment, over 4 to 64 readings each. The moment itself comes from a level line that turns into
// a parabola there, and its interval from how much worse other moments fit.
func Switches(s Samples) ([]Switch, error) {
	if err := s.check("probe"); err != nil {
		return nil, err
	}
	n := s.Len()
	if n < 3*minReadings/2 {
		return nil, fmt.Errorf("%d readings are too few to see a switch", n)
	}
	unrest := (&cleaner{v: s.TK}).unrestK()
	unrest = math.Max(math.Max(unrest, resolutionK(s.TK)/math.Sqrt(12)), floorK)
	// Errors of neighbours are alike; the slopes' spread grows by √((1+r)/(1-r)), r from the unrest left in the first differences.
	widen := widening(s.TK, unrest)

	type kink struct {
		score, before, after float64
		m                    int
	}
	best := make([]kink, n)
	near := make([]kink, n) // with the fewest readings that show it: they place it best, the curve bends soon after
	for m := 4; m <= 64 && 2*m <= n; m *= 2 {
		for i := m - 1; i+m < n; i++ {
			// The reading at i belongs to both sides: a kink is continuous.
			lt, lv, rt, rv := s.TimeS[i-m+1:i+1], s.TK[i-m+1:i+1], s.TimeS[i:i+m+1], s.TK[i:i+m+1]
			bl, br := slope(lt, lv), slope(rt, rv)
			sd := widen * unrest * math.Hypot(1/math.Sqrt(spread(lt)), 1/math.Sqrt(spread(rt)))
			score := math.Abs(br-bl) / sd
			turns := bl*br <= 0 || math.Abs(bl) < turnShare*math.Abs(br)
			if turns && score > kinkSD && math.Abs(br)*(rt[m]-rt[0]) > math.Max(kinkK, 4*unrest) {
				k := kink{score, bl, br, m}
				if score > best[i].score {
					best[i] = k
				}
				if near[i].m == 0 {
					near[i] = k
				}
			}
		}
	}
	var found []Switch
	for i := 0; i < n; {
		if best[i].score == 0 {
			i++
			continue
		}
		// A run of neighbours that turn the same way is one kink.
		top, j, lastHit := i, i, i
		for ; j < n && j-lastHit <= best[lastHit].m; j++ {
			if best[j].score == 0 {
				continue
			}
			if (best[j].after > 0) != (best[i].after > 0) {
				break
			}
			lastHit = j
			if best[j].score > best[top].score {
				top = j
			}
		}
		k, place := best[top], top
		for l := max(i, top-k.m); l < min(j, top+k.m+1); l++ {
			if q := near[l]; q.m > 0 && (q.m < near[place].m || q.m == near[place].m && q.score > near[place].score) {
				place = l
			}
		}
		at := turn(s, place, 2*near[place].m, unrest*widen)
		on := k.after > 0
		if len(found) == 0 || found[len(found)-1].On != on {
			found = append(found, Switch{On: on, AtS: at, SlopeBeforeKS: k.before, SlopeAfterKS: k.after})
		}
		i = j
	}
	return found, nil
}

// spread is Σ(t-mean)².
func spread(t []float64) float64 {
	var m, s float64
	for _, v := range t {
		m += v / float64(len(t))
	}
	for _, v := range t {
		s += (v - m) * (v - m)
	}
	return s
}

// widening is √((1+r)/(1-r)) for the correlation r of neighbouring errors, seen as the readings about the median of 31.
func widening(v []float64, unrest float64) float64 {
	const half = 15
	if len(v) < 4*half {
		return 1
	}
	var prev, xx, xy float64
	for i := half; i+half < len(v); i++ {
		d := v[i] - median(v[i-half:i+half+1])
		d = math.Max(-5*unrest, math.Min(5*unrest, d)) // corners are not errors
		if i > half {
			xy += d * prev
		}
		xx += d * d
		prev = d
	}
	if xx == 0 {
		return 1
	}
	r := math.Max(0, math.Min(0.9, xy/xx))
	return math.Sqrt((1 + r) / (1 - r))
}

// turn places the kink near reading i: v = a + b t before t₀, a + b t + c(t-t₀) + d(t-t₀)² after, least squares over m readings each
// side, t₀ on a fine grid. The 90 % interval is where χ² is within 2.71 of its least.
func turn(s Samples, i, m int, sdK float64) Estimate {
	lo, hi := max(0, i-m), min(s.Len()-1, i+m)
	t, v := s.TimeS[lo:hi+1], s.TK[lo:hi+1]
	first, last := s.TimeS[max(lo+2, i-m/2-2)], s.TimeS[min(hi-3, i+m/2+2)]
	const fine = 400
	cost := make([]float64, fine+1)
	best := 0
	x := make([][4]float64, len(t))
	for k := range cost {
		t0 := first + (last-first)*float64(k)/fine
		span := t[len(t)-1] - t[0]
		for j, tj := range t {
			u, w := (tj-t0)/span, 0.0
			if u > 0 {
				w = u
			}
			x[j] = [4]float64{1, u, w, w * w}
		}
		cost[k] = squaresLeft(x, v) / (sdK * sdK)
		if cost[k] < cost[best] {
			best = k
		}
	}
	const chi90 = 2.706 // χ², one degree of freedom, 90 %
	// Where the lines do not fit the noise they were credited with (a bend), the noise is what they leave.
	scale := math.Max(1, cost[best]/float64(len(t)-5))
	e := Estimate{Lo: math.Inf(1), Hi: math.Inf(-1), Mid: first + (last-first)*float64(best)/fine}
	for k, c := range cost {
		if c <= cost[best]+chi90*scale {
			at := first + (last-first)*float64(k)/fine
			e.Lo, e.Hi = math.Min(e.Lo, at), math.Max(e.Hi, at)
		}
	}
	// The bend right after the kink is not quite a parabola: nothing is credited with better than half a reading's step either way.
	half := (t[len(t)-1] - t[0]) / float64(len(t)-1) / 2
	e.Lo, e.Hi = math.Min(e.Lo, e.Mid-half), math.Max(e.Hi, e.Mid+half)
	return e
}

// squaresLeft is the least sum of squares of v - Xβ, by Gram-Schmidt on the columns.
func squaresLeft(x [][4]float64, v []float64) float64 {
	r := append([]float64(nil), v...)
	for i := range r { // the level first, for the numbers' sake
		r[i] -= v[0]
	}
	var q [4][]float64
	for c := range q {
		col := make([]float64, len(x))
		for i := range x {
			col[i] = x[i][c]
		}
		before := floats.Dot(col, col)
		for _, p := range q[:c] {
			f := floats.Dot(p, col)
			for i := range col {
				col[i] -= f * p[i]
			}
		}
		norm := floats.Dot(col, col)
		if norm > 1e-10*before && norm > 0 {
			f := 1 / math.Sqrt(norm)
			for i := range col {
				col[i] *= f
			}
		} else {
			clear(col) // the column says nothing new
		}
		f := floats.Dot(col, r)
		for i := range r {
			r[i] -= f * col[i]
		}
		q[c] = col
	}
	return floats.Dot(r, r)
}
