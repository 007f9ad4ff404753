package curve

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// WarmingOptions say which part of a series to fit and what is known of the probes. The zero value takes all readings and exact probes.
type WarmingOptions struct {
	// FromS..ToS is the part with the power on and unchanged: from switch-on to stop, see Switches. A zero ToS means to the last reading.
	FromS, ToS float64
	// ProbeErrorK and RoomErrorK are the half widths (90 %) of an error that is the same in every reading, such as a thermocouple's
	// tolerance: it does not average out.
	ProbeErrorK, RoomErrorK float64
	Seed                    uint64
}

// Draw is one curve that fits, out of the posterior distribution:
//
//	reading(t) = SteadyK + (room felt at t - RoomK of the fit) - SlowK exp(-(t-StartS)/TauS) - FastK exp(-(t-StartS)/FastTauS)
//
// ProbeErrorK and RoomErrorK are what the two probes read too high in it.
type Draw struct {
	TauS, FastTauS          float64 // FastTauS is zero with one exponential
	SteadyK, SlowK, FastK   float64
	ProbeErrorK, RoomErrorK float64
}

// Fit is what a curve says about the body that made it. Intervals are those of the chosen number of exponentials, or over both with
// their probabilities when the choice is not clear (odds below 2).
type Fit struct {
	StartS, EndS float64 // part used
	Readings     int
	RoomK        float64 // room temperature that SteadyK is for: the last of the part used; NaN when the room is not known
	Exponentials int     // the likelier number, 1 or 2
	Probability  float64 // of that number, both being equally likely beforehand
	TauS         Estimate
	FastTauS     Estimate // of the quick part; refused with one exponential
	SteadyK      Estimate // temperature it comes to, room at RoomK
	RiseK        Estimate // SteadyK over the room; refused without room
	SeenShare    Estimate // share of the whole change that had happened by EndS
	NoiseK       float64  // standard deviation of a reading (of a mean of BlockReadings of them)
	// Likeness is the correlation of the errors of neighbouring readings (means), 0..1.
	Likeness      float64
	BlockReadings int // this many readings were averaged into one before the fit
	StepK         float64
	Draws         []Draw
}

const (
	maxBlocks   = 180
	minReadings = 8
	// Before the readings, the slow time constant of a hand-sized thing in air is 4 to 100 min (90 %, log-normal): 50 to 400 J/K over
	// 0.06 to 0.5 W/K and some to spare. Our own choice. It matters only where the curve is cut so early that it looks straight; there
	// it keeps the interval from running off to infinity. An estimate that is not much narrower than this is refused: see usefulRatio.
	tauMidS, tauFactor = 1200, 5
	tauReach           = 50 // the grid goes to tauMidS times and divided by this, 2.4 half widths
	// usefulRatio is the widest Hi/Lo of a time constant that is worth saying; the prior's own is 25.
	usefulRatio = 8
	// tauApart is how far apart two time constants must be to be two.
	tauApart = 1.5
	// maxFastShare is how much of the change the quick part may be. Beyond, the slow one would be a small tail nobody can see.
	maxFastShare = 0.8
	// clearOdds is how much likelier one number of exponentials must be than the other to be taken alone.
	clearOdds = 2
	drawCount = 4000
	// keepLog: cells less likely than the best by this (in log) are left out, 4.2 standard deviations.
	keepLog = 9.0
	// floorK is the least error a reading is credited with.
	floorK = 1e-3
)

// blocks are readings averaged over equal times, so that at most maxBlocks are left.
type blocks struct {
	t, y  []float64
	count []int
	stepS []float64 // between the readings of a block
	usual float64   // between blocks
	per   int
}

