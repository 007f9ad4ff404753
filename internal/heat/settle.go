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
// not look at others. A jump in a surface's own mean is then looked for in its law,
// and the share of the mixture takes the place of its mean in the secant.

const (
	filmPasses  = 40 // bounds the solves of one stage; a step that needs more is too long
	stallPasses = 2  // passes without gain before a jump is looked for in films that look at others
	mixedTol    = 10 // times the tolerance for a mixture
	patience    = 8  // passes before a root that is closed in is found by halving
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
	// looking at others: where these are, and the off that the whole jump makes
	coolK, warmK, scaleK float64
}

// begin starts an iteration at time tS from the means that cells at tK would
// have under the films now known, and takes the films there.
func (b *boundary) begin(tK []float64, tS float64) error {
	b.secants.Reset()
	b.bestK, b.stalled = math.Inf(1), 0
	for i := range b.film {
		b.hunts[i] = hunt{}
	}
	b.remean(tK)
	if err := b.takeAll(tS); err != nil || !b.joint {
		return err
	}
	// what surfaces show each other depends on the films as well
	for far, last := b.remean(tK), math.Inf(1); far > b.tolK/10 && far < 0.5*last; last, far = far, b.remean(tK) {
		if err := b.takeAll(tS); err != nil {
			return err
		}
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
	crossK := tolK
	for i := range b.film {
		b.found[i] = b.meanOf(i, x, b.film[i])
		if b.hunts[i].mixing {
			crossK = mixedTol * tolK // others need not know it better
		}
	}
	for i := range b.film {
		off := math.Abs(b.found[i] - b.mean[i])
		ok, err := b.fits(i, off, tS, rateS, tolK, crossK)
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
		err = b.together(offK, tS, tolK)
	} else {
		for i := range b.film {
			if h := &b.hunts[i]; b.open[i] {
				b.mean[i] = h.next(trial{true, b.mean[i], b.found[i] - b.mean[i], h.share, b.film[i]}, tolK)
			}
		}
	}
	bad := worst
	if err == nil {
		bad, err = b.retake(tS)
	}
	if err != nil && b.joint {
		// a secant may lead to where a law has no film
		b.secants.Reset()
		copy(b.mean, b.found)
		clear(b.hunts)
		bad, err = b.retake(tS)
	}
	if err != nil {
		return false, bad, math.Inf(1), err
	}
	return false, worst, offK, nil
}

// together gives all surfaces their next mean, or share of a mixture, by one secant.
func (b *boundary) together(offK, tS, tolK float64) error {
	if b.stalled++; offK < 0.5*b.bestK {
		b.bestK, b.stalled = offK, 0
	}
	same := true // what the secant is for
	for i := range b.film {
		h, off := &b.hunts[i], b.found[i]-b.mean[i]
		if h.mixing {
			b.at[i] = h.share * h.scaleK
			b.next[i] = b.at[i] + off
			f0, err := b.takeAt(i, b.found, h.coolK, tS)
			if err != nil {
				return err
			}
			f1, err := b.takeAt(i, b.found, h.warmK, tS)
			if err != nil {
				return err
			}
			h.cool, h.warm = f0, f1
			// a jump that has gone, or that the surface leaves
			if f0 == f1 || (h.share == 0 && off < 0) || (h.share == 1 && off > 0) {
				*h, same = hunt{}, false
			}
			continue
		}
		b.at[i], b.next[i] = b.mean[i], b.found[i]
		if b.open[i] && off > 0 {
			h.below = trial{ok: true, meanK: b.mean[i], offK: off}
		} else if b.open[i] {
			h.above = trial{ok: true, meanK: b.mean[i], offK: off}
		}
		if b.open[i] && b.stalled > stallPasses && h.below.ok && h.above.ok {
			found, err := b.seekJump(i, tS, tolK)
			if err != nil {
				return err
			}
			same = same && !found
		}
	}
	if same {
		b.secants.Next(b.next, b.at, b.next)
	} else {
		b.secants.Reset()
	}
	for i := range b.film {
		h := &b.hunts[i]
		switch {
		case !h.mixing && same:
			b.mean[i] = b.next[i]
		case !h.mixing:
			b.mean[i] = b.found[i]
		case same:
			h.share = min(max(b.next[i]/h.scaleK, 0), 1)
		}
	}
	return nil
}

// seekJump looks between the latest trials on both sides of the root of surface i
// for a jump of its law, the other surfaces as they are, and has the surface rest on it.
func (b *boundary) seekJump(i int, tS, tolK float64) (bool, error) {
	h := &b.hunts[i]
	scaleK := h.below.offK - h.above.offK
	lo, hi := h.below.meanK, h.above.meanK
	if lo > hi {
		h.below, h.above = trial{}, trial{} // others' moves have made them
		return false, nil
	}
	f0, err := b.takeAt(i, b.found, lo, tS)
	if err != nil {
		return false, err
	}
	f1, err := b.takeAt(i, b.found, hi, tS)
	if err != nil {
		return false, err
	}
	for hi-lo > 1e-3*tolK {
		m := lo + (hi-lo)/2
		f, err := b.takeAt(i, b.found, m, tS)
		if err != nil {
			return false, err
		}
		if apart(f0, f, m) > apart(f, f1, m) {
			hi, f1 = m, f
		} else {
			lo, f0 = m, f
		}
		if m == lo && m == hi {
			break
		}
	}
	if !jump(&trial{meanK: lo, film: f0}, &trial{meanK: hi, film: f1}) {
		return false, nil
	}
	*h = hunt{mixing: true, share: 0.5, scaleK: scaleK, coolK: lo, warmK: hi, cool: f0, warm: f1}
	b.found[i] = lo // where it rests, and is seen
	b.mean[i] = lo
	return true, nil
}

// apart is the difference in flux of two films, W/m²; without end where just one
// holds the surface.
func apart(f0, f1 Film, tK float64) float64 {
	switch {
	case f0.held() && f1.held():
		return math.Abs(f1.RefK - f0.RefK)
	case f0.held() || f1.held():
		return math.Inf(1)
	}
	return math.Abs(f1.flux(tK) - f0.flux(tK))
}

// retake takes the next films: of the surfaces that have not settled, or of all
// where they look at each other. On an error bad is the surface.
func (b *boundary) retake(tS float64) (bad int, err error) {
	for i := range b.film {
		h := &b.hunts[i]
		switch {
		case h.mixing:
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
// from it; crossK is what the others' moves may do to it.
func (b *boundary) fits(i int, off, tS, rateS, tolK, crossK float64) (bool, error) {
	if b.hunts[i].mixing {
		return off <= mixedTol*tolK, nil
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
	return off <= tolK && (own == f1 || b.moves(i, own, f1, m1, rateS) <= crossK), nil
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
// tolerance only. The equations rhs are then made to hold in sum again (groups as in
// closeSums); rhs nil leaves x alone.
func (b *boundary) agree(x, rhs []float64, group []int32, groups int, tS, rateS, tolK float64) error {
	if !b.joint {
		return nil
	}
	// While films change, only the touched cells' equations do: what the others leave
	// in sum follows from their shift.
	single := rhs != nil && group == nil && !b.canHold
	var restW, restWK, movedK float64
	if single {
		b.argX, b.argRhs = x, rhs
		restW, restWK = b.all.sum(b.sumPass)
		w, wK := b.touchedRows(x, rhs)
		restW, restWK = restW-w, restWK-wK
	}
	move := func(d float64) { // all cells that are not held
		if !single {
			b.shift(x, d)
			return
		}
		restW -= d * restWK
		movedK += d
		b.shiftTouched(x, d)
	}
	const exactK, rounds = 1e-10, 40
	before := 0.0
	for range rounds {
		if b.remean(x) <= exactK {
			break
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
		if rhs == nil {
			continue
		}
		if err := b.impose(rhs, x); err != nil {
			return err
		}
		var shift float64
		if single {
			w, wK := b.touchedRows(x, rhs)
			shift = (restW + w) / (restWK + wK)
			move(shift)
		} else if !b.closeSums(x, rhs, group, groups) {
			return errNotFinite
		} else {
			shift = b.groupSum[0]
		}
		if !finite(shift) {
			return errNotFinite
		}
		if group != nil {
			continue
		}
		// Where all move together what they give each other stays: the shifts are
		// the more alike, the longer the step, and their sum is that of a geometric series.
		if r := shift / before; before != 0 && r > 0 && r < 1-1e-6 {
			move(shift * r / (1 - r))
			shift = 0
		}
		before = shift
	}
	if movedK != 0 {
		b.shiftTouched(x, -movedK)
		b.shift(x, movedK)
	}
	return nil
}

// touchedRows is sumRows over the touched cells.
func (b *boundary) touchedRows(x, rhs []float64) (w, wK float64) {
	for _, c := range b.touched {
		w += rhs[c] - b.op.Diag[c]*x[c]
		wK += b.op.Diag[c]
	}
	return w, wK
}

func (b *boundary) shiftTouched(x []float64, d float64) {
	for _, c := range b.touched {
		x[c] += d
	}
}

// remean sets the means to those of x under the films and tells how far one moved.
func (b *boundary) remean(x []float64) (farK float64) {
	for i := range b.film {
		m := b.meanOf(i, x, b.film[i])
		farK, b.mean[i] = math.Max(farK, math.Abs(m-b.mean[i])), m
	}
	return farK
}
