package heat

import "math"

// Film and surface mean depend on each other. With off(m) the mean that a solve
// with the film at m gives, less m, the film has settled where off = 0: found by
// plain iteration at first, by a secant from then on. A law may jump (a flow that
// turns turbulent); a root at a jump is closed in by halving, and the film is then the
// mixture of both its sides that keeps the surface there.

const (
	meanTolK   = 1e-4 // how well a surface's film must fit its mean, transient
	filmPasses = 40   // bounds the solves of one stage; a step that needs more is too long
	patience   = 8    // passes before a root that is closed in is found by halving
)

// trial is a film that was solved with: taken at meanK, or the mixture with share
// of the film above the jump; offK is what came of it.
type trial struct {
	ok          bool
	meanK, offK float64
	share       float64
	film        Film
}

// hunt is the search for one surface's film.
type hunt struct {
	passes     int
	last       trial
	below      trial // the latest with offK > 0
	above      trial // the latest with offK < 0
	mixing     bool
	share      float64
	cool, warm Film // both sides of the jump
}

// begin starts an iteration at time tS from the means that cells at tK would
// have under the films now known, and takes the films there.
func (b *boundary) begin(tK []float64, tS float64) error {
	for i := range b.film {
		b.hunts[i] = hunt{}
		b.mean[i] = b.meanOf(i, tK, b.film[i])
		f, err := b.take(i, b.mean[i], tS)
		if err != nil {
			return err
		}
		b.film[i] = f
	}
	return nil
}

// review looks at the solution x: are the films in it those of its own surface
// means, to tolK? If not, it takes new films for another solve. rateS is 1/(h·d),
// which turns capacity into conductance (0 at rest). worst is the surface furthest off.
func (b *boundary) review(x []float64, tS, rateS, tolK float64) (settled bool, worst int, offK float64, err error) {
	settled, worst = true, -1
	for i := range b.film {
		h := &b.hunts[i]
		m1 := b.meanOf(i, x, b.film[i])
		now := trial{true, b.mean[i], m1 - b.mean[i], h.share, b.film[i]}
		if h.mixing {
			if math.Abs(now.offK) <= 10*tolK {
				continue
			}
		} else {
			f1, err := b.take(i, m1, tS)
			if err != nil {
				return false, i, math.Inf(1), err
			}
			if f1 == now.film || math.Abs(now.offK) <= tolK || b.moves(i, now.film, f1, m1, rateS) <= tolK {
				continue
			}
		}
		settled = false
		if math.Abs(now.offK) > offK {
			worst, offK = i, math.Abs(now.offK)
		}
		next := h.next(now, tolK)
		if h.mixing {
			b.mean[i], b.film[i] = next, mixture(h.cool, h.warm, h.share)
			continue
		}
		f, err := b.take(i, next, tS)
		if err != nil {
			return false, i, math.Inf(1), err
		}
		b.mean[i], b.film[i] = next, f
	}
	return settled, worst, offK, nil
}

// next gives the mean to take the next film at, or sets mixing and share.
func (h *hunt) next(now trial, tolK float64) float64 {
	last := h.last
	h.last = now
	if now.offK > 0 {
		h.below = now
	} else {
		h.above = now
	}
	lo, hi := &h.below, &h.above
	if h.mixing && hi.share-lo.share > 1e-6 {
		h.share = lo.share + (hi.share-lo.share)*lo.offK/(lo.offK-hi.offK)
		return now.meanK
	}
	h.passes++
	both, width := lo.ok && hi.ok, hi.meanK-lo.meanK
	closed := both && width > 0 && !h.mixing
	if closed && width > tolK && (h.passes > patience || jump(lo, hi)) {
		return lo.meanK + width/2
	}
	if closed && jump(lo, hi) {
		h.mixing, h.cool, h.warm = true, lo.film, hi.film
		lo.share, hi.share = 0, 1
		h.share = lo.offK / (lo.offK - hi.offK)
		return lo.meanK + h.share*width
	}
	if h.mixing || (both && width <= tolK) {
		// other surfaces have moved what was known
		*h = hunt{last: now}
	}
	slope := -1.0 // plain iteration
	if last.ok && last.meanK != now.meanK {
		s := (now.offK - last.offK) / (now.meanK - last.meanK)
		// other slopes come from other surfaces' moves
		if s < -0.3 && s > -30 {
			slope = s
		}
	}
	return now.meanK - now.offK/slope
}

// jump tells whether the law between two trials on either side of the root is much
// steeper than its film.
func jump(lo, hi *trial) bool {
	if lo.film.held() || hi.film.held() {
		return true
	}
	width := hi.meanK - lo.meanK
	dq := math.Abs(hi.film.flux(lo.meanK) - lo.film.flux(lo.meanK))
	return dq > 30*width*math.Max(lo.film.HWm2K, hi.film.HWm2K)
}

// mixture is the film whose flux is share of hi's and the rest of lo's. One of
// them holding the surface leaves nothing to mix.
func mixture(lo, hi Film, share float64) Film {
	if lo.held() || hi.held() {
		if share < 0.5 {
			return lo
		}
		return hi
	}
	h0, h1 := (1-share)*lo.HWm2K, share*hi.HWm2K
	f := Film{HWm2K: h0 + h1, RefK: hi.RefK, GainWm2: (1-share)*lo.GainWm2 + share*hi.GainWm2}
	if f.HWm2K > 0 {
		f.RefK = (h0*lo.RefK + h1*hi.RefK) / f.HWm2K
	}
	return f
}

// moves bounds how far the mean of surface i would still move, K, if the film f1 at
// its new mean m1 took the place of the film f0 it was solved with: the difference
// in flux, over film and cell capacity, plus the drop over the half cell. Conduction
// sideways only makes it less. At rest there is no such bound.
func (b *boundary) moves(i int, f0, f1 Film, m1, rateS float64) float64 {
	if f0.held() || f1.held() || rateS == 0 {
		return math.Inf(1)
	}
	dq := math.Abs(f1.flux(m1) - f0.flux(m1))
	return dq * (1/(math.Min(f0.HWm2K, f1.HWm2K)+b.capJ[i]*rateS/b.area[i]) + b.area[i]/b.half[i])
}