func newBlocks(s Samples) blocks {
	n := s.Len()
	var b blocks
	if n <= maxBlocks {
		b.per = 1
		b.t, b.y = slices.Clone(s.TimeS), slices.Clone(s.TK)
		b.count, b.stepS = make([]int, n), make([]float64, n)
		for i := range n {
			b.count[i] = 1
		}
	} else {
		b.per = (n + maxBlocks - 1) / maxBlocks
		d := make([]float64, n-1)
		for i := range d {
			d[i] = s.TimeS[i+1] - s.TimeS[i]
		}
		width := median(d) * float64(b.per)
		for i := 0; i < n; {
			j := i
			var t, y float64
			for j < n && j-i < b.per && s.TimeS[j] < s.TimeS[i]+width*1.001 {
				t += s.TimeS[j]
				y += s.TK[j]
				j++
			}
			m := float64(j - i)
			// A block with less than half its readings (at a gap, at the end) would have another error than the rest.
			if 2*(j-i) >= b.per {
				step := 0.0
				if j-i > 1 {
					step = (s.TimeS[j-1] - s.TimeS[i]) / (m - 1)
				}
				b.t, b.y = append(b.t, t/m), append(b.y, y/m)
				b.count, b.stepS = append(b.count, j-i), append(b.stepS, step)
			}
			i = j
		}
	}
	d := make([]float64, 0, len(b.t))
	for i := 1; i < len(b.t); i++ {
		d = append(d, b.t[i]-b.t[i-1])
	}
	b.usual = median(d)
	return b
}

// decay is exp(-(t-t₀)/τ) as the blocks see it. The mean of n values a step δ apart is the middle one times sinh(nδ/2τ)/(n sinh(δ/2τ)).
func (b blocks) decay(t0S, tauS float64, dst []float64) {
	for i, t := range b.t {
		dst[i] = math.Exp(-(t - t0S) / tauS)
		if b.count[i] > 1 {
			n := float64(b.count[i])
			x := b.stepS[i] / (2 * tauS)
			dst[i] *= math.Sinh(n*x) / (n * math.Sinh(x))
		}
	}
}

// axis is a grid of cells between lo and hi.
type axis struct {
	lo, hi float64
	n      int
}

func (a axis) width() float64    { return (a.hi - a.lo) / float64(a.n) }
func (a axis) mid(i int) float64 { return a.lo + (float64(i)+0.5)*a.width() }
func (a axis) zoom(i, j, n int) axis { // cells i..j and one more on each side
	w := a.width()
	return axis{math.Max(a.lo, a.lo+float64(i-1)*w), math.Min(a.hi, a.lo+float64(j+2)*w), n}
}

// region is the part of the nonlinear unknowns looked at: log of the slow and the fast time constant, and the fast share's place
// between its least and greatest possible value.
type region struct {
	slow, fast, share axis
}

// cell is one point of the grid with its weight and what is needed to draw the linear unknowns there.
type cell struct {
	kind             int // noise
	i, j, k          int // of slow, fast, share
	logW             float64
	c, a             float64 // least-squares level and change
	s                float64 // sum of squares left
	g11, g12, g22    float64 // normal matrix
	tau, fast, share float64
}

// draw takes level and change from their posterior given the cell and n readings: σ² ~ S/χ²(n-2) and (c, a) ~ N(best, σ²G⁻¹), the
// latter with the Cholesky factor of G: Lᵀx = z.
func (c cell) draw(n int, rng *rand.Rand) (level, change float64) {
	chi2 := 0.0
	for range n - 2 {
		z := rng.NormFloat64()
		chi2 += z * z
	}
	sigma := math.Sqrt(c.s / chi2)
	l11 := math.Sqrt(c.g11)
	l21 := c.g12 / l11
	l22 := math.Sqrt(c.g22 - l21*l21)
	xa := rng.NormFloat64() / l22
	xc := (rng.NormFloat64() - l21*xa) / l11
	return c.c + sigma*xc, c.a + sigma*xa
}

// problem is one fit.
type problem struct {
	b            blocks
	room         Samples
	roomK, baseK float64
	t0S          float64
	tauLo, tauHi float64
}

