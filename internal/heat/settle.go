package heat

import "math"

// Film and surface mean depend on each other. With off(m) the mean that a solve
// with the film at m gives, less m, the film has settled where off = 0: found by
// plain iteration at first, by a secant from then on. A law may jump (a flow that
// turns turbulent); a root at a jump is closed in by halving, and the film is then the
// mixture of both its sides that keeps the surface there.
//
// Where a film also depends on other surfaces' means (radiation between them, air
// that one has warmed for the next) off and m are vectors, and the secant is one for
// all surfaces (Secants): plain iteration gains only the part of a film that does
// not look at others. Jumps in a surface's own mean are closed in as before.

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
	b.secants.Reset()
	for i := range b.film {
		b.hunts[i] = hunt{}
		b.mean[i] = b.meanOf(i, tK, b.film[i])
	}
	return b.takeAll(tS)
}

// takeAll takes every film at the means.
func (b *boundary) takeAll(tS float64) error {
	for i := range b.film {
		f, err := b.take(i, b.mean, tS)
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
		b.found[i] = b.meanOf(i, x, b.film[i])
	}
	for i := range b.film {
		off := math.Abs(b.found[i] - b.mean[i])
		ok, err := b.fits(i, off, tS, rateS, tolK)
		if err != nil {
			return false, i, math.Inf(1), err
		}
		b.open[i] = !ok
		if !ok && (settled || off > offK) {
			settled, worst, offK = false, i, off
		}
	}
	if settled {
		return true, worst, offK, nil
	}
	if b.joint {
		b.secants.Next(b.next, b.mean, b.found)
	}
	for i := range b.film {
		h := &b.hunts[i]
		switch {
		case b.open[i]:
			now := trial{true, b.mean[i], b.found[i] - b.mean[i], h.share, b.film[i]}
			if b.looks[i] {
				if err := b.renew(i, tS); err != nil {
					return false, i, math.Inf(1), err
				}
			}
			next, closing := h.next(now, tolK)
			if closing || !b.joint {
				b.next[i] = next
			}
		case !b.joint || h.mixing:
			b.next[i] = b.mean[i]
		}
	}
	copy(b.mean, b.next)
	bad, err := b.retake(tS)
	if err != nil && b.joint {
		// a secant may lead to where a law has no film
		b.secants.Reset()
		copy(b.mean, b.found)
		bad, err = b.retake(tS)
	}
	if err != nil {
		return false, bad, math.Inf(1), err
	}
	return false, worst, offK, nil
}

// retake takes the next films: of the surfaces that have not settled, or of all
// where they look at each other. On an error bad is the surface.
func (b *boundary) retake(tS float64) (bad int, err error) {
	for i := range b.film {
		h := &b.hunts[i]
		switch {
		case h.mixing && b.open[i]:
			b.film[i] = mixture(h.cool, h.warm, h.share)
		case !h.mixing && (b.open[i] || b.joint):
			f, err := b.take(i, b.mean, tS)
			if err != nil {
				return i, err
			}
			b.film[i] = f
		}
	}
	return -1, nil
}

// fits tells whether the film of surface i, taken at mean, will do at found, off
// from it.
func (b *boundary) fits(i int, off, tS, rateS, tolK float64) (bool, error) {
	if b.hunts[i].mixing {
		return off <= 10*tolK, nil
	}
	f0, m1 := b.film[i], b.found[i]
	f1, err := b.take(i, b.found, tS)
	if err != nil || f1 == f0 {
		return true, err
	}
	own, err := b.takeAt(i, b.mean, m1, tS) // had the others stayed
	if err != nil {
		return false, err
	}
	if own != f1 {
		b.looks[i], b.joint = true, true
	}
	if rateS > 0 && b.moves(i, f0, f1, m1, rateS) <= tolK {
		return true, nil
	}
	return off <= tolK && (own == f1 || b.moves(i, own, f1, m1, rateS) <= tolK), nil
}

// renew asks again for the films between which a jump is closed in, with the other
// surfaces where they are now. What was no jump but their doing is forgotten.
func (b *boundary) renew(i int, tS float64) error {
	h := &b.hunts[i]
	lo, hi := &h.below, &h.above
	if !lo.ok || !hi.ok {
		return nil
	}
	for _, t := range [...]*trial{lo, hi} {
		f, err := b.takeAt(i, b.found, t.meanK, tS)
		if err != nil {
			return err
		}
		t.film = f
	}
	switch {
	case h.mixing:
		h.cool, h.warm = lo.film, hi.film
	case !(hi.meanK > lo.meanK) || !jump(lo, hi):
		*h = hunt{last: h.last}
	}
	return nil
}

// next gives the mean to take the next film at, or sets mixing and share; closing
// tells that it closes in on a jump or halves.
func (h *hunt) next(now trial, tolK float64) (meanK float64, closing bool) {
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
		return now.meanK, true
	}
	h.passes++
	both, width := lo.ok && hi.ok, hi.meanK-lo.meanK
	closed := both && width > 0 && !h.mixing
	if closed && width > tolK && (h.passes > patience || jump(lo, hi)) {
		return lo.meanK + width/2, true
	}
	if closed && jump(lo, hi) {
		h.mixing, h.cool, h.warm = true, lo.film, hi.film
		lo.share, hi.share = 0, 1
		h.share = lo.offK / (lo.offK - hi.offK)
		return lo.meanK + h.share*width, true
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
	return now.meanK - now.offK/slope, false
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
// its new mean m1 took the place of f0: the difference in flux, over film and cell
// capacity, plus the drop over the half cell. Conduction sideways only makes it less.
func (b *boundary) moves(i int, f0, f1 Film, m1, rateS float64) float64 {
	if f0.held() || f1.held() {
		if f0.held() && f1.held() {
			return math.Abs(f1.RefK - f0.RefK)
		}
		return math.Inf(1)
	}
	dq := math.Abs(f1.flux(m1) - f0.flux(m1))
	return dq * (1/(math.Min(f0.HWm2K, f1.HWm2K)+b.capJ[i]*rateS/b.area[i]) + b.area[i]/b.half[i])
}

// agree lets the films of surfaces that look at others be exactly those of the
// means in the settled solution x, so that what two surfaces give each other
// cancels to rounding: their films were taken at means that are right to the
// tolerance only. close makes the equations hold in sum under new films, by a shift
// of x; nil leaves x alone.
func (b *boundary) agree(x []float64, tS, rateS, tolK float64, close func() error) error {
	if !b.joint {
		return nil
	}
	const exactK, rounds = 1e-10, 8
	for range rounds {
		far := 0.0
		for i := range b.film {
			m := b.meanOf(i, x, b.film[i])
			far, b.mean[i] = math.Max(far, math.Abs(m-b.mean[i])), m
		}
		if far <= exactK {
			return nil
		}
		for i, f0 := range b.film {
			if !b.looks[i] || b.hunts[i].mixing {
				continue
			}
			f1, err := b.take(i, b.mean, tS)
			if err != nil {
				return err
			}
			// a jump within the tolerance stays on its side
			if b.moves(i, f0, f1, b.mean[i], rateS) <= 10*tolK {
				b.film[i] = f1
			}
		}
		if close != nil {
			if err := close(); err != nil {
				return err
			}
		}
	}
	return nil
}
