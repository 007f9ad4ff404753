package curve

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Verdict is what a long run's rise over the room does.
type Verdict uint8

// The verdicts.
const (
	Undecided Verdict = iota // the readings could be any of the others
	Steady
	StillRising
	StillFalling
)

func (v Verdict) String() string {
	return [...]string{"undecided", "steady", "still rising", "still falling"}[v]
}

// Trend is the rise over a room that moves.
type Trend struct {
	Verdict      Verdict
	RiseK        Estimate // over the room as the device feels it, middle of the part used
	RiseKPerH    Estimate
	TemperatureK float64 // change of the reading itself from first to last, K, along its straight line
	RoomK        float64 // the room's
	SpanS        float64
}

const (
	// A rise that, on the best line, changes by less than the greater of these over the part used is steady.
	driftK     = 1.0
	driftShare = 0.1

	minTrend    = 4
	minLikeness = 12 // fewer readings cannot tell how alike their errors are; they are taken as independent
)

// SteadyRise takes the room's drift out of a long run and says whether the rise over it still changes. tauS is the device's slow time
// constant, through which it feels the room; zero takes the room as it is, right for a drift that is slow against it.
//
//	rise(t) = T(t) - room felt at t = mean + slope (t - mid)
//
// with the errors of neighbouring readings alike. It fails without a room or with fewer than 4 readings.
func SteadyRise(s Series, fromS, toS, tauS float64) (Trend, error) {
	if err := s.check(); err != nil {
		return Trend{}, err
	}
	if s.Room.Len() == 0 {
		return Trend{}, fmt.Errorf("there are no room temperatures: a falling reading may be a falling room")
	}
	if !(tauS >= 0) || math.IsInf(tauS, 1) {
		return Trend{}, fmt.Errorf("time constant %g s must be zero or positive", tauS)
	}
	part := s.between(fromS, toS)
	if part.Len() < minTrend {
		return Trend{}, fmt.Errorf("only %d readings from %.0f s to %.0f s: a trend needs at least %d", part.Len(), fromS, toS, minTrend)
	}
	b := newBlocks(part)
	n := len(b.t)
	felt, rise, clockH := make([]float64, n), make([]float64, n), make([]float64, n)
	if tauS > 0 {
		s.Room.lagged(b.t, tauS, 0, felt)
	} else {
		for i, t := range b.t {
			felt[i] = s.Room.at(t)
		}
	}
	midS := (b.t[0] + b.t[n-1]) / 2
	for i := range rise {
		rise[i] = b.y[i] - felt[i]
		clockH[i] = (b.t[i] - midS) / 3600
	}
	use := kinds
	if n < minLikeness {
		use = kinds[:1]
	}
	spanH := (b.t[n-1] - b.t[0]) / 3600
	tr := Trend{SpanS: b.t[n-1] - b.t[0]}
	tr.RiseK, tr.RiseKPerH = line(b, clockH, rise, use)
	tr.TemperatureK = slope(clockH, b.y) * spanH
	tr.RoomK = slope(clockH, felt) * spanH

	e, enough := tr.RiseKPerH, math.Max(driftK, driftShare*math.Abs(tr.RiseK.Mid))/spanH
	switch {
	case math.Max(-e.Lo, e.Hi) <= enough, // surely small
		math.Abs(e.Mid) <= enough && e.Lo <= 0 && e.Hi >= 0 && e.Hi-e.Lo < 4*enough: // no sign of one, and seen well enough
		tr.Verdict = Steady
	case e.Lo > 0:
		tr.Verdict = StillRising
	case e.Hi < 0:
		tr.Verdict = StillFalling
	}
	return tr, nil
}

// Sentence says it for the bench.
func (t Trend) Sentence() string {
	moved := fmt.Sprintf("the reading moved by %+.1f K in %.1f h and the room by %+.1f K", t.TemperatureK, t.SpanS/3600, t.RoomK)
	rate := fmt.Sprintf("%+.2f K/h (%+.2f to %+.2f)", t.RiseKPerH.Mid, t.RiseKPerH.Lo, t.RiseKPerH.Hi)
	switch t.Verdict {
	case Steady:
		return fmt.Sprintf("Steady: %.1f K over the room (%.1f to %.1f); %s.", t.RiseK.Mid, t.RiseK.Lo, t.RiseK.Hi, moved)
	case Undecided:
		return fmt.Sprintf("It cannot be said whether the rise over the room is steady: %s; %s. Take more readings.", rate, moved)
	}
	return fmt.Sprintf("The rise over the room is %s: %s; %s.", t.Verdict, rate, moved)
}

// line fits level + slope x to y by generalised least squares over the kinds of noise, as Warming does.
func line(b blocks, x, y []float64, use []noise) (level, gradient Estimate) {
	n := len(x)
	one, wx, wy := make([]float64, n), make([]float64, n), make([]float64, n)
	ones := slices.Repeat([]float64{1}, n)
	cells := make([]cell, 0, len(use))
	best := math.Inf(-1)
	for _, k := range use {
		w := newWhitener(b.t, b.usual, k)
		w.apply(one, ones)
		w.apply(wx, x)
		w.apply(wy, y)
		c := cell{g11: floats.Dot(one, one), g12: floats.Dot(one, wx), g22: floats.Dot(wx, wx)}
		b1, b2 := floats.Dot(one, wy), floats.Dot(wx, wy)
		det := c.g11*c.g22 - c.g12*c.g12
		c.c, c.a = (c.g22*b1-c.g12*b2)/det, (c.g11*b2-c.g12*b1)/det
		c.s = float64(n) * floorK * floorK
		for i := range wy {
			d := wy[i] - c.c*one[i] - c.a*wx[i]
			c.s += d * d
		}
		c.logW = -w.halfLogDet - math.Log(det)/2 - float64(n-2)/2*math.Log(c.s)
		best = math.Max(best, c.logW)
		cells = append(cells, c)
	}
	total := 0.0
	for _, c := range cells {
		total += math.Exp(c.logW - best)
	}
	rng := rand.New(rand.NewPCG(1, 0x51e))
	levels, slopes := make([]float64, drawCount), make([]float64, drawCount)
	passed, at := 0.0, 0
	for m := range drawCount {
		goal := (float64(m) + 0.5) / drawCount * total
		for at < len(cells)-1 && passed+math.Exp(cells[at].logW-best) < goal {
			passed += math.Exp(cells[at].logW - best)
			at++
		}
		levels[m], slopes[m] = cells[at].draw(n, rng)
	}
	return quantiles(levels), quantiles(slopes)
}

// slope of the least-squares line of y over x.
func slope(x, y []float64) float64 {
	var mx, my, xx, xy float64
	for i := range x {
		mx += x[i] / float64(len(x))
		my += y[i] / float64(len(x))
	}
	for i := range x {
		xx += (x[i] - mx) * (x[i] - mx)
		xy += (x[i] - mx) * (y[i] - my)
	}
	return xy / xx
}