// Warming fits one and two exponentials to the part of the series with unchanged power, and says how sure the result is.
//
// The unknowns that enter linearly (level and change, scale of the error) are integrated out in closed form; time constants, share
// of the quick part and kind of error are gone through on a grid that closes in on where the weight is. Before the data: time
// constants and changes equally likely on a log scale, share evenly spread over what warms without first cooling, one and two
// exponentials equally likely. Two are thus chosen only when they explain more than their freedom would (the evidence; BIC is its
// approximation for many readings).
//
// It fails on fewer than 8 readings, readings that are not clean, and when nothing but noise is seen.
func Warming(s Series, opt WarmingOptions) (*Fit, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	if !(opt.ProbeErrorK >= 0) || !(opt.RoomErrorK >= 0) || math.IsInf(opt.ProbeErrorK+opt.RoomErrorK, 0) {
		return nil, fmt.Errorf("probe error %g K and room error %g K must be zero or positive", opt.ProbeErrorK, opt.RoomErrorK)
	}
	toS := opt.ToS
	if toS == 0 && s.Len() > 0 {
		toS = s.TimeS[s.Len()-1]
	}
	part := s.between(opt.FromS, toS)
	if part.Len() < minReadings {
		return nil, fmt.Errorf("only %d readings from %.0f s to %.0f s: a curve needs at least %d", part.Len(), opt.FromS, toS, minReadings)
	}
	p := &problem{b: newBlocks(part), room: s.Room, roomK: math.NaN(), t0S: part.TimeS[0]}
	f := &Fit{StartS: p.t0S, EndS: part.TimeS[part.Len()-1], Readings: part.Len(), BlockReadings: p.b.per, StepK: resolutionK(part.TK)}
	if s.Room.Len() > 0 {
		p.roomK = s.Room.at(f.EndS)
	}
	f.RoomK = p.roomK
	for _, y := range p.b.y {
		p.baseK += y / float64(len(p.b.y))
	}
	seenS := f.EndS - f.StartS
	p.tauLo = math.Min(p.b.usual/2, seenS/50)
	p.tauHi = math.Max(tauMidS*tauReach, 3*seenS)

	one, change := p.close(false)
	if change < 16 { // a change of four standard deviations
		return nil, fmt.Errorf("no warming or cooling is seen from %.0f s to %.0f s beyond the readings' own unrest: was the device on, and the probe on it?", f.StartS, f.EndS)
	}
	two, _ := p.close(true)
	p.conclude(f, one, two, opt)
	return f, nil
}

// close goes through the grid three times, each time only where the weight was. It also returns by how much, in squares of standard
// deviations, the change is seen.
func (p *problem) close(two bool) (cells []cell, change float64) {
	r := region{slow: axis{math.Log(math.Max(p.tauLo*tauApart, tauMidS/tauReach)), math.Log(p.tauHi), 40}, fast: axis{0, 1, 1}, share: axis{0, 1, 1}}
	fine := region{slow: axis{n: 100}, fast: axis{n: 1}, share: axis{n: 1}}
	if two {
		r.slow.n, r.fast, r.share = 24, axis{math.Log(p.tauLo), math.Log(p.tauHi / tauApart), 20}, axis{0, 1, 12}
		fine.slow.n, fine.fast.n, fine.share.n = 32, 22, 16
	}
	all := make([]int, len(kinds))
	for i := range all {
		all[i] = i
	}
	const passes = 4
	for pass := range passes {
		keep := keepLog
		if pass == 0 {
			keep = 2 * keepLog // a coarse grid may miss the peak
		}
		cells, change = p.weigh(r, two, all, keep)
		if pass == passes-1 || len(cells) == 0 {
			break
		}
		best := math.Inf(-1)
		lo, hi := [3]int{1 << 30, 1 << 30, 1 << 30}, [3]int{-1, -1, -1}
		likely := make([]float64, len(kinds)) // greatest weight of each kind of noise
		for i := range likely {
			likely[i] = math.Inf(-1)
		}
		for _, c := range cells {
			for d, v := range [3]int{c.i, c.j, c.k} {
				lo[d], hi[d] = min(lo[d], v), max(hi[d], v)
			}
			best = math.Max(best, c.logW)
			likely[c.kind] = math.Max(likely[c.kind], c.logW)
		}
		all = slices.DeleteFunc(all, func(k int) bool { return likely[k] < best-keep/2 })
		r.slow = r.slow.zoom(lo[0], hi[0], fine.slow.n)
		if two {
			r.fast, r.share = r.fast.zoom(lo[1], hi[1], fine.fast.n), r.share.zoom(lo[2], hi[2], fine.share.n)
		}
	}
	return cells, change
}

// weigh gives every cell of the region its weight. With the covariance σ²V of noise kind k, X = [1, e] and y the readings,
//
//	log ∫∫ p(y|c, a, σ) dc da dσ²/σ² = -½ log|V| - ½ log|XᵀV⁻¹X| - (n-2)/2 log S + const
//
// S being the least sum of squares (Box & Tiao, Bayesian Inference in Statistical Analysis, 1973, ch. 2). The prior 1/|a| is put in
// at the best a; conclude corrects each draw for it. Cells less likely than the best by keep are left out.
func (p *problem) weigh(r region, two bool, use []int, keep float64) (cells []cell, change float64) {
	n := len(p.b.t)
	ns, nf, nw := r.slow.n, r.fast.n, r.share.n
	column := func() []float64 { return make([]float64, n) }
	rows := func(m int) [][]float64 {
		a := make([][]float64, m)
		for i := range a {
			a[i] = column()
		}
		return a
	}
	es, slow := rows(ns), rows(ns)
	for i := range es {
		p.b.decay(p.t0S, math.Exp(r.slow.mid(i)), es[i])
	}
	var ef, fast [][]float64
	if two {
		ef, fast = rows(nf), rows(nf)
		for j := range ef {
			p.b.decay(p.t0S, math.Exp(r.fast.mid(j)), ef[j])
		}
	}
	// The room acts on the whole body from outside, through the slow time constant.
	ny := 1
	if p.room.Len() > 1 {
		ny = ns
	}
	ys, y := rows(ny), rows(ny)
	for i := range ys {
		p.room.lagged(p.b.t, math.Exp(r.slow.mid(i)), p.roomK, ys[i])
		for m := range ys[i] {
			ys[i][m] = p.b.y[m] - p.baseK - ys[i][m]
		}
	}
	ones, one := column(), column()
	for i := range ones {
		ones[i] = 1
	}
	bestLog := math.Inf(-1)
	sf, fy := make([]float64, nf), make([]float64, nf)
	g1f, gff := make([]float64, nf), make([]float64, nf)
	for _, kind := range use {
		w := newWhitener(p.b.t, p.b.usual, kinds[kind])
		w.apply(one, ones)
		for i := range es {
			w.apply(slow[i], es[i])
		}
		for i := range ys {
			w.apply(y[i], ys[i])
		}
		g11 := floats.Dot(one, one)
		for j := range ef {
			w.apply(fast[j], ef[j])
			g1f[j], gff[j] = floats.Dot(one, fast[j]), floats.Dot(fast[j], fast[j])
		}
		for i := range ns {
			yi := y[min(i, ny-1)]
			b1, yy := floats.Dot(one, yi), floats.Dot(yi, yi)
			g1s, gss, sy := floats.Dot(one, slow[i]), floats.Dot(slow[i], slow[i]), floats.Dot(slow[i], yi)
			tau := math.Exp(r.slow.mid(i))
			score := func(j, k int, g12, g22, b2, logPrior, tauF, share float64) {
				det := g11*g22 - g12*g12
				if !(det > 1e-12*g11*g22) {
					return
				}
				c := (g22*b1 - g12*b2) / det
				a := (g11*b2 - g12*b1) / det
				s := math.Max(yy-c*b1-a*b2, 0) + float64(n)*floorK*floorK
				logW := -w.halfLogDet - math.Log(det*math.Max(a*a, floorK*floorK))/2 - float64(n-2)/2*math.Log(s) + logPrior
				if logW < bestLog-keep {
					return
				}
				if logW > bestLog {
					bestLog = logW
					change = (yy - b1*b1/g11 - s) / (s / float64(n-2))
				}
				cells = append(cells, cell{kind, i, j, k, logW, c, a, s, g11, g12, g22, tau, tauF, share})
			}
			z := (r.slow.mid(i) - math.Log(tauMidS)) * z90 / math.Log(tauFactor)
			logSlow := math.Log(r.slow.width()) - z*z/2
			if !two {
				score(0, 0, g1s, gss, sy, logSlow, 0, 0)
				continue
			}
			room := r.slow.mid(i) - math.Log(tauApart) - math.Log(p.tauLo) // for log τ of the quick part
			if room <= 0 {
				continue
			}
			for j := range nf {
				if r.fast.mid(j)-math.Log(p.tauLo) > room {
					break
				}
				sf[j], fy[j] = floats.Dot(slow[i], fast[j]), floats.Dot(fast[j], yi)
				tauF := math.Exp(r.fast.mid(j))
				// The least share is that of a part which begins to warm from standstill: (1-w)/τs + w/τf = 0.
				least := -tauF / (tau - tauF)
				logPrior := logSlow + math.Log(r.fast.width()/room*r.share.width())
				for k := range nw {
					wf := least + r.share.mid(k)*(maxFastShare-least)
					ws := 1 - wf
					score(j, k, ws*g1s+wf*g1f[j], ws*ws*gss+2*ws*wf*sf[j]+wf*wf*gff[j], ws*sy+wf*fy[j], logPrior, tauF, wf)
				}
			}
		}
	}
	return slices.DeleteFunc(cells, func(c cell) bool { return c.logW < bestLog-keep }), change
}

// conclude draws curves from the cells' weights and reads the intervals off them.
func (p *problem) conclude(f *Fit, one, two []cell, opt WarmingOptions) {
	n := len(p.b.t)
	best := math.Inf(-1)
	for _, cs := range [][]cell{one, two} {
		for _, c := range cs {
			best = math.Max(best, c.logW)
		}
	}
	sum := func(cs []cell) (total float64) {
		for _, c := range cs {
			total += math.Exp(c.logW - best)
		}
		return total
	}
	sumOne, sumTwo := sum(one), sum(two)
	f.Exponentials, f.Probability = 1, sumOne/(sumOne+sumTwo)
	if sumTwo > sumOne {
		f.Exponentials, f.Probability = 2, sumTwo/(sumOne+sumTwo)
	}
	// Near a tie both speak, each with its weight; else the likelier alone.
	var cells []cell
	if sumOne*clearOdds >= sumTwo {
		cells = append(cells, one...)
	}
	if sumTwo*clearOdds >= sumOne {
		cells = append(cells, two...)
	}
	total := 0.0
	weight := make([]float64, len(cells))
	for i, c := range cells {
		weight[i] = math.Exp(c.logW - best)
		total += weight[i]
		noise := kinds[c.kind]
		f.NoiseK += weight[i] * math.Sqrt(c.s/float64(n-2))
		f.Likeness += weight[i] * (1 - noise.white) * noise.rho
	}
	f.NoiseK /= total
	f.Likeness /= total

	rng := rand.New(rand.NewPCG(opt.Seed, 0x7a3d))
	draws := make([]Draw, 0, drawCount)
	correct := make([]float64, 0, drawCount)
	// Even draws: one point in each of drawCount equal slices of the total weight, at the same place of every slice.
	place, passed, at := rng.Float64(), 0.0, 0
	for m := range drawCount {
		goal := (float64(m) + place) / drawCount * total
		for at < len(cells)-1 && passed+weight[at] < goal {
			passed += weight[at]
			at++
		}
		c := cells[at]
		level, a := c.draw(n, rng)
		d := Draw{TauS: c.tau, FastTauS: c.fast, SteadyK: level + p.baseK, SlowK: -a * (1 - c.share), FastK: -a * c.share}
		if f.StepK > 3*f.NoiseK*math.Sqrt(float64(p.b.per)) {
			// Too quiet for the rounding to average out: the last readings may all be wrong by the same part of a step.
			d.SteadyK += (rng.Float64() - 0.5) * f.StepK
		}
		d.ProbeErrorK = opt.ProbeErrorK / z90 * rng.NormFloat64()
		d.RoomErrorK = opt.RoomErrorK / z90 * rng.NormFloat64()
		draws = append(draws, d)
		correct = append(correct, math.Max(math.Abs(c.a), floorK)/math.Max(math.Abs(a), floorK))
	}
	f.Draws = resample(draws, correct, rng)

	k := len(f.Draws)
	tau, steady, rise, seen, quick := make([]float64, k), make([]float64, k), make([]float64, k), make([]float64, k), []float64(nil)
	seenS := f.EndS - f.StartS
	for i, d := range f.Draws {
		tau[i] = d.TauS
		steady[i] = d.SteadyK - d.ProbeErrorK
		rise[i] = steady[i] - (p.roomK - d.RoomErrorK)
		if d.FastTauS > 0 {
			quick = append(quick, d.FastTauS)
		}
		seen[i] = d.risenShare(seenS)
	}
	f.TauS, f.SteadyK, f.RiseK, f.SeenShare = quantiles(tau), quantiles(steady), quantiles(rise), quantiles(seen)
	f.FastTauS = refused("one exponential is enough (probability %.0f %%)", 100*f.Probability)
	if f.Exponentials == 2 {
		f.FastTauS = quantiles(quick)
	}
	if math.IsNaN(p.roomK) {
		f.RiseK = refused("the room temperature was not recorded: only a rise over the room can be compared with another day")
	}
	if f.TauS.Hi > usefulRatio*f.TauS.Lo {
		why := fmt.Sprintf("%.0f min of the curve do not say where it goes: it is still too straight, or too unquiet; the time constant may be anything from %.0f to %.0f min. Run it longer",
			seenS/60, f.TauS.Lo/60, f.TauS.Hi/60)
		f.TauS, f.SteadyK, f.SeenShare = refused("%s", why), refused("%s", why), refused("%s", why)
		if f.RiseK.Given() {
			f.RiseK = refused("%s", why)
		}
	}
}

// z90 is the normal quantile at 95 %: half a 90 % interval in standard deviations.
const z90 = 1.6448536269514722

// resample draws as many again, each in proportion to its weight, in random order.
func resample(draws []Draw, weight []float64, rng *rand.Rand) []Draw {
	total := 0.0
	for _, w := range weight {
		total += w
	}
	out := make([]Draw, 0, len(draws))
	place, sum, at := rng.Float64(), 0.0, 0
	for m := range draws {
		goal := (float64(m) + place) / float64(len(draws)) * total
		for at < len(draws)-1 && sum+weight[at] < goal {
			sum += weight[at]
			at++
		}
		out = append(out, draws[at])
	}
	rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] }) // two fits' draws are combined in order
	return out
}

// risenShare is the share of the whole change that has happened dtS after the start.
func (d Draw) risenShare(dtS float64) float64 {
	left := d.SlowK * math.Exp(-dtS/d.TauS)
	if d.FastTauS > 0 {
		left += d.FastK * math.Exp(-dtS/d.FastTauS)
	}
	return 1 - left/(d.SlowK+d.FastK)
}

// At is the true temperature at tS (after StartS) with the room at RoomK throughout, K. Beyond EndS it is a forecast for unchanged power.
func (f *Fit) At(tS float64) Estimate {
	if !f.SteadyK.Given() && tS > f.EndS {
		return refused("%s", f.SteadyK.Refused)
	}
	v := make([]float64, len(f.Draws))
	for i, d := range f.Draws {
		v[i] = d.SteadyK - (d.SlowK+d.FastK)*(1-d.risenShare(tS-f.StartS)) - d.ProbeErrorK
	}
	return quantiles(v)
}
